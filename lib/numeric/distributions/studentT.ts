import betainc from "@stdlib/math-base-special-betainc";
import betaincinv from "@stdlib/math-base-special-betaincinv";

/**
 * Two-sided quantile of Student's t: the t with `level` of the distribution between -t and +t. Degrees of freedom need not be
 * whole; with none or fewer (no information on the scatter) it is infinite.
 *
 * @param level share between the two, 0 to 1
 * @param degreesOfFreedom above 0, whole or not
 * @example
 * studentT(0.95, 10); // => 2.228 (tabulated: 2.2281)
 */
export function studentT(level: number, degreesOfFreedom: number): number {
  if (!(degreesOfFreedom > 0)) return Number.POSITIVE_INFINITY;
  const nu = Math.min(degreesOfFreedom, 1e7);
  // P(|T| > t) = I_x(nu/2, 1/2) with x = nu/(nu+t²); with 1-x instead the argument keeps its digits.
  const y = betaincinv(level, 0.5, nu / 2);
  return Math.sqrt((nu * y) / (1 - y));
}

/** Two-sided tail probability of Student's t beyond |t|. */
function studentTail(t: number, degreesOfFreedom: number): number {
  const nu = Math.min(degreesOfFreedom, 1e7);
  return betainc(nu / (nu + t * t), nu / 2, 0.5);
}

/** Two-sided tail probability of the standard normal beyond |z|. */
export function normalTail(z: number): number {
  return studentTail(z, 1e7);
}
