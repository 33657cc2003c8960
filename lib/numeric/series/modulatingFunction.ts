/**
 * Windows of a differential equation in its weak form. Multiplying J*theta'' = ... by a smooth modulating function that
 * vanishes at both ends of a
 * window and integrating by parts moves the derivatives from the noisy signal to the known function, so that nothing is
 * differentiated and the equation stays exact for any window length (Shinbrot's method of modulating functions,
 * Transactions
 * of the ASME 79, 1957).
 */

/** One window `from <= i < to` of samples with the weight of each in the three integrals. */
export interface ModulatingFunction {
  readonly from: number;
  readonly to: number;
  /** Weights of the mean: sum is 1. */
  readonly weight: Float64Array;
  /** Weights of the first derivative of a signal (integral of minus its derivative times the signal). */
  readonly slope: Float64Array;
  /** Weights of the second derivative of a signal. */
  readonly curvature: Float64Array;
  /** Sum of the weights of the mean, the first derivative and the second, as rounding leaves it. */
  readonly sums: readonly [mean: number, slope: number, curvature: number];
}

/**
 * The modulating function (1-u^2)^3 over the samples of a window, with trapezoid weights on the true times. Constants
 * and lines are taken out of the derivative weights,
 * and these are scaled so that they are exact on a line and on a parabola, whatever the jitter of the times.
 */
export function modulatingFunction(time: Float64Array, from: number, to: number): ModulatingFunction {
  const n = to - from;
  const start = time[from];
  const span = time[to - 1] - start;
  const centre = start + span / 2;
  // The ends lie half a sample outside, so that the outermost samples count a little.
  const half = span / 2 + span / (2 * (n - 1));
  const weight = new Float64Array(n);
  const slope = new Float64Array(n);
  const curvature = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const t = time[from + k];
    const before = k === 0 ? t : time[from + k - 1];
    const after = k === n - 1 ? t : time[from + k + 1];
    const cell = (after - before) / (k === 0 || k === n - 1 ? 1 : 2);
    fill(weight, slope, curvature, k, (t - centre) / half, cell);
  }
  const away = new Float64Array(n);
  for (let k = 0; k < n; k++) away[k] = (time[from + k] - centre) / half;
  normalise(weight, slope, curvature, away, half);
  return { from, to, weight, slope, curvature, sums: [sumOf(weight), sumOf(slope), sumOf(curvature)] };
}

/** (1-u^2)^3, minus its first derivative and its second by u, each times the length that the sample stands for. */
function fill(
  weight: Float64Array,
  slope: Float64Array,
  curvature: Float64Array,
  k: number,
  u: number,
  cell: number,
): void {
  const v = Math.max(0, 1 - u * u);
  weight[k] = cell * v * v * v;
  slope[k] = cell * 6 * u * v * v;
  curvature[k] = cell * v * (30 * u * u - 6);
}

function normalise(
  weight: Float64Array,
  slope: Float64Array,
  curvature: Float64Array,
  away: Float64Array,
  half: number,
): void {
  const n = weight.length;
  let sum = 0;
  for (let k = 0; k < n; k++) sum += weight[k];
  for (let k = 0; k < n; k++) weight[k] /= sum;
  // Take the constant out of the slope weights, the constant and the line out of the curvature weights.
  let mean = 0;
  for (let k = 0; k < n; k++) mean += slope[k];
  for (let k = 0; k < n; k++) slope[k] -= mean * weight[k];
  let line = 0;
  for (let k = 0; k < n; k++) line += slope[k] * away[k] * half;
  for (let k = 0; k < n; k++) slope[k] /= line;
  let c0 = 0;
  for (let k = 0; k < n; k++) c0 += curvature[k];
  for (let k = 0; k < n; k++) curvature[k] -= c0 * weight[k];
  let c1 = 0;
  for (let k = 0; k < n; k++) c1 += curvature[k] * away[k] * half;
  for (let k = 0; k < n; k++) curvature[k] -= c1 * slope[k];
  let c2 = 0;
  for (let k = 0; k < n; k++) {
    const x = away[k] * half;
    c2 += (curvature[k] * (x * x)) / 2;
  }
  for (let k = 0; k < n; k++) curvature[k] /= c2;
}

/** Sum of a window's weights times a signal. */
export function project(modulating: ModulatingFunction, weights: Float64Array, signal: Float64Array): number {
  const { from, sums } = modulating;
  const base = signal[from];
  let sum = 0;
  for (let k = 0; k < weights.length; k++) sum += weights[k] * (signal[from + k] - base);
  const which = weights === modulating.weight ? 0 : weights === modulating.slope ? 1 : 2;
  return sum + sums[which] * base;
}

function sumOf(values: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += values[k];
  return sum;
}

/**
 * The modulating function (1-u^2)^3 on even samples, with its derivatives, each times the sample interval; not
 * normalised.
 */
export interface EvenModulatingFunction {
  readonly weight: Float64Array;
  readonly first: Float64Array;
  readonly second: Float64Array;
}

/**
 * The same function for many windows of one length over even samples: made once, for regressions in which both sides
 * carry the same factor.
 *
 * @param half samples on either side of the middle
 * @param interval s
 */
export function evenModulatingFunction(half: number, interval: number): EvenModulatingFunction {
  // The trials of a log ask for the same few.
  const found = known.get(half);
  if (found?.interval === interval) return found.made;
  const made = makeEven(half, interval);
  if (known.size >= mostKnown) known.clear();
  known.set(half, { interval, made });
  return made;
}

/** So many lengths are kept: logs of a study would leave theirs behind for ever. */
const mostKnown = 64;
/** The last one made of each length. */
const known = new Map<number, { readonly interval: number; readonly made: EvenModulatingFunction }>();

function makeEven(half: number, interval: number): EvenModulatingFunction {
  const size = 2 * half + 1;
  const weight = new Float64Array(size);
  const first = new Float64Array(size);
  const second = new Float64Array(size);
  const span = (half + 1) * interval;
  for (let k = 0; k < size; k += 1) {
    fill(weight, first, second, k, (k - half) / (half + 1), interval);
    first[k] /= -span;
    second[k] /= span * span;
  }
  return { weight, first, second };
}
