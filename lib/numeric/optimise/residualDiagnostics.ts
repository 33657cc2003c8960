import { normalTail } from "../distributions/studentT.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../series/autoregression.js";
import { robustScale } from "../series/median.js";
import type { ResidualDiagnostics } from "./types.js";

/**
 * What residuals look like in sample order: lag-1 autocorrelation, Durbin-Watson statistic, runs test (Wald and
 * Wolfowitz 1940), number of effectively independent samples, shape, outliers.
 *
 * @param r residuals in sample order, in any unit
 * @example
 * residualDiagnostics(Float64Array.of(1, 1, 1, -1, -1, -1)).runs.count; // => 2
 */
export function residualDiagnostics(r: Float64Array): ResidualDiagnostics {
  const m = r.length;
  let squares = 0;
  let products = 0;
  let differences = 0;
  let mean = 0;
  for (let i = 0; i < m; i++) {
    squares += r[i] * r[i];
    mean += r[i];
    if (i > 0) {
      products += r[i] * r[i - 1];
      differences += (r[i] - r[i - 1]) ** 2;
    }
  }
  mean /= m || 1;
  const some = squares > 0;
  let positive = 0;
  let negative = 0;
  let runs = 0;
  let last = 0;
  for (let i = 0; i < m; i++) {
    const sign = Math.sign(r[i]);
    if (sign === 0) continue;
    if (sign > 0) positive++;
    else negative++;
    if (sign !== last) runs++;
    last = sign;
  }
  const signed = positive + negative;
  const expected = signed > 0 ? (2 * positive * negative) / signed + 1 : 0;
  const variance = signed > 1 ? ((expected - 1) * (expected - 2)) / (signed - 1) : 0;
  const z = variance > 0 ? (runs - expected) / Math.sqrt(variance) : 0;
  let second = 0;
  let third = 0;
  let fourth = 0;
  for (let i = 0; i < m; i++) {
    const d = r[i] - mean;
    second += d * d;
    third += d * d * d;
    fourth += d * d * d * d;
  }
  const sd2 = second / (m || 1);
  const robust = some ? robustScale(r) : 0;
  let outliers = 0;
  const limit = 5 * robust;
  if (robust > 0) for (let i = 0; i < m; i++) if (r[i] > limit || r[i] < -limit) outliers++;
  const order = highestOrder(m);
  const inflation = some ? varianceInflation(fitAutoregression(autocovariances(r, order), m, order)) : 1;
  return {
    lag1: some ? products / squares : 0,
    durbinWatson: some ? differences / squares : 2,
    runs: { count: runs, expected, z, pValue: variance > 0 ? normalTail(z) : 1 },
    effectiveSamples: Math.max(1, Math.min(m, m / inflation)),
    skewness: sd2 > 0 ? third / m / sd2 ** 1.5 : 0,
    excessKurtosis: sd2 > 0 ? fourth / m / sd2 ** 2 - 3 : 0,
    outliers,
  };
}
