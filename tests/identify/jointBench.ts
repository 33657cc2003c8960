/** A joint with gravity under a position controller, stepped in time, written for these tests alone. */

import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

/** True values, SI; the effort is a torque. */
export interface JointTruth {
  readonly inertia: number;
  readonly coulomb: number;
  readonly viscous: number;
  /** Largest torque of gravity, N m; 0: a vertical axis. */
  readonly gravity: number;
  /** Angle at which gravity pulls nothing, rad. */
  readonly hangs: number;
  /** Standard deviation of the logged torque, N m, and of a slow torque disturbance with its correlation time, s. */
  readonly torqueNoise: number;
  readonly disturbance: number;
  readonly disturbanceTime: number;
  readonly counts: number;
  /** How much later than the angle of its row the torque was taken, rows: -1 to 1. */
  readonly late: number;
}

/** A joint drawn around a robot's size; the seed decides. */
export function randomJoint(seed: number): JointTruth {
  const random = uniforms(seed * 7919 + 29);
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const inertia = between(0.02, 0.2);
  const coulomb = between(0.05, 0.3);
  return {
    inertia,
    coulomb,
    viscous: between(0.02, 0.1),
    gravity: random() < 0.5 ? 0 : between(0.3, 2),
    hangs: 0,
    torqueNoise: between(0.01, 0.05),
    disturbance: 0.05 * coulomb,
    disturbanceTime: 0.05,
    counts: [4096, 16384][Math.floor(random() * 2)],
    late: 2 * random() - 1,
  };
}

/** Log of a joint's motion. */
export interface JointLog {
  readonly time: Float64Array;
  readonly angle: Float64Array;
  readonly speed: Float64Array;
  readonly effort: Float64Array;
}

/** A sum of slow waves within about a radian of the start, tracked by a stiff controller; rows every 4 ms. */
export function runJoint(truth: JointTruth, seconds: number, seed: number): JointLog {
  const random = uniforms(seed);
  const normal = normalFrom(random);
  const interval = 4e-3;
  const h = interval / 40;
  const n = Math.round(seconds / interval);
  const waves = [0.35, 0.8, 1.5].map((f) => ({
    amplitude: (0.5 + random()) * (0.6 / (1 + f)),
    frequency: 2 * Math.PI * f * (0.8 + 0.4 * random()),
    phase: 2 * Math.PI * random(),
  }));
  const target = (t: number): number =>
    waves.reduce((s, w) => s + w.amplitude * (Math.sin(w.frequency * t + w.phase) - Math.sin(w.phase)), 0);
  const stiffness = 900 * truth.inertia;
  const damping = 50 * truth.inertia;
  const count = (2 * Math.PI) / truth.counts;
  const keep = Math.exp(-interval / truth.disturbanceTime);
  const out = {
    time: new Float64Array(n),
    angle: new Float64Array(n),
    speed: new Float64Array(n),
    effort: new Float64Array(n),
  };
  let [q, w, load, torque] = [0, 0, 0, 0];
  const fine = new Float64Array(40 * n);
  for (let k = 0; k < n; k++) {
    const t = k * interval;
    out.time[k] = t;
    out.angle[k] = count * Math.floor(q / count);
    out.speed[k] = w + count * normal();
    load = keep * load + Math.sqrt(1 - keep * keep) * truth.disturbance * normal();
    for (let s = 0; s < 40; s++) {
      const at = t + s * h;
      torque = stiffness * (target(at) - q) - damping * w;
      fine[40 * k + s] = torque;
      const drive = torque + load - truth.viscous * w - truth.gravity * Math.sin(q - truth.hangs);
      if (w === 0 && Math.abs(drive) <= truth.coulomb) continue;
      const sense = w !== 0 ? Math.sign(w) : Math.sign(drive);
      const next = w + (h * (drive - truth.coulomb * sense)) / truth.inertia;
      w = next * sense < 0 ? 0 : next;
      q += h * w;
    }
  }
  for (let k = 0; k < n; k++) {
    const at = Math.max(0, Math.min(40 * n - 1, Math.round(40 * (k + truth.late))));
    out.effort[k] = fine[at] + truth.torqueNoise * normal();
  }
  return out;
}
