/** An autoregressive model e[t] = sum of coefficients[k] e[t-1-k] + w[t]. */
export interface Autoregression {
  readonly coefficients: Float64Array;
  /** Variance of w over variance of e, between 0 and 1. */
  readonly innovation: number;
}

/** Autocovariances at lags 0..lags (biased form: each sum divided by the count, which keeps the model stationary). The
 * mean is not removed. */
export function autocovariances(e: ArrayLike<number>, lags: number): Float64Array {
  const m = e.length;
  const out = new Float64Array(lags + 1);
  for (let lag = 0; lag <= lags; lag++) {
    let sum = 0;
    for (let i = lag; i < m; i++) sum += e[i] * e[i - lag];
    out[lag] = sum / m;
  }
  return out;
}

/**
 * Autoregressive model from autocovariances by the Levinson-Durbin recursion, its order chosen by the corrected Akaike
 * criterion (order 0, white, included).
 *
 * Brockwell and Davis, Time Series: Theory and Methods, 5.2 (recursion) and 9.3 (criterion).
 */
export function fitAutoregression(
  covariances: ArrayLike<number>,
  count: number,
  maxOrder: number,
): Autoregression {
  const c0 = covariances[0];
  let best: Autoregression = { coefficients: new Float64Array(0), innovation: 1 };
  if (!(c0 > 0)) return best;
  let bestScore = 0 + (2 * count) / Math.max(1, count - 2);
  let a = new Float64Array(0);
  let variance = c0;
  for (let order = 1; order <= maxOrder && order < covariances.length; order++) {
    let sum = covariances[order];
    for (let k = 0; k < order - 1; k++) sum -= a[k] * covariances[order - 1 - k];
    let reflection = sum / variance;
    if (!Number.isFinite(reflection)) break;
    reflection = Math.max(-0.9995, Math.min(0.9995, reflection));
    const next = new Float64Array(order);
    for (let k = 0; k < order - 1; k++) next[k] = a[k] - reflection * a[order - 2 - k];
    next[order - 1] = reflection;
    a = next;
    variance *= 1 - reflection * reflection;
    const spare = count - order - 2;
    if (spare <= 0) break;
    const score = count * Math.log(variance / c0) + (2 * (order + 1) * count) / spare;
    if (score < bestScore) {
      bestScore = score;
      best = { coefficients: a.slice(), innovation: variance / c0 };
    }
  }
  return best;
}

/** Highest order worth trying for a series of that length. */
export function highestOrder(count: number): number {
  return Math.max(1, Math.min(12, Math.floor(count / 10), Math.floor(10 * Math.log10(Math.max(2, count)))));
}

/** Sum of all autocorrelations (1 for white noise): the factor by which the variance of a mean grows. */
export function varianceInflation(model: Autoregression): number {
  let sum = 1;
  for (const a of model.coefficients) sum -= a;
  return model.innovation / (sum * sum);
}

/** Autocorrelations of the model at lags 0..lags. */
export function modelAutocorrelations(model: Autoregression, lags: number): Float64Array {
  const { coefficients: a, innovation } = model;
  const q = a.length;
  const out = new Float64Array(lags + 1);
  if (q === 0) {
    out[0] = 1;
    return out;
  }
  // Impulse response, squared up; long enough for it to die out.
  const tail = 20000;
  const psi = new Float64Array(tail);
  let used = tail;
  let quiet = 0;
  for (let i = 0; i < tail; i++) {
    let v = i === 0 ? 1 : 0;
    for (let k = 0; k < q && k < i; k++) v += a[k] * psi[i - 1 - k];
    psi[i] = v;
    quiet = Math.abs(v) < 1e-9 ? quiet + 1 : 0;
    if (quiet > q + 2) {
      used = i;
      break;
    }
  }
  // The first q lags from the impulse response, the others by the recursion they obey.
  for (let lag = 0; lag <= lags; lag++) {
    let sum = 0;
    if (lag < q) for (let i = lag; i < used; i++) sum += psi[i] * psi[i - lag] * innovation;
    else if (lag === 0) sum = 1;
    else for (let k = 0; k < q; k++) sum += a[k] * out[Math.abs(lag - 1 - k)];
    out[lag] = sum;
  }
  const scale = out[0] || 1;
  for (let lag = 0; lag <= lags; lag++) out[lag] /= scale;
  return out;
}
