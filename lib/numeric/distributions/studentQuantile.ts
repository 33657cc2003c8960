import betaincinv from "@stdlib/math-base-special-betaincinv";

/**
 * Quantile of Student's t distribution, by the inverse of the regularised incomplete beta function
 * (NIST Digital Library of Mathematical Functions, 8.17; Abramowitz and Stegun 26.7.1).
 *
 * @param probability between 0 and 1, both excluded
 * @param degreesOfFreedom positive, need not be whole
 * @example
 * studentQuantile(0.975, 10); // 2.228...
 */
export function studentQuantile(probability: number, degreesOfFreedom: number): number {
  if (!(probability > 0 && probability < 1) || !(degreesOfFreedom > 0)) return Number.NaN;
  if (probability === 0.5) return 0;
  const tail = Math.min(probability, 1 - probability);
  const nu = Math.min(degreesOfFreedom, 1e6);
  const x = betaincinv(2 * tail, nu / 2, 0.5);
  const t = Math.sqrt((nu * (1 - x)) / x);
  return probability > 0.5 ? t : -t;
}
