import { unwrap } from "../../numeric/series/unwrap.js";
import { wrapOf } from "./wrapOf.js";

/** Short stretches of a recording, over which rates and areas are compared. */
export interface Windows {
  /** Per column: change from the first row of each window to its last; NaN where a value is missing. */
  readonly change: readonly Float64Array[];
  /** Per column: integral over each window, in units of the column times units of time. */
  readonly area: readonly Float64Array[];
  /** Per column: mean over each window. */
  readonly mean: readonly Float64Array[];
  readonly duration: Float64Array;
  /** Wraps that were taken out of a column before its change was computed. */
  readonly wraps: readonly (number | undefined)[];
}

const shortest = 4;
const longest = 32;
const windowsInAll = 400;
const wrapSizes = [
  1,
  2 * Math.PI,
  100,
  360,
  400,
  1000,
  3600,
  4000,
  10_000,
  36_000,
  ...[8, 10, 12, 14, 16, 17, 18, 20, 22, 24, 32].map((b) => 2 ** b),
];

/** Cuts the looked-at rows into windows. `time` is in logged units, or absent: then rows are one apart. */
export function windowsOf(
  columns: readonly Float64Array[],
  time: Float64Array | undefined,
  edges: readonly number[],
): Windows {
  const rows = edges[edges.length - 1];
  const length = Math.max(shortest, Math.min(longest, Math.round(rows / windowsInAll)));
  const starts: number[] = [];
  for (let b = 0; b + 1 < edges.length; b += 1) {
    for (let i = edges[b]; i + length < edges[b + 1]; i += Math.max(1, length >> 1)) starts.push(i);
  }
  const duration = Float64Array.from(starts, (s) =>
    time === undefined ? length : time[s + length] - time[s],
  );
  const wraps: (number | undefined)[] = [];
  const change: Float64Array[] = [];
  const area: Float64Array[] = [];
  const mean: Float64Array[] = [];
  for (const values of columns) {
    const wrap = wrapOf(values, wrapSizes);
    const size =
      wrap !== undefined && wrap.times > 0 && wrap.closest < 0.95 && passesThrough(values)
        ? wrap.size
        : undefined;
    const whole = size === undefined ? values : unwrap(values, size);
    wraps.push(size);
    mean.push(
      Float64Array.from(starts, (s) => {
        let sum = 0;
        for (let i = s; i < s + length; i += 1) sum += values[i];
        return sum / length;
      }),
    );
    change.push(Float64Array.from(starts, (s) => whole[s + length] - whole[s]));
    area.push(
      Float64Array.from(starts, (s, k) => {
        let sum = 0;
        if (time === undefined) {
          for (let i = s; i < s + length; i += 1) sum += 0.5 * (values[i] + values[i + 1]);
          return sum;
        }
        if (!(duration[k] > 0)) return Number.NaN;
        for (let i = s; i < s + length; i += 1)
          sum += 0.5 * (values[i] + values[i + 1]) * (time[i + 1] - time[i]);
        return sum;
      }),
    );
  }
  return { change, area, mean, duration, wraps };
}

/** A value that wraps passes through the middle of its range; one that is switched between two ends does not. */
function passesThrough(values: Float64Array): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const from = low + 0.25 * (high - low);
  const to = high - 0.25 * (high - low);
  let middle = 0;
  const seen = new Set<number>();
  for (const v of values) {
    if (v > from && v < to) {
      middle += 1;
      if (seen.size < 9) seen.add(v);
    }
  }
  return middle > 0.08 * values.length && seen.size > 8;
}

/** How well one column is the rate of another. */
export interface RateFit {
  /** change of the first = factor * integral of the second. */
  readonly factor: number;
  /** Fraction of the change explained, without and with its mean taken out. */
  readonly explained: number;
  readonly explainedCentred: number;
  /** Windows in which both were known. */
  readonly windows: number;
}

/** Straight line through the origin from the integral of `rate` to the change of `angle`, outliers left out once. */
export function rateFit(w: Windows, angle: number, rate: number): RateFit | undefined {
  return lineThrough(w.area[rate], w.change[angle]);
}

/** Line through the origin from x to y. Undefined when there is too little to see. */
export function lineThrough(x: Float64Array, y: Float64Array): RateFit | undefined {
  const first = lineFit(x, y, Number.POSITIVE_INFINITY, 0);
  if (first === undefined) return undefined;
  const again = lineFit(x, y, 4 * first.scatter, first.factor);
  return again !== undefined && again.windows > 0.8 * first.windows ? again : first;
}

function lineFit(
  x: Float64Array,
  y: Float64Array,
  most: number,
  about: number,
): (RateFit & { scatter: number }) | undefined {
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < x.length; i += 1) {
    const a = x[i];
    const b = y[i];
    if (a - a !== 0 || b - b !== 0 || Math.abs(b - about * a) > most) continue;
    n += 1;
    sx += a;
    sy += b;
    sxx += a * a;
    sxy += a * b;
    syy += b * b;
  }
  if (n < 8 || !(sxx > 0) || !(syy > 0)) return undefined;
  const factor = sxy / sxx;
  const left = Math.max(0, syy - factor * sxy);
  const cxx = sxx - (sx * sx) / n;
  const cyy = syy - (sy * sy) / n;
  const cxy = sxy - (sx * sy) / n;
  return {
    factor,
    explained: 1 - left / syy,
    explainedCentred: cxx > 1e-9 * sxx && cyy > 1e-9 * syy ? (cxy * cxy) / (cxx * cyy) : 0,
    windows: n,
    scatter: Math.sqrt(left / n),
  };
}

