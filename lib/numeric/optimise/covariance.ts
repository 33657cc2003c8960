import { householderQr, jacobiSvd } from "../linear/orthogonal.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  modelAutocorrelations,
} from "../series/autoregression.js";

/** Inverse of JᵀJ and the orthonormal basis behind it. */
export interface NormalInverse {
  /** n by n, row-major; NaN in rows and columns of parameters the data do not determine. */
  readonly inverse: Float64Array;
  /** Orthonormal basis of the columns of J, column-major, as many columns as the rank. */
  readonly basis: Float64Array;
  readonly rank: number;
}

/**
 * (JᵀJ)⁻¹ by QR and SVD of the column-scaled Jacobian (column-major, m by n), never by forming JᵀJ. Singular values
 * below 1e-13 of the largest count as zero.
 */
export function normalInverse(columns: Float64Array, m: number, n: number): NormalInverse {
  const rows = Math.max(m, n);
  const a = new Float64Array(rows * n);
  const scale = new Float64Array(n);
  for (let j = 0; j < n; j++) {
    let norm = 0;
    for (let i = 0; i < m; i++) norm += columns[j * m + i] ** 2;
    scale[j] = Math.sqrt(norm) || 1;
    for (let i = 0; i < m; i++) a[j * rows + i] = columns[j * m + i] / scale[j];
  }
  const scaled = a.slice();
  householderQr(a, undefined, rows, n);
  const R = new Float64Array(n * n);
  for (let j = 0; j < n; j++) for (let i = 0; i <= j; i++) R[j * n + i] = a[j * rows + i];
  const { s, v } = jacobiSvd(R, n, n);
  let rank = 0;
  while (rank < n && s[rank] > 1e-13 * s[0]) rank++;
  const inverse = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < rank; k++) sum += (v[k * n + i] * v[k * n + j]) / (s[k] * s[k]);
      inverse[i * n + j] = sum / (scale[i] * scale[j]);
    }
  }
  for (let k = rank; k < n; k++) {
    for (let j = 0; j < n; j++) {
      if (Math.abs(v[k * n + j]) < 1e-6) continue;
      for (let i = 0; i < n; i++) {
        inverse[i * n + j] = Number.NaN;
        inverse[j * n + i] = Number.NaN;
      }
    }
  }
  const basis = new Float64Array(m * rank);
  for (let k = 0; k < rank; k++)
    for (let j = 0; j < n; j++) {
      const f = v[k * n + j] / s[k];
      for (let i = 0; i < m; i++) basis[k * m + i] += f * scaled[j * rows + i];
    }
  return { inverse, basis, rank };
}

/** A covariance of parameters that allows for correlated residuals. */
export interface CorrelatedCovariance {
  /** n by n, row-major. */
  readonly covariance: Float64Array;
  /** Degrees of freedom to read intervals with. */
  readonly degreesOfFreedom: number;
}

/** The same with the degrees of freedom of single combinations of the parameters. */
export interface ModelledCovariance extends CorrelatedCovariance {
  /**
   * Degrees of freedom of the variance of a combination, `2/var(ln variance)` (Satterthwaite, 1946), with what the
   * correlation itself is not known by: a combination that changes slowly along the record rests on the slow end of the
   * spectrum, of which the record shows little. The correlation is taken as of first order with the same integrated
   * time.
   */
  readonly degreesOf: (combination: readonly number[]) => number;
}

/** QᵀRQ of orthonormal columns for a first-order autoregression of unit variance. */
function firstOrderSpread(q: readonly Float64Array[], rho: number): Float64Array {
  const rank = q.length;
  const m = q[0]?.length ?? 0;
  const decay = Math.min(2 * m, Math.ceil(14 / Math.max(1e-3, 1 - Math.abs(rho))));
  const filtered = q.map((column) => backwardFilter(column, Float64Array.of(rho), decay));
  const spread = new Float64Array(rank * rank);
  for (let i = 0; i < rank; i++)
    for (let j = 0; j < rank; j++) spread[i * rank + j] = (1 - rho * rho) * product(filtered[i], filtered[j]);
  return spread;
}

/** See `ModelledCovariance`; `t` is rank by n, what each combination weighs of the columns of `q`. */
function combinationDegrees(
  q: readonly Float64Array[],
  t: Float64Array,
  n: number,
  time: number,
  samples: number,
): ModelledCovariance["degreesOf"] {
  const rank = q.length;
  const rho = Math.max(0, (time - 1) / (time + 1));
  const step = 0.1 * (1 - rho);
  const [below, above] = [rho - step, rho + step].map((r) => firstOrderSpread(q, r));
  const weighed = (spread: Float64Array, g: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < rank; i++) for (let j = 0; j < rank; j++) sum += g[i] * spread[i * rank + j] * g[j];
    return sum;
  };
  return (combination) => {
    const g = new Float64Array(rank);
    for (let k = 0; k < rank; k++)
      for (let i = 0; i < n; i++) if (combination[i] !== 0) g[k] += t[k * n + i] * combination[i];
    const slope = Math.log(weighed(above, g) / weighed(below, g)) / (2 * step);
    const whole = slope + (2 * rho) / (1 - rho * rho);
    const degrees = samples / (1 + (whole * whole * (1 - rho * rho)) / 2);
    return Number.isFinite(degrees) ? Math.max(1, degrees) : 1;
  };
}

