/** A DC motor stepped in time, written for these tests alone: armature with inductance, Coulomb and viscous friction, a
 * quantised encoder, noise. */

import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

/** True values, SI. */
export interface DcTruth {
  readonly resistance: number;
  readonly inductance: number;
  /** Ke = Kt. */
  readonly constant: number;
  readonly inertia: number;
  readonly viscous: number;
  readonly coulomb: number;
  /** Standard deviations of the logged current, A, and of a slow torque disturbance, N m (correlated over
   * `disturbanceTime`). */
  readonly currentNoise: number;
  readonly disturbance: number;
  readonly disturbanceTime: number;
  /** Counts a turn of the encoder; the speed is the difference of counts. 0: the speed itself. */
  readonly counts: number;
  /** The bridge opens at zero voltage: no current flows then. */
  readonly opens?: boolean;
}

/** Gain, time constant and dead band that follow from the constants. */
export function lawOf(t: DcTruth): { gain: number; timeConstant: number; deadBand: number } {
  const d = t.constant ** 2 + t.resistance * t.viscous;
  return {
    gain: t.constant / d,
    timeConstant: (t.inertia * t.resistance) / d,
    deadBand: (t.coulomb * t.resistance) / t.constant,
  };
}

/** Log of a run under voltages given at every row and held to the next. */
export interface DcLog {
  readonly time: Float64Array;
  readonly voltage: Float64Array;
  readonly current: Float64Array;
  readonly speed: Float64Array;
  readonly position: Float64Array;
}

/** Runs the motor: 40 steps a row, semi-implicit, friction holding at rest. */
export function runDc(truth: DcTruth, voltage: Float64Array, interval: number, seed: number): DcLog {
  const normal = normalFrom(uniforms(seed));
  const n = voltage.length;
  const steps = 40;
  const h = interval / steps;
  const time = Float64Array.from({ length: n }, (_, k) => k * interval);
  const [current, speed, position] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)];
  let [i, w, angle, load] = [0, 0, 0.7 * normal(), 0];
  const keep = Math.exp(-interval / truth.disturbanceTime);
  const count = truth.counts > 0 ? (2 * Math.PI) / truth.counts : 0;
  const read = (): number => (count > 0 ? count * Math.floor(angle / count) : angle);
  let before = read();
  for (let k = 0; k < n; k++) {
    current[k] = i + truth.currentNoise * normal();
    position[k] = read();
    speed[k] = count > 0 ? (k === 0 ? 0 : (position[k] - before) / interval) : w;
    before = position[k];
    load = keep * load + Math.sqrt(1 - keep * keep) * truth.disturbance * normal();
    for (let s = 0; s < steps; s++) {
      const open = truth.opens === true && voltage[k] === 0;
      // Implicit in the current: any inductance is stable.
      const target = (voltage[k] - truth.constant * w) / truth.resistance;
      const decay = Math.exp((-h * truth.resistance) / truth.inductance);
      i = open ? 0 : target + (i - target) * decay;
      const torque = truth.constant * i + load - truth.viscous * w;
      if (w === 0 && Math.abs(torque) <= truth.coulomb) continue;
      const sense = w !== 0 ? Math.sign(w) : Math.sign(torque);
      const next = w + (h * (torque - truth.coulomb * sense)) / truth.inertia;
      w = next * sense < 0 ? 0 : next;
      angle += h * w;
    }
  }
  return { time, voltage, current, speed, position };
}

/** Voltages held for so many rows each. */
export function held(levels: readonly (readonly [volts: number, rows: number])[]): Float64Array {
  return Float64Array.from(levels.flatMap(([volts, rows]) => new Array<number>(rows).fill(volts)));
}
