import { dot } from "../../numeric/linear/dot.js";
import { median } from "../../numeric/series/median.js";
import type { Windows } from "./windows.js";

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
  // Squares of numbers near either end of their range are none any more: nothing is seen of those.
  if (n < 8 || !(sxx > 0 && sxx < Infinity) || !(syy > 0 && syy < Infinity)) return undefined;
  const factor = sxy / sxx;
  if (!Number.isFinite(factor)) return undefined;
  const left = Math.max(0, syy - factor * sxy);
  const cxx = sxx - (sx * sx) / n;
  const cyy = syy - (sy * sy) / n;
  const cxy = sxy - (sx * sy) / n;
  return {
    factor,
    explained: 1 - left / syy,
    explainedCentred: cxx > 1e-9 * sxx && cyy > 1e-9 * syy ? (cxy / cxx) * (cxy / cyy) : 0,
    windows: n,
    scatter: Math.sqrt(left / n),
  };
}

/** What friction explains of the changes of a speed, taken out once for all columns that may drive it. */
export interface SpeedChanges {
  /** Orthonormal regressors of friction. */
  readonly friction: readonly Float64Array[];
  /** Changes of the speed that friction leaves. */
  readonly left: Float64Array;
  readonly total: number;
}

/** Changes of a speed over the windows with viscous and Coulomb friction and a constant torque taken out. */
export function speedChanges(w: Windows, speed: number): SpeedChanges | undefined {
  const area = w.area[speed];
  const n = area.length;
  const left = Float64Array.from(w.change[speed], (v, i) => (v - v === 0 && area[i] - area[i] === 0 ? v : 0));
  const total = dot(left, left);
  if (n < 20 || !(total > 0 && total < Infinity)) return undefined;
  const friction: Float64Array[] = [];
  const regressors = [
    Float64Array.from(area, (v) => (v - v === 0 ? v : 0)),
    Float64Array.from(area, (v, i) => (v - v === 0 ? Math.sign(v) * w.duration[i] : 0)),
    Float64Array.from(area, (v, i) => (v - v === 0 ? w.duration[i] : 0)),
  ];
  for (const v of regressors) {
    if (!normalise(v, friction)) continue;
    friction.push(v);
    subtract(left, v);
  }
  return { friction, left, total };
}

/**
 * Fraction of the change of a speed that a column explains beside friction that is viscous and Coulomb: the equation of
 * motion, integrated over windows,
 * `J dw = k integral(x) - b integral(w) - c integral(sign w) + d T`, against the same without `x`.
 */
export function accelerationExplained(w: Windows, changes: SpeedChanges, drive: number): number {
  const x = Float64Array.from(w.area[drive], (v) => (v - v === 0 ? v : 0));
  if (!normalise(x, changes.friction)) return 0;
  const k = dot(changes.left, x);
  return (k * k) / changes.total;
}

/** Takes what others span out of a vector and makes it of length one, in place; false when nothing is left. */
function normalise(v: Float64Array, basis: readonly Float64Array[]): boolean {
  const before = dot(v, v);
  for (const q of basis) subtract(v, q);
  const size = dot(v, v);
  if (!(size > 1e-8 * before)) return false;
  const scale = 1 / Math.sqrt(size);
  for (let i = 0; i < v.length; i += 1) v[i] *= scale;
  return true;
}

function subtract(v: Float64Array, unit: Float64Array): void {
  const k = dot(v, unit);
  for (let i = 0; i < v.length; i += 1) v[i] -= k * unit[i];
}

/**
 * Fraction of the change of a position that the integral of a column explains by itself, as a voltage moves a geared
 * motor:
 * `d(angle) = k integral(x) + d T`.
 */
export function motionExplained(w: Windows, angle: number, drive: number): number {
  const fit = lineThrough(w.area[drive], w.change[angle]);
  return fit === undefined || fit.factor === 0
    ? 0
    : Math.max(0, Math.min(fit.explained, fit.explainedCentred));
}

/**
 * What of a column goes with the sense of another while that stands still away from zero (median), over the largest of
 * the first: near 0 when nothing is needed to stay there. Undefined when it never stands still away from zero.
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
  const stays: number[] = [];
  for (let i = 0; i < level.length; i += 1) {
    if (!(Math.abs(level[i]) > 0.25 * top) || !(Math.abs(change[i]) < 0.03 * fastest)) continue;
    stays.push(push[i] * Math.sign(level[i]));
  }
  return stays.length >= Math.max(5, 0.05 * level.length) && most > 0
    ? Math.abs(median(stays)) / most
    : undefined;
}

/** True for two columns in proportion to each other. */
export function inProportion(fit: RateFit | undefined): boolean {
  return fit !== undefined && fit.explained > 0.985 && fit.explainedCentred > 0.97;
}

/** Root mean square of the sum of three columns about its mean, over that of the columns: near 0 for the currents of
 * three phases. */
export function sumOfThree(a: Float64Array, b: Float64Array, c: Float64Array): number {
  let n = 0;
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < a.length; i += 1) {
    const v = a[i] + b[i] + c[i];
    if (v - v !== 0) continue;
    n += 1;
    sum += v;
    squares += v * v;
  }
  const own = [scatter(a), scatter(b), scatter(c)];
  const least = Math.min(...own);
  // Where the three are never known in the same rows nothing is seen of their sum.
  if (!(n > fewestRows && least > 0 && Math.max(...own) < 3 * least)) return Number.POSITIVE_INFINITY;
  return Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2)) / least;
}

/**
 * Scatter of `c` about `a - b` (either sign), over the scatter of `c`, of `a` and of `b`, whichever is least: near 0
 * for a logged control error, and only where all three move.
 */
export function differenceOfTwo(a: Float64Array, b: Float64Array, c: Float64Array): number {
  const left = Math.min(scatter(a, b, c, -1), scatter(a, b, c, 1));
  const least = Math.min(scatter(a), scatter(b), scatter(c));
  return least > 0 && left < Number.POSITIVE_INFINITY ? left / least : Number.POSITIVE_INFINITY;
}

/** A scatter is taken of more rows than this. */
const fewestRows = 20;

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
  return n > fewestRows ? Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2)) : Number.POSITIVE_INFINITY;
}
