import { linearRegression, type Regression } from "../../numeric/linear/linearRegression.js";
import type { AngleHarmonic } from "../constants.js";
import type { Signals } from "../signals.js";
import { type Band, type HarmonicOptions, HarmonicWindows } from "./harmonicWindows.js";
import type { Stretch } from "./stretches.js";

/** Bands of periods per turn that are searched, each with windows as long as its highest order allows. */
const bands: readonly Band[] = [
  { lowest: 1, highest: 40 },
  { lowest: 41, highest: 120 },
];

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
    .flatMap((band) => harmonicsIn(signals, stretches, options, band))
    .sort((p, q) => q.amplitude.value - p.amplitude.value);
}

function harmonicsIn(
  signals: Signals,
  stretches: readonly Stretch[],
  options: HarmonicOptions,
  band: Band,
): AngleHarmonic[] {
  const { input, resolution } = signals;
  if (input === null || input.kind === "currentCommand" || !(resolution > 0)) return [];
  if ((2 * Math.PI) / resolution < 16 * band.lowest) return [];
  const windows = new HarmonicWindows(signals, input, stretches, options, band);
  // Two turns at least, slowly enough to resolve a few periods a turn.
  if (windows.rows.length < 60 || windows.travelled < 4 * Math.PI) return [];
  const found = ordersIn(windows, band);
  if (found.length === 0) return [];
  const fit = linearRegression(
    windows.rows.map((r, k) => [...r.x, ...found.flatMap(({ waves }) => waves[k])]),
    windows.rows.map((r) => r.u),
  );
  if (fit === null) return [];
  const kinds = kindsOf(windows, found);
  const labels = {
    method: "harmonic of the equation of motion over the shaft angle, weak form",
    ...(input.unit === "A"
      ? { convention: "peak torque divided by the torque constant" }
      : { convention: "peak" }),
    samples: windows.rows.length * (windows.length >> 1),
    channels: [input.kind, signals.angleChannel],
  };
  return found.flatMap(({ order }, n) => {
    const wave = amplitudeOf(fit, 2 + 2 * n, order);
    if (wave === undefined) return [];
    const { phase, amplitude, half } = wave;
    const interval = { value: amplitude, low: amplitude - half, high: amplitude + half };
    return [
      { order, kind: kinds[n], phase, amplitude: { ...interval, unit: input.unit, level: 0.95, ...labels } },
    ];
  });
}

/** An order taken up, with its cosine and sine through each window. */
interface FoundOrder {
  readonly order: number;
  readonly waves: readonly [number, number][];
}

/** Takes up the strongest orders of a band one by one, at most five. */
function ordersIn(windows: HarmonicWindows, band: Band): FoundOrder[] {
  const { rows } = windows;
  const found: FoundOrder[] = [];
  const limit = 2 * Math.log((band.highest - band.lowest + 1) / 0.01);
  for (let round = 0; round < 5; round++) {
    const fit = linearRegression(
      rows.map((r, k) => [...r.x, ...found.flatMap(({ waves }) => waves[k])]),
      rows.map((r) => r.u),
    );
    if (fit === null) break;
    const strongest = strongestLeft(windows, band, fit, found);
    // Half-overlapping windows share samples: their residuals count for about half.
    if (!(strongest.power / 2 > limit)) break;
    found.push({ order: strongest.order, waves: windows.waves(strongest.order, "one") });
  }
  return found;
}

/** The order that the residuals of a fit hold most of, and its power over their variance. */
function strongestLeft(
  windows: HarmonicWindows,
  { lowest, highest }: Band,
  { weights, residuals }: Regression,
  found: readonly FoundOrder[],
): { readonly order: number; readonly power: number } {
  const { rows } = windows;
  let variance = 0;
  let count = 0;
  for (let k = 0; k < rows.length; k++) {
    variance += weights[k] * residuals[k] ** 2;
    count += weights[k];
  }
  variance /= count;
  let best = 0;
  let power = 0;
  for (let order = lowest; order <= highest; order++) {
    if (found.some((one) => one.order === order)) continue;
    let c = 0;
    let s = 0;
    let norm = 0;
    for (let k = 0; k < rows.length; k++) {
      const w = weights[k];
      if (w === 0) continue;
      // The middle of the window stands for it in the search.
      const a = order * windows.middle(rows[k]);
      c += w * residuals[k] * Math.cos(a);
      s += w * residuals[k] * Math.sin(a);
      norm += w / 2;
    }
    const p = (c * c + s * s) / norm / variance;
    if (p > power) {
      power = p;
      best = order;
    }
  }
  return { order: best, power };
}

/**
 * Whether each order is cogging, or ripple in proportion to the input: by which of the two carries it in a fit of both.
 * Without an input that varies they cannot be told apart, and all count as cogging.
 */
function kindsOf(windows: HarmonicWindows, found: readonly FoundOrder[]): readonly AngleHarmonic["kind"][] {
  const { rows } = windows;
  const spread = Math.sqrt(rows.reduce((s, r) => s + r.u * r.u, 0) / rows.length);
  const mean = rows.reduce((s, r) => s + r.u, 0) / rows.length;
  const varied = Math.sqrt(rows.reduce((s, r) => s + (r.u - mean) ** 2, 0) / rows.length) > 0.3 * spread;
  const both = varied ? fitOfBoth(windows, found) : null;
  return found.map((_, n) => {
    if (both === null) return "cogging";
    const b = 2 + 4 * n;
    const size = (j: number, v: number): number =>
      (both.coefficients[j] * v) ** 2 + (both.coefficients[j + 1] * v) ** 2;
    return size(b + 2, spread) > 2 * size(b, 1) ? "ripple" : "cogging";
  });
}

function fitOfBoth(windows: HarmonicWindows, found: readonly FoundOrder[]): Regression | null {
  const byInput = found.map(({ order }) => windows.waves(order, "input"));
  return linearRegression(
    windows.rows.map((r, k) => [...r.x, ...found.flatMap(({ waves }, n) => [...waves[k], ...byInput[n][k]])]),
    windows.rows.map((r) => r.u),
  );
}

/** Amplitude with half its interval, and phase, of the cosine and sine of an order; undefined where it may be none. */
function amplitudeOf(
  { coefficients, covariance: c, critical }: Regression,
  at: number,
  order: number,
): { readonly amplitude: number; readonly half: number; readonly phase: number } | undefined {
  const [a, b] = [coefficients[at], coefficients[at + 1]];
  const amplitude = Math.hypot(a, b);
  const [ua, ub] = [a / amplitude, b / amplitude];
  const error = Math.sqrt(
    Math.max(0, ua * ua * c[at][at] + ub * ub * c[at + 1][at + 1] + 2 * ua * ub * c[at][at + 1]),
  );
  const half = Math.max(critical[at], critical[at + 1]) * error;
  if (!(amplitude > half)) return undefined;
  // What the input supplies balances the disturbance: its maximum is the disturbance's minimum.
  const phase = Math.atan2(-b, -a) / order;
  const period = (2 * Math.PI) / order;
  return { amplitude, half, phase: ((phase % period) + period) % period };
}
