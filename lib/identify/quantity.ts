import { studentQuantile } from "../numeric/distributions/studentQuantile.js";
import type { Regression } from "../numeric/linear/linearRegression.js";
import type { Estimate } from "../units/estimate.js";

/** What is said about an estimate besides its numbers. */
export interface Labels {
  readonly unit: string;
  readonly method: string;
  readonly convention?: string;
  readonly samples?: number;
  readonly channels?: readonly string[];
}

/**
 * Ratio a/b with its interval by Fieller's theorem (Fieller, Journal of the Royal Statistical Society B 16, 1954): the
 * set of ratios r for which a - r*b is not distinguishable from zero. Null when b itself is not distinguishable from
 * zero (the set is then not an interval).
 *
 * @param covariance covariance of a and b
 */
export function ratioOf(
  a: { readonly value: number; readonly variance: number },
  b: { readonly value: number; readonly variance: number },
  covariance: number,
  critical: number,
): { readonly value: number; readonly low: number; readonly high: number } | null {
  const q = critical * critical;
  const A = b.value * b.value - q * b.variance;
  const B = a.value * b.value - q * covariance;
  const C = a.value * a.value - q * a.variance;
  if (!(A > 0)) return null;
  const inside = Math.sqrt(Math.max(0, B * B - A * C));
  return { value: a.value / b.value, low: (B - inside) / A, high: (B + inside) / A };
}

/** Reciprocal times an exactly known factor; null when the interval holds zero. */
export function reciprocal(estimate: Estimate, factor: number, labels: Partial<Labels>): Estimate | null {
  if (!(estimate.low * estimate.high > 0)) return null;
  const ends = [factor / estimate.low, factor / estimate.high];
  return {
    ...estimate,
    ...labels,
    value: factor / estimate.value,
    low: Math.min(...ends),
    high: Math.max(...ends),
  };
}

/**
 * Product or quotient of two independent estimates: relative half-widths add in squares, each side on its own.
 * Exact to first order; null when either interval holds zero and a quotient is asked for.
 */
export function combined(a: Estimate, b: Estimate, how: "times", labels: Labels): Estimate;
export function combined(a: Estimate, b: Estimate, how: "times" | "over", labels: Labels): Estimate | null;
export function combined(a: Estimate, b: Estimate, how: "times" | "over", labels: Labels): Estimate | null {
  if (how === "over" && !(b.low * b.high > 0)) return null;
  const value = how === "times" ? a.value * b.value : a.value / b.value;
  const of = (x: number, y: number): number => (how === "times" ? x * y : x / y);
  const parts = [
    [of(a.low, b.value) - value, of(a.high, b.value) - value],
    [of(a.value, b.low) - value, of(a.value, b.high) - value],
  ];
  let below = 0;
  let above = 0;
  for (const [first, second] of parts) {
    below += Math.min(first, second, 0) ** 2;
    above += Math.max(first, second, 0) ** 2;
  }
  return {
    value,
    low: value - Math.sqrt(below),
    high: value + Math.sqrt(above),
    level: 0.95,
    ...labels,
  };
}

/** Ratio of two coefficients of one regression, by Fieller's theorem, with the degrees of freedom of the combination
 * that decides it. */
export function ratioOfCoefficients(r: Regression, top: number, bottom: number): ReturnType<typeof ratioOf> {
  const value = r.coefficients[top] / r.coefficients[bottom];
  if (!Number.isFinite(value)) return null;
  const combination = r.coefficients.map((_, j) => (j === top ? 1 : j === bottom ? -value : 0));
  return ratioOf(
    { value: r.coefficients[top], variance: r.covariance[top][top] },
    { value: r.coefficients[bottom], variance: r.covariance[bottom][bottom] },
    r.covariance[top][bottom],
    studentQuantile(0.975, r.degreesOf(combination)),
  );
}
