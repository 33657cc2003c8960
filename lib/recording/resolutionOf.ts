import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { quantisationStep } from "../numeric/series/quantisationStep.js";

const known = new WeakMap<Float64Array, number>();

/**
 * Size of one step of a quantised channel, NaN where it is not quantised: `quantisationStep` of its data, worked out
 * once for all that ask. The data of a channel do not change.
 *
 * @param data values of a channel, SI
 */
export function resolutionOf(data: Float64Array): number {
  let step = known.get(data);
  if (step === undefined) {
    step = quantisationStep(data);
    known.set(data, step);
  }
  return step;
}

const noises = new WeakMap<Float64Array, number>();

/**
 * Standard deviation of the noise of a channel from sample to sample: `noiseLevel` of its data, worked out once for all
 * that ask.
 *
 * @param data values of a channel, SI
 */
export function noiseOf(data: Float64Array): number {
  let noise = noises.get(data);
  if (noise === undefined) {
    noise = noiseLevel(data);
    noises.set(data, noise);
  }
  return noise;
}
