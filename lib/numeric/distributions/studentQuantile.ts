import { studentT } from "./distributions.js";

/**
 * Quantile of Student's t distribution, by the inverse of the regularised incomplete beta function
 * (NIST Digital Library of Mathematical Functions, 8.17; Abramowitz and Stegun 26.7.1).
 *
 * @param probability between 0 and 1, both excluded
 * @param degreesOfFreedom positive, need not be whole; taken as a million where there are more
 * @example
 * studentQuantile(0.975, 10); // 2.228...
 */
export function studentQuantile(probability: number, degreesOfFreedom: number): number {
  if (!(probability > 0 && probability < 1) || !(degreesOfFreedom > 0)) return Number.NaN;
  return studentT.quantile(probability, Math.min(degreesOfFreedom, 1e6));
}
