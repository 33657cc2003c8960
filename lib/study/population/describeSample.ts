import { beta, chiSquare, studentT } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import { judgeShape, type ShapeVerdict } from "./normality.js";
import { finite, meanOf, quantileOf, squaresAbout } from "./sample.js";

/** A sample in numbers, each with its interval. */
export interface SampleDescription {
  readonly count: number;
  /** Values left out because they were missing or not finite. */
  readonly missing: number;
  /** Mean with Student's t interval. */
  readonly mean: Estimate;
  /** Standard deviation (n - 1) with the chi-square interval. Exact for normal values only: see `shape`. */
  readonly deviation: Estimate;
  /** Median with the interval between order statistics, which needs no shape. */
  readonly median: Estimate;
  /** Least, lower quartile, upper quartile, largest. */
  readonly least: number;
  readonly lowerQuartile: number;
  readonly upperQuartile: number;
  readonly largest: number;
  /** Normal, log-normal, neither: judged by test. */
  readonly shape: ShapeVerdict;
}

/**
 * Describes a sample: mean, deviation and median with intervals, quartiles, and the shape as judged by test.
 *
 * @param values - numbers in `unit`; those that are not finite are counted as missing
 * @param unit - UCUM code
 * @param level - coverage of the intervals
 * @example
 * describeSample([9, 10, 11], "A").mean; // => { value: 10, low: 7.52, high: 12.48, unit: "A" }
 */
export function describeSample(values: ArrayLike<number>, unit = "1", level = 0.95): SampleDescription {
  const x = finite(values);
  const sorted = x.slice().sort();
  const n = x.length;
  const mean = meanOf(x);
  const sd = n > 1 ? Math.sqrt(squaresAbout(x) / (n - 1)) : Number.NaN;
  const tail = (1 - level) / 2;
  const half = n > 1 ? (studentT.quantile(1 - tail, n - 1) * sd) / Math.sqrt(n) : Number.NaN;
  const chi = (p: number) => (n > 1 ? sd * Math.sqrt((n - 1) / chiSquare.quantile(p, n - 1)) : Number.NaN);
  const common = { unit, level, samples: n };
  const rank = medianRank(n, tail);
  return {
    count: n,
    missing: values.length - n,
    mean: { value: mean, low: mean - half, high: mean + half, method: "mean, t interval", ...common },
    deviation: {
      value: sd,
      low: chi(1 - tail),
      high: chi(tail),
      method: "standard deviation, chi-square interval",
      ...common,
    },
    median: {
      value: quantileOf(sorted, 0.5),
      low: rank < 1 ? -Infinity : sorted[rank - 1],
      high: rank < 1 ? Infinity : sorted[n - rank],
      method: "median, interval between order statistics",
      ...common,
    },
    least: n > 0 ? sorted[0] : Number.NaN,
    lowerQuartile: quantileOf(sorted, 0.25),
    upperQuartile: quantileOf(sorted, 0.75),
    largest: n > 0 ? sorted[n - 1] : Number.NaN,
    shape: judgeShape(x),
  };
}

/** Largest rank r with P(fewer than r of n values lie below the median) <= tail; 0 when there is none. */
function medianRank(n: number, tail: number): number {
  let low = 0;
  let high = Math.floor(n / 2) + 1;
  // P(Binomial(n, 1/2) <= r - 1) = P(Beta(n - r + 1, r) <= 1/2).
  while (high - low > 1) {
    const r = (low + high) >> 1;
    if (beta.cdf(0.5, n - r + 1, r) <= tail) low = r;
    else high = r;
  }
  return low;
}

/**
 * Autocorrelation of a series at one lag, as defined by NIST StRD: sum of lagged products about the mean over the sum
 * of squares.
 *
 * @param values in order, in any unit
 * @param lag whole number of places, 1 when absent
 * @example
 * autocorrelation([1, 2, 3, 4, 5]); // => 0.4
 */
export function autocorrelation(values: ArrayLike<number>, lag = 1): number {
  const mean = meanOf(values);
  let products = 0;
  for (let i = lag; i < values.length; i++) products += (values[i] - mean) * (values[i - lag] - mean);
  return products / squaresAbout(values);
}
