import { angle, magnitude } from "../../numeric/systems/complex.js";
import { continuousResponse, frequencyRange } from "../models/continuousLoop.js";
import { sampledResponse } from "../models/sampledLoop.js";
import { fixLoop, type SpeedLoop } from "../models/speedLoop.js";

import { margins } from "./margins.js";

/** The open loop of a speed loop over frequency, with its margins: what a Bode or a Nyquist chart draws. */
export interface OpenLoopCurve {
  /** rad/s, rising. */
  readonly frequency: Float64Array;
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
  /** dB. */
  readonly magnitude: Float64Array;
  /** Degrees, unwrapped from the lowest frequency. */
  readonly phase: Float64Array;
  /** Frequency of unit gain (rad/s) and the phase margin there (degrees); absent without unit gain. */
  readonly crossover?: number;
  readonly phaseMargin?: number;
  /** Frequency of a phase of -180 degrees (rad/s) and the gain margin there (dB); absent without one. */
  readonly phaseCrossover?: number;
  readonly gainMargin?: number;
}

/**
 * The open loop at the current command, by the same response from which `analyseLoop` reads its margins: exact for a
 * sampled loop, with its delay for a continuous one. The curve reaches two decades below and one above the crossover.
 *
 * @throws RangeError naming the number that makes no loop
 * @example
 * const curve = openLoopCurve({ plant: { inertia: 1e-4, torqueConstant: 0.1 }, gains: { kp: 0.2, ki: 8 }, currentBandwidth: 5000, sampleTime: 2.5e-4 });
 * curve.phaseMargin; // => 72.25 (degrees)
 */
export function openLoopCurve(loop: SpeedLoop, points = 300): OpenLoopCurve {
  const fixed = fixLoop(loop);
  const response =
    fixed.sampleTime > 0 ? sampledResponse(fixed) : (w: number) => continuousResponse(fixed, w);
  const range = frequencyRange(fixed);
  const found = margins(response, range);
  const centre = Number.isFinite(found.crossover) ? found.crossover : Math.sqrt(range.from * range.to);
  const from = Math.max(range.from, centre / 100);
  const farthest = Number.isFinite(found.phaseCrossover) ? found.phaseCrossover : centre;
  const to = Math.min(range.to, Math.max(10 * centre, 2 * farthest));
  const frequency = Float64Array.from({ length: points }, (_, i) => from * (to / from) ** (i / (points - 1)));
  const values = Array.from(frequency, response);
  return {
    frequency,
    real: Float64Array.from(values, ({ re }) => re),
    imaginary: Float64Array.from(values, ({ im }) => im),
    magnitude: Float64Array.from(values, (z) => 20 * Math.log10(magnitude(z))),
    phase: unwrapped(values.map((z) => (angle(z) * 180) / Math.PI)),
    ...(Number.isFinite(found.phaseMargin)
      ? { crossover: found.crossover, phaseMargin: (found.phaseMargin * 180) / Math.PI }
      : {}),
    ...(Number.isFinite(found.gainMargin)
      ? { phaseCrossover: found.phaseCrossover, gainMargin: 20 * Math.log10(found.gainMargin) }
      : {}),
  };
}

/** Angles in degrees without jumps of a whole turn, beginning between -270 and 90 degrees. */
function unwrapped(angles: readonly number[]): Float64Array {
  const out = new Float64Array(angles.length);
  let last = angles[0] > 90 ? angles[0] - 360 : angles[0];
  angles.forEach((a, i) => {
    last = a + 360 * Math.round((last - a) / 360);
    out[i] = last;
  });
  return out;
}