/** Columns filtered backwards by the model: u[i] = q[i] + sum a[k] u[i+1+k], continued before the record until it dies
 * out. */
function backwardFilter(q: Float64Array, a: Float64Array, decay: number): Float64Array {
  const m = q.length;
  const order = a.length;
  const u = new Float64Array(m + decay);
  // u is stored in reverse: u[t] belongs to sample m-1-t.
  for (let t = 0; t < m + decay; t++) {
    let v = t < m ? q[m - 1 - t] : 0;
    for (let k = 0; k < order && k < t; k++) v += a[k] * u[t - 1 - k];
    u[t] = v;
  }
  return u;
}

/** Backward-filtered columns (as `backwardFilter` leaves them) filtered forwards by the same model, the record's part
 * of it. */
function forwardFilter(
  u: Float64Array,
  a: Float64Array,
  m: number,
  decay: number,
  innovation: number,
): Float64Array {
  const length = m + decay;
  const order = a.length;
  const f = new Float64Array(length);
  for (let t = 0; t < length; t++) {
    let v = innovation * u[length - 1 - t];
    for (let k = 0; k < order && k < t; k++) v += a[k] * f[t - 1 - k];
    f[t] = v;
  }
  return f.subarray(decay);
}

/** Sum of x[t] y[t - lag]. */
function lagProduct(x: Float64Array, y: Float64Array, lag: number): number {
  let sum = 0;
  for (let i = lag; i < x.length; i++) sum += x[i] * y[i - lag];
  return sum;
}

/** Lag products of every pair of columns, for lags 0 to `lags`. */
function laggedProducts(q: readonly Float64Array[], lags: number): Float64Array[] {
  const n = q.length;
  return Array.from({ length: lags + 1 }, (_, lag) => {
    const out = new Float64Array(n * n);
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) out[i * n + j] = lagProduct(q[i], q[j], lag);
    return out;
  });
}

function product(u: Float64Array, v: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < u.length; i++) sum += u[i] * v[i];
  return sum;
}

/** Least innovation of a corrected model beside that of the residuals as they are. */
const leastInnovation = 0.3;

/**
 * Covariance of least-squares parameters when residuals follow an autoregressive model: (JᵀJ)⁻¹ Jᵀ G J (JᵀJ)⁻¹ with G
 * the covariance of the residuals. The model (order by corrected Akaike criterion) is fitted to the residuals; because
 * fitting removes part of the noise, their autocovariances are corrected by what the model itself says fitting removes,
 * and the variance is scaled by the trace of the same relation.
 *
 * @param columns Jacobian, column-major, m by n, in sample order
 */
