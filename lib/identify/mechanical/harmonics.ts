import { linearRegression } from "../../numeric/linear/linearRegression.js";
import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import type { AngleHarmonic } from "../constants.js";
import type { Signals } from "../signals.js";
import type { Stretch } from "./stretches.js";

/** What the harmonics of one recording are searched with. */
export interface HarmonicOptions {
  /** Least speed of a window, rad/s. */
  readonly leastSpeed: number;
  /** Inertia over the torque constant (or the inertia, with a torque channel): what the shaft's own acceleration takes
   * of the input. */
  readonly inertiaRatio: number;
}

/** Bands of periods per turn that are searched, each with windows as long as its highest order allows. */
const bands = [
  [1, 40],
  [41, 120],
] as const;

/**
 * Cogging and torque ripple by shaft angle: harmonics of what is left of the equation of motion,
 *
 *     u = (J/Kt)*dw/dt + (Tc/Kt)*sign(w) + (B/Kt)*w + sum a_k*cos(k*theta) + b_k*sin(k*theta)
 *
 * in weak form (the harmonics go through the same function as the rest, so the window does not blunt them, as long as
 * it spans less than half a period). Orders are taken up one by one, the strongest first, while an order beats a
 * Bonferroni limit over all orders tried; each is then given cosine and sine terms that do not depend on the input
 * (cogging) and ones proportional to it (ripple), and is reported as the kind that carries it.
 *
 * The inertia is taken as known from elsewhere: fitted here, the noise of the acceleration would lower it and with it
 * every amplitude.
 *
 * @returns harmonics in the unit of the input: N m, or A (torque over the torque constant)
 */
export function harmonicsOf(
  signals: Signals,
  stretches: readonly Stretch[],
  options: HarmonicOptions,
): AngleHarmonic[] {
  return bands
    .flatMap(([lowest, highest]) => harmonicsIn(signals, stretches, options, lowest, highest))
    .sort((p, q) => q.amplitude.value - p.amplitude.value);
}

