import { linearRegression, type Regression } from "./linearRegression.js";

/**
 * Widens the covariance of a regression by a disturbance of known shape and uncertain size: what the shape would put into each coefficient
 * per unit, times the standard deviation of its size.
 */
export function withModelError(
  fit: Regression,
  design: readonly (readonly number[])[],
  shape: readonly number[],
  deviation: number,
): Regression {
  const leak = linearRegression(design, shape, { robust: false, weights: fit.weights });
  if (leak === null) return fit;
  const covariance = fit.covariance.map((row, a) =>
    row.map((v, b) => v + deviation ** 2 * leak.coefficients[a] * leak.coefficients[b]),
  );
  return {
    ...fit,
    covariance,
    standardErrors: covariance.map((row, a) => Math.sqrt(Math.max(0, row[a]))),
  };
}
