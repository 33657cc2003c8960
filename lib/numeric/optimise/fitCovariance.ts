import {
  autoregressiveCovariance,
  type CorrelatedCovariance,
  neweyWestCovariance,
  normalInverse,
} from "./covariance.js";
import { type LossValue, robustLoss } from "./robustLoss.js";
import type { SearchOutcome } from "./searchTypes.js";
import type { LeastSquaresOptions, LossName } from "./types.js";

interface ResidualSize {
  readonly lossScale: number;
  readonly degreesOfFreedom: number;
  readonly deviation: number;
}

/** Covariance of the free parameters, NaN where there is none, and the degrees of freedom to read intervals with. */
export function covarianceOf(
  outcome: SearchOutcome,
  options: LeastSquaresOptions,
  size: ResidualSize,
): { covariance: Float64Array; readingDegrees: number } {
  const { r, columns, atBound, code } = outcome;
  const [m, n] = [r.length, atBound.length];
  // Parameters that a bound holds do not move: the covariance of the others is computed with them fixed.
  const moving: number[] = [];
  for (let j = 0; j < n; j++) if (!atBound[j]) moving.push(j);
  const covariance = new Float64Array(n * n).fill(Number.NaN);
  if (code === "not-finite" || code === "too-few" || moving.length === 0)
    return { covariance, readingDegrees: size.degreesOfFreedom };
  const kept = new Float64Array(m * moving.length);
  moving.forEach((j, c) => {
    kept.set(columns.subarray(j * m, (j + 1) * m), c * m);
  });
  const part = covarianceByKind(kept, r, moving.length, options, size);
  moving.forEach((j, a) => {
    moving.forEach((k, b) => {
      covariance[j * n + k] = part.covariance[a * moving.length + b];
    });
  });
  return { covariance, readingDegrees: part.degreesOfFreedom };
}

function covarianceByKind(
  columns: Float64Array,
  r: Float64Array,
  n: number,
  options: LeastSquaresOptions,
  { lossScale, degreesOfFreedom, deviation }: ResidualSize,
): CorrelatedCovariance {
  const { loss = "linear", covariance: kind = "independent", absoluteWeights } = options;
  if (kind !== "independent" && loss === "linear")
    return kind === "autoregressive"
      ? autoregressiveCovariance(columns, r, n)
      : neweyWestCovariance(columns, r, n);
  const { inverse } = normalInverse(columns, r.length, n);
  const factor = robustFactor(r, loss, lossScale, degreesOfFreedom);
  const variance = absoluteWeights ? 1 : loss === "linear" ? deviation * deviation : factor;
  return {
    covariance: inverse.map((v) => v * variance),
    degreesOfFreedom: absoluteWeights ? Number.POSITIVE_INFINITY : degreesOfFreedom,
  };
}

/** Correlations that belong to a covariance, row-major. */
export function correlationOf(covariance: Float64Array, n: number): Float64Array {
  const correlation = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      correlation[i * n + j] =
        i === j ? 1 : covariance[i * n + j] / Math.sqrt(covariance[i * n + i] * covariance[j * n + j]);
  return correlation;
}

/** Half width of the confidence band of the fitted curve at each row of the Jacobian. */
export function bandHalfWidth(
  jacobian: Float64Array,
  covariance: Float64Array,
  m: number,
  n: number,
  t: number,
): Float64Array {
  const out = new Float64Array(m);
  // A parameter on its bound has no covariance and does not widen the band.
  const known = covariance.map((c) => (Number.isFinite(c) ? c : 0));
  for (let i = 0; i < m; i++) {
    let sum = 0;
    for (let a = 0; a < n; a++) {
      const ja = jacobian[i * n + a];
      if (ja === 0) continue;
      let inner = known[a * n + a] * ja;
      for (let b = 0; b < a; b++) inner += 2 * known[a * n + b] * jacobian[i * n + b];
      sum += ja * inner;
    }
    out[i] = sum > 0 ? t * Math.sqrt(sum) : 0;
  }
  return out;
}

/** Variance factor of a robust fit: (sum of psi²/(m-n)) / (mean of psi')², with Huber's correction (Huber
 * 1981, 7.6). */
function robustFactor(r: Float64Array, loss: LossName, scale: number, degrees: number): number {
  if (loss === "linear" || degrees <= 0) return Number.NaN;
  const value: LossValue = { rho: 0, first: 0, second: 0 };
  const m = r.length;
  let psi2 = 0;
  let mean = 0;
  const slopes = new Float64Array(m);
  for (let i = 0; i < m; i++) {
    const z = (r[i] / scale) ** 2;
    robustLoss(loss, z, value);
    psi2 += (value.first * r[i]) ** 2;
    slopes[i] = value.first + 2 * z * value.second;
    mean += slopes[i];
  }
  mean /= m;
  let spread = 0;
  for (let i = 0; i < m; i++) spread += (slopes[i] - mean) ** 2;
  spread /= m;
  const correction = 1 + ((m - degrees) / m) * (spread / (mean * mean));
  return (correction * correction * (psi2 / degrees)) / (mean * mean);
}