/**
 * Fraction of the change of a speed that a column explains beside friction that is viscous and Coulomb: the equation of motion, integrated over windows,
 * `J dw = k integral(x) - b integral(w) - c integral(sign w) + d T`, against the same without `x`.
 */
export function accelerationExplained(w: Windows, speed: number, drive: number): number {
  const rows: number[][] = [];
  const out: number[] = [];
  const area = w.area[speed];
  for (let i = 0; i < area.length; i += 1) {
    const row = [w.area[drive][i], area[i], Math.sign(area[i]) * w.duration[i], w.duration[i]];
    const y = w.change[speed][i];
    if (y - y !== 0 || row.some((v) => v - v !== 0)) continue;
    rows.push(row);
    out.push(y);
  }
  if (rows.length < 20) return 0;
  const total = out.reduce((s, v) => s + v * v, 0);
  if (!(total > 0)) return 0;
  const without = leftOver(
    rows.map((r) => r.slice(1)),
    out,
  );
  const withIt = leftOver(rows, out);
  return Math.max(0, (without - withIt) / total);
}

/**
 * Fraction of the change of a position that the integral of a column explains by itself, as a voltage moves a geared motor:
 * `d(angle) = k integral(x) + d T`.
 */
export function motionExplained(w: Windows, angle: number, drive: number): number {
  const fit = lineThrough(w.area[drive], w.change[angle]);
  return fit === undefined || fit.factor === 0
    ? 0
    : Math.max(0, Math.min(fit.explained, fit.explainedCentred));
}

/**
 * Mean size of a column while another stands still away from zero, over its largest: near 0 when nothing is needed to stay there. Undefined when it
 * never stands still away from zero.
 */
export function neededToStay(w: Windows, column: number, drive: number): number | undefined {
  const level = w.mean[column];
  const change = w.change[column];
  const push = w.mean[drive];
  let top = 0;
  let most = 0;
  let fastest = 0;
  for (let i = 0; i < level.length; i += 1) {
    top = Math.max(top, Math.abs(level[i]) || 0);
    most = Math.max(most, Math.abs(push[i]) || 0);
    fastest = Math.max(fastest, Math.abs(change[i]) || 0);
  }
  let n = 0;
  let sum = 0;
  for (let i = 0; i < level.length; i += 1) {
    if (!(Math.abs(level[i]) > 0.25 * top) || !(Math.abs(change[i]) < 0.03 * fastest)) continue;
    n += 1;
    sum += Math.abs(push[i]);
  }
  return n >= Math.max(5, 0.05 * level.length) && most > 0 ? sum / n / most : undefined;
}

/** Residual sum of squares of a least-squares fit, by orthogonalising the regressors in turn (modified Gram-Schmidt). */
function leftOver(rows: readonly (readonly number[])[], y: readonly number[]): number {
  const n = y.length;
  const residual = [...y];
  const basis: Float64Array[] = [];
  for (let c = 0; c < rows[0].length; c += 1) {
    const v = Float64Array.from(rows, (r) => r[c]);
    const before = dot(v, v, n);
    for (const q of basis) {
      const k = dot(v, q, n);
      for (let i = 0; i < n; i += 1) v[i] -= k * q[i];
    }
    const size = dot(v, v, n);
    if (!(size > 1e-10 * before)) continue;
    for (let i = 0; i < n; i += 1) v[i] /= Math.sqrt(size);
    basis.push(v);
    const k = dot(residual, v, n);
    for (let i = 0; i < n; i += 1) residual[i] -= k * v[i];
  }
  return dot(residual, residual, n);
}

function dot(a: ArrayLike<number>, b: ArrayLike<number>, n: number): number {
  let sum = 0;
  for (let i = 0; i < n; i += 1) sum += a[i] * b[i];
  return sum;
}

/** Root mean square of the sum of three columns about its mean, over that of the columns: near 0 for the currents of three phases. */
export function sumOfThree(a: Float64Array, b: Float64Array, c: Float64Array): number {
  let n = 0;
  const sums = [0, 0, 0, 0];
  const squares = [0, 0, 0, 0];
  for (let i = 0; i < a.length; i += 1) {
    const s = a[i] + b[i] + c[i];
    if (s - s !== 0) continue;
    n += 1;
    const values = [a[i], b[i], c[i], s];
    for (let k = 0; k < 4; k += 1) {
      sums[k] += values[k];
      squares[k] += values[k] * values[k];
    }
  }
  const spread = sums.map((s, k) => Math.sqrt(Math.max(0, squares[k] / n - (s / n) ** 2)));
  const own = Math.min(spread[0], spread[1], spread[2]);
  return own > 0 && Math.max(spread[0], spread[1], spread[2]) < 3 * own
    ? spread[3] / own
    : Number.POSITIVE_INFINITY;
}

/**
 * Scatter of `c` about `a - b` (either sign), over the scatter of `c`, of `a` and of `b`, whichever is least: near 0 for a logged control error, and only
 * where all three move.
 */
export function differenceOfTwo(a: Float64Array, b: Float64Array, c: Float64Array): number {
  const left = Math.min(scatter(a, b, c, -1), scatter(a, b, c, 1));
  const least = Math.min(scatter(a), scatter(b), scatter(c));
  return least > 0 ? left / least : Number.POSITIVE_INFINITY;
}

/** Standard deviation of `c + sign (a - b)`, or of `a` alone. */
function scatter(a: Float64Array, b?: Float64Array, c?: Float64Array, sign = 1): number {
  let n = 0;
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < a.length; i += 1) {
    const v = b === undefined || c === undefined ? a[i] : c[i] + sign * (a[i] - b[i]);
    if (v - v !== 0) continue;
    n += 1;
    sum += v;
    squares += v * v;
  }
  return n > 20 ? Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2)) : Number.POSITIVE_INFINITY;
}
