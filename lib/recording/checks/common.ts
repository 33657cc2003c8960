import type { Finding, Recording } from "../types.js";

/** A number as a person reads it: four significant digits, no trailing zeros. */
export function shown(value: number): string {
  return String(Number(value.toPrecision(4)));
}

/** A check of one recording: what it found, nothing when all is well. */
export type Check = (recording: Recording) => readonly Finding[];

/** Means over blocks of samples, NaN where a block holds a missing value. */
export function blockMeans(values: Float64Array, block: number): Float64Array {
  const out = new Float64Array(Math.floor(values.length / block));
  for (let k = 0; k < out.length; k += 1) {
    let sum = 0;
    for (let i = k * block; i < (k + 1) * block; i += 1) sum += values[i];
    out[k] = sum / block;
  }
  return out;
}

/** Usual time between samples. */
export function interval(recording: Recording): number {
  const { time } = recording;
  return (time[time.length - 1] - time[0]) / (time.length - 1);
}
