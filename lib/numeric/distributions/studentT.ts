import { normal, studentT as student } from "./distributions.js";

/**
 * Two-sided quantile of Student's t: the t with `level` of the distribution between -t and +t. Degrees of freedom need
 * not be whole; with none or fewer (no information on the scatter) it is infinite.
 *
 * @param level share between the two, 0 to 1
 * @param degreesOfFreedom above 0, whole or not
 * @example
 * studentT(0.95, 10); // => 2.228 (tabulated: 2.2281)
 */
export function studentT(level: number, degreesOfFreedom: number): number {
  if (!(degreesOfFreedom > 0)) return Number.POSITIVE_INFINITY;
  return student.quantile((1 + level) / 2, Math.min(degreesOfFreedom, 1e6));
}

/** Two-sided tail probability of the standard normal beyond |z|. */
export function normalTail(z: number): number {
  return 2 * normal.upper(Math.abs(z));
}