export function autoregressiveCovariance(
  columns: Float64Array,
  r: Float64Array,
  n: number,
): ModelledCovariance {
  const m = r.length;
  const { inverse, basis, rank } = normalInverse(columns, m, n);
  const highest = highestOrder(m);
  const observed = autocovariances(r, highest);
  let model = fitAutoregression(observed, m, highest);
  // The order stays as first chosen; the lags up to it are corrected.
  const order = model.coefficients.length;
  const corrected = observed.slice(0, order + 1);
  const q: Float64Array[] = [];
  for (let k = 0; k < rank; k++) q.push(basis.subarray(k * m, (k + 1) * m));
  const lagged = order > 0 ? laggedProducts(q, order) : [];
  const spread = new Float64Array(rank * rank);
  let removed = rank;
  const plain = model.innovation;
  const rounds = order === 0 ? 1 : 4;
  for (let round = 0; round < rounds; round++) {
    const { coefficients: a } = model;
    let pole = 0;
    for (const c of a) pole += Math.abs(c);
    const decay =
      order === 0 ? 0 : Math.min(2 * m, Math.ceil(14 / Math.max(1e-3, 1 - Math.min(pole, 0.999))));
    const filtered = order === 0 ? q : q.map((column) => backwardFilter(column, a, decay));
    // spread = QᵀRQ with R the correlation matrix of the model (unit variance).
    for (let i = 0; i < rank; i++)
      for (let j = i; j < rank; j++) {
        const v = model.innovation * product(filtered[i], filtered[j]);
        spread[i * rank + j] = v;
        spread[j * rank + i] = v;
      }
    removed = 0;
    for (let i = 0; i < rank; i++) removed += spread[i * rank + i];
    if (round === rounds - 1) break;
    // R Q: the backward-filtered columns filtered forwards.
    const carried = filtered.map((u) => forwardFilter(u, a, m, decay, model.innovation));
    const rho = modelAutocorrelations(model, order);
    const variance = (observed[0] * m) / Math.max(1, m - removed);
    for (let lag = 0; lag <= order; lag++) {
      // Expected lag sum of fitted residuals is that of the noise less what fitting takes away.
      let lost = 0;
      for (let k = 0; k < rank; k++)
        lost += lagProduct(q[k], carried[k], lag) + lagProduct(carried[k], q[k], lag);
      for (let i = 0; i < rank * rank; i++) lost -= spread[i] * lagged[lag][i];
      // The biased autocovariance also lacks the lag's share of samples.
      corrected[lag] = observed[lag] + (variance * (lost + lag * rho[lag])) / m;
    }
    const next = fitAutoregression(corrected, m, order);
    if (!next.coefficients.every(Number.isFinite) || next.coefficients.length === 0) break;
    // Corrected sums that belong to no noise at all (not positive definite) leave next to nothing to chance.
    if (next.innovation < leastInnovation * plain) break;
    model = next;
  }
  let sumOfSquares = 0;
  for (let i = 0; i < m; i++) sumOfSquares += r[i] * r[i];
  // Samples as many as carry the same information on a variance.
  const rho = modelAutocorrelations(model, Math.min(m - 1, 2000));
  let squares = 1;
  for (let lag = 1; lag < rho.length; lag++) squares += 2 * rho[lag] * rho[lag];
  const degreesOfFreedom = Math.max(1, (m - removed) / squares);
  const variance = sumOfSquares / Math.max(1, m - removed);
  // J (JᵀJ)⁻¹ = Q T with T = Qᵀ J (JᵀJ)⁻¹.
  const t = new Float64Array(rank * n);
  for (let k = 0; k < rank; k++) {
    const qk = q[k];
    const qj = new Float64Array(n);
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let i = 0; i < m; i++) sum += qk[i] * columns[j * m + i];
      qj[j] = sum;
    }
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let i = 0; i < n; i++) sum += qj[i] * inverse[i * n + j];
      t[k * n + j] = sum;
    }
  }
  const covariance = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < rank; k++)
        for (let l = 0; l < rank; l++) sum += t[k * n + i] * spread[k * rank + l] * t[l * n + j];
      covariance[i * n + j] = variance * sum;
    }
  let time = 1;
  for (let lag = 1; lag < rho.length; lag++) time += 2 * rho[lag];
  const degreesOf = combinationDegrees(q, t, n, time, Math.max(1, m - removed));
  return { covariance, degreesOfFreedom, degreesOf };
}

/**
 * Newey and West's (1987) covariance with a Bartlett kernel, bandwidth by Andrews' (1991) first-order plug-in rule.
 * Allows for correlated residuals of unequal variance without a model of them; too small when the correlation is
 * strong.
 */
export function neweyWestCovariance(columns: Float64Array, r: Float64Array, n: number): CorrelatedCovariance {
  const m = r.length;
  const { inverse } = normalInverse(columns, m, n);
  const c = autocovariances(r, 1);
  const rho = c[0] > 0 ? Math.max(-0.97, Math.min(0.97, c[1] / c[0])) : 0;
  const alpha = (4 * rho * rho) / (1 - rho * rho) ** 2;
  const bandwidth = Math.min(m - 1, Math.ceil(1.1447 * Math.cbrt(alpha * m)));
  const scores = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) scores[j * m + i] = columns[j * m + i] * r[i];
  const meat = new Float64Array(n * n);
  for (let a = 0; a < n; a++)
    for (let b = 0; b < n; b++) {
      let sum = 0;
      for (let lag = 0; lag <= bandwidth; lag++) {
        const weight = lag === 0 ? 1 : 1 - lag / (bandwidth + 1);
        let s = 0;
        for (let i = lag; i < m; i++) {
          s += scores[a * m + i] * scores[b * m + i - lag];
          if (lag > 0) s += scores[a * m + i - lag] * scores[b * m + i];
        }
        sum += weight * s;
      }
      meat[a * n + b] = (sum * m) / Math.max(1, m - n);
    }
  const half = new Float64Array(n * n);
  const covariance = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      for (let k = 0; k < n; k++) half[i * n + j] += inverse[i * n + k] * meat[k * n + j];
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      for (let k = 0; k < n; k++) covariance[i * n + j] += half[i * n + k] * inverse[k * n + j];
  return { covariance, degreesOfFreedom: Math.max(1, m - n) };
}
