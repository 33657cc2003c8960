import { studentT } from "../numeric/distributions/studentT.js";
import { blockCovariance } from "../numeric/linear/blockCovariance.js";
import { autoregressiveCovariance } from "../numeric/optimise/covariance.js";
import { integratedAutocorrelation } from "../numeric/series/autocorrelation.js";
import { autocovariances } from "../numeric/series/autoregression.js";

/** Value with its interval. */
export interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** A curve fitted by least squares: where it ended, what it left, and how it moves with each parameter. */
export interface FittedCurve {
  readonly values: readonly number[];
  /** One residual for each row, in order of time. */
  readonly residuals: Float64Array;
  /** Derivative of the curve by each parameter, as many rows. */
  readonly columns: readonly Float64Array[];
  /**
   * Points to which the rows are averaged for a second look at the residuals where neighbours go against each other (a
   * speed that is a difference of counts): such quick noise hides how much of them is slow. None when absent.
   */
  readonly points?: number;
  /** Residuals that a noise model made white: whatever is left in them of slow errors shows in that second look
   * only. */
  readonly whitened?: boolean;
}

/** Intervals of functions of the parameters of a fitted curve. */
export interface CurveIntervals {
  /** 95 % interval of `of(values)`; of its logarithm where `positive`, so that no end is below zero. */
  readonly of: (of: (values: readonly number[]) => number, positive?: boolean) => Interval;
}

/** Fewest degrees of freedom at which the scatter between blocks counts. */
const leastDegrees = 3;

/** Fewest and most blocks of rows, and how many correlation times a block lasts. */
const blocks = { least: 6, most: 24, times: 4 };

/**
 * Intervals that allow for correlated residuals by two means, of which the wider counts: an autoregressive model of the
 * residuals, which says more from a short record, and the scatter between blocks of rows (bias-reduced sandwich), which
 * also holds for a model error that differs from one part of the record to the next.
 */
export function curveIntervals(curve: FittedCurve): CurveIntervals {
  const { values, residuals, columns, points = 0 } = curve;
  const n = columns.length;
  const fine = halfWidths(columns, residuals);
  const second = points > 0 && (curve.whitened === true || alternates(residuals));
  const by = !second ? 1 : Math.floor(residuals.length / points);
  const coarse =
    by < 2
      ? null
      : halfWidths(
          columns.map((c) => grouped(c, by)),
          grouped(residuals, by),
        );
  const byBlocks = fromBlocks(columns, residuals);
  const blockVariance = (c: readonly number[]): number =>
    byBlocks === null ? 0 : quadratic(n, (a, b) => byBlocks.covariance[a][b], c);
  const half = (c: readonly number[]): number => {
    const first = Math.max(fine(c), coarse?.(c) ?? 0);
    if (byBlocks === null) return first;
    const degrees = byBlocks.degreesOf([...c]);
    // A combination that hangs on few blocks is not for them to judge.
    if (degrees < leastDegrees) return first;
    return Math.max(first, studentT(0.95, degrees) * Math.sqrt(Math.max(0, blockVariance(c))));
  };
  return {
    of: (of, positive = false) => {
      const value = of(values);
      const gradient = values.map((v, j) => {
        const moved = [...values];
        const h = 1e-6 * Math.max(Math.abs(v), 1e-12);
        moved[j] = v + h;
        const up = of(moved);
        moved[j] = v - h;
        return (up - of(moved)) / (2 * h);
      });
      const wide = half(gradient);
      const reach = Number.isFinite(wide) ? wide : Number.POSITIVE_INFINITY;
      if (!positive || !(value > 0)) return { value, low: value - reach, high: value + reach };
      const ratio = Math.exp(reach / value);
      return { value, low: value / ratio, high: value * ratio };
    },
  };
}

/** Sum of c[a] c[b] times the covariance of a and b. */
function quadratic(n: number, at: (a: number, b: number) => number, c: readonly number[]): number {
  let sum = 0;
  for (let a = 0; a < n; a++)
    for (let b = 0; b < n; b++) if (c[a] !== 0 && c[b] !== 0) sum += c[a] * c[b] * at(a, b);
  return sum;
}

/** Half widths of 95 % by an autoregressive model of the residuals. */
function halfWidths(
  columns: readonly Float64Array[],
  residuals: Float64Array,
): (c: readonly number[]) => number {
  const n = columns.length;
  const flat = new Float64Array(n * residuals.length);
  columns.forEach((column, j) => {
    flat.set(column, j * residuals.length);
  });
  const auto = autoregressiveCovariance(flat, residuals, n);
  return (c) => {
    const variance = quadratic(n, (a, b) => auto.covariance[a * n + b], c);
    return (
      studentT(0.95, Math.min(auto.degreesOfFreedom, auto.degreesOf(c))) * Math.sqrt(Math.max(0, variance))
    );
  };
}

/** Whether neighbours go against each other by more than chance (two standard errors of a correlation). */
function alternates(residuals: Float64Array): boolean {
  const [size, next] = autocovariances(residuals, 1);
  return next < (-2 / Math.sqrt(residuals.length)) * size;
}

/** Means over groups of so many values. */
function grouped(values: Float64Array, by: number): Float64Array {
  return Float64Array.from({ length: Math.floor(values.length / by) }, (_, k) => {
    let sum = 0;
    for (let i = k * by; i < (k + 1) * by; i++) sum += values[i];
    return sum / by;
  });
}

function fromBlocks(
  columns: readonly Float64Array[],
  residuals: Float64Array,
): ReturnType<typeof blockCovariance> {
  const m = residuals.length;
  const length = Math.max(
    m / blocks.most,
    blocks.times * integratedAutocorrelation(thinned(residuals)) * stride(m),
  );
  const count = Math.floor(m / length);
  if (count < blocks.least || columns.length + 1 >= count) return null;
  const sizes = columns.map((column) => Math.sqrt(column.reduce((sum, v) => sum + v * v, 0) / m));
  if (sizes.some((size) => !(size > 0))) return null;
  const x = columns.map((column, j) => column.map((v) => v / sizes[j]));
  const edges = Array.from({ length: count + 1 }, (_, g) => Math.floor((g * m) / count));
  const found = blockCovariance(x, residuals, edges);
  if (found === null) return null;
  return {
    ...found,
    covariance: found.covariance.map((row, a) => row.map((v, b) => v / (sizes[a] * sizes[b]))),
    degreesOf: (combination) => found.degreesOf(combination.map((c, j) => c / sizes[j])),
  };
}

/** Every so many rows are looked at for the correlation time: its sums grow with the square of the rows. */
function stride(m: number): number {
  return Math.max(1, Math.floor(m / 2000));
}

function thinned(residuals: Float64Array): Float64Array {
  const by = stride(residuals.length);
  return by === 1 ? residuals : residuals.filter((_, i) => i % by === 0);
}