function harmonicsIn(
  signals: Signals,
  stretches: readonly Stretch[],
  options: HarmonicOptions,
  lowest: number,
  highest: number,
): AngleHarmonic[] {
  const { input, angle, time, resolution, usable } = signals;
  if (input === null || input.kind === "currentCommand" || !(resolution > 0)) return [];
  const { speed } = signals.motion;
  if ((2 * Math.PI) / resolution < 16 * lowest) return [];
  interface Row {
    readonly x: readonly number[];
    readonly u: number;
    readonly from: number;
    readonly modulating: ReturnType<typeof modulatingFunction>;
    readonly span: number;
  }
  const rows: Row[] = [];
  const moving: number[] = [];
  for (const stretch of stretches)
    for (let i = stretch.from; i < stretch.to; i += 7)
      if (Math.abs(speed[i]) > options.leastSpeed) moving.push(Math.abs(speed[i]));
  if (moving.length < 20) return [];
  moving.sort((a, b) => a - b);
  // Slow motion resolves best: the lower quartile of speed sets the window.
  const slow = moving[moving.length >> 2];
  const length = Math.floor(Math.PI / highest / slow / signals.interval);
  if (length < 8) return [];
  let travelled = 0;
  for (const stretch of stretches) {
    let room = Math.max(1, Math.floor((stretch.to - stretch.from) / 3000));
    room = room * (length >> 1);
    for (let from = stretch.from; from + length <= stretch.to; from += room) {
      const to = from + length;
      const w = speed[from + (length >> 1)];
      let good = Math.abs(w) > options.leastSpeed;
      for (let i = from; good && i < to; i++) if (usable[i] === 0 || speed[i] * w <= 0) good = false;
      const span = Math.abs(angle[to - 1] - angle[from]);
      if (!good || span > (1.2 * Math.PI) / highest) continue;
      const modulating = modulatingFunction(time, from, to);
      travelled += span;
      rows.push({
        x: [Math.sign(w), project(modulating, modulating.slope, angle)],
        u:
          project(modulating, modulating.weight, input.data) -
          options.inertiaRatio * project(modulating, modulating.curvature, angle),
        from,
        modulating,
        span,
      });
    }
  }
  // Two turns at least, slowly enough to resolve a few periods a turn.
  if (rows.length < 60 || travelled < 4 * Math.PI) return [];
  const top = highest;
  const used = rows;
  const wave = (row: Row, order: number, by: "one" | "input"): [number, number] => {
    let c = 0;
    let s = 0;
    for (let k = 0; k < row.modulating.weight.length; k++) {
      const i = row.from + k;
      const g = row.modulating.weight[k] * (by === "one" ? 1 : input.data[i]);
      c += g * Math.cos(order * angle[i]);
      s += g * Math.sin(order * angle[i]);
    }
    return [c, s];
  };
  const found: number[] = [];
  const waves = new Map<number, [number, number][]>();
  const limit = 2 * Math.log((top - lowest + 1) / 0.01);
  for (let round = 0; round < 5; round++) {
    const fit = linearRegression(
      used.map((r, k) => [...r.x, ...found.flatMap((order) => waves.get(order)![k])]),
      used.map((r) => r.u),
    );
    if (fit === null) break;
    const weights = fit.weights;
    let variance = 0;
    let count = 0;
    for (let k = 0; k < used.length; k++) {
      variance += weights[k] * fit.residuals[k] ** 2;
      count += weights[k];
    }
    variance /= count;
    let best = 0;
    let power = 0;
    for (let order = lowest; order <= top; order++) {
      if (found.includes(order)) continue;
      let c = 0;
      let s = 0;
      let norm = 0;
      for (let k = 0; k < used.length; k++) {
        const w = weights[k];
        if (w === 0) continue;
        // The middle of the window stands for it in the search.
        const a = order * angle[used[k].from + (length >> 1)];
        c += w * fit.residuals[k] * Math.cos(a);
        s += w * fit.residuals[k] * Math.sin(a);
        norm += w / 2;
      }
      const p = (c * c + s * s) / norm / variance;
      if (p > power) {
        power = p;
        best = order;
      }
    }
    // Half-overlapping windows share samples: their residuals count for about half.
    if (!(power / 2 > limit)) break;
    found.push(best);
    waves.set(
      best,
      used.map((r) => wave(r, best, "one")),
    );
  }
  if (found.length === 0) return [];
  const spread = Math.sqrt(used.reduce((s, r) => s + r.u * r.u, 0) / used.length);
  const mean = used.reduce((s, r) => s + r.u, 0) / used.length;
  const varied = Math.sqrt(used.reduce((s, r) => s + (r.u - mean) ** 2, 0) / used.length) > 0.3 * spread;
  const columns = (kind: "one" | "both"): number[][] =>
    used.map((r, k) => [
      ...r.x,
      ...found.flatMap((order) => [
        ...waves.get(order)![k],
        ...(kind === "both" ? wave(r, order, "input") : []),
      ]),
    ]);
  const response = used.map((r) => r.u);
  const both = varied ? linearRegression(columns("both"), response) : null;
  const plain = linearRegression(columns("one"), response);
  if (plain === null) return [];
  const harmonics: AngleHarmonic[] = [];
  found.forEach((order, n) => {
    const at = 2 + 2 * n;
    let kind: AngleHarmonic["kind"] = "cogging";
    if (both !== null) {
      const b = 2 + 4 * n;
      const size = (j: number, v: number): number =>
        (both.coefficients[j] * v) ** 2 + (both.coefficients[j + 1] * v) ** 2;
      if (size(b + 2, spread) > 2 * size(b, 1)) kind = "ripple";
    }
    const [a, b] = [plain.coefficients[at], plain.coefficients[at + 1]];
    const amplitude = Math.hypot(a, b);
    const [ua, ub] = [a / amplitude, b / amplitude];
    const c = plain.covariance;
    const error = Math.sqrt(
      Math.max(0, ua * ua * c[at][at] + ub * ub * c[at + 1][at + 1] + 2 * ua * ub * c[at][at + 1]),
    );
    const half = Math.max(plain.critical[at], plain.critical[at + 1]) * error;
    if (!(amplitude > half)) return;
    // What the input supplies balances the disturbance: its maximum is the disturbance's minimum.
    const phase = Math.atan2(-b, -a) / order;
    const period = (2 * Math.PI) / order;
    harmonics.push({
      order,
      kind,
      phase: ((phase % period) + period) % period,
      amplitude: {
        value: amplitude,
        low: amplitude - half,
        high: amplitude + half,
        unit: input.unit,
        level: 0.95,
        method: "harmonic of the equation of motion over the shaft angle, weak form",
        ...(input.unit === "A"
          ? { convention: "peak torque divided by the torque constant" }
          : { convention: "peak" }),
        samples: used.length * (length >> 1),
        channels: [input.kind, signals.angleChannel],
      },
    });
  });
  return harmonics;
}
