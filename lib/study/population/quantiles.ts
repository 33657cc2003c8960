import { beta, normal } from "../../numeric/distributions/distributions.js";
import { finite, meanOf, squaresAbout } from "./sample.js";

/** A motor at its place in the order of size, against the normal distribution of the same mean and deviation. */
export interface QuantileOfSample {
  readonly found: number;
  /** What the distribution would give at this place. */
  readonly expected: number;
  /** Where 95 % of such samples have the motor at this place. */
  readonly low: number;
  readonly high: number;
}

/**
 * The quantiles of a sample against those of the normal distribution of its own mean and deviation: what a quantile
 * plot draws. Expected values at Blom's plotting positions (G. Blom, Statistical Estimates and Transformed
 * Beta-Variables, 1958); the band from the law of an order statistic, whose probability follows a beta distribution
 * with parameters i and n + 1 - i (David and Nagaraja, Order Statistics, 2003, section 2.1). The band holds for each
 * place by itself, with mean and deviation taken as known.
 *
 * @param values - Those that are not finite are left out.
 * @param level - Coverage of the band at each place.
 * @returns In ascending order; empty with fewer than three values.
 * @example
 * quantiles([9, 10, 11])[1].expected; // => 10
 */
export function quantiles(values: ArrayLike<number>, level = 0.95): readonly QuantileOfSample[] {
  const sorted = finite(values).slice().sort();
  const n = sorted.length;
  if (n < 3) return [];
  const mean = meanOf(sorted);
  const deviation = Math.sqrt(squaresAbout(sorted) / (n - 1));
  const at = (p: number) => mean + deviation * normal.quantile(p);
  const tail = (1 - level) / 2;
  return Array.from(sorted, (found, i) => ({
    found,
    expected: at((i + 1 - 0.375) / (n + 0.25)),
    low: at(beta.quantile(tail, i + 1, n - i)),
    high: at(beta.quantile(1 - tail, i + 1, n - i)),
  }));
}
