/**
 * Integrated autocorrelation time of a series: the factor by which correlation multiplies the variance of its mean
 * (1 for white noise, more for a slow disturbance, less than 1 never reported). Sums autocorrelations in pairs while
 * the pairs stay positive (initial positive sequence: Geyer, Practical Markov Chain Monte Carlo, Statistical Science 7,
 * 1992).
 *
 * @param values evenly spaced samples
 * @example
 * integratedAutocorrelation(whiteNoise); // about 1
 */
export function integratedAutocorrelation(values: ArrayLike<number>): number {
  const n = values.length;
  if (n < 4) return 1;
  let mean = 0;
  for (let i = 0; i < n; i++) mean += values[i];
  mean /= n;
  const centred = new Float64Array(n);
  let variance = 0;
  for (let i = 0; i < n; i++) {
    centred[i] = values[i] - mean;
    variance += centred[i] * centred[i];
  }
  if (!(variance > 0)) return 1;
  let total = 1;
  const longest = Math.floor(n / 3);
  const sums = new Float64Array(lagsAtOnce);
  for (let lag = 1; lag + 1 <= longest; lag += 2) {
    const k = (lag - 1) % lagsAtOnce;
    if (k === 0) sumProducts(centred, lag, sums);
    const single = sums[k] / variance;
    const pair = single + sums[k + 1] / variance;
    if (pair <= 0) {
      if (lag === 1 && single > 0) total += 2 * single;
      break;
    }
    total += 2 * pair;
  }
  return Math.max(1, total);
}

/** Two pairs: four sums that do not wait for one another take little longer than one. */
const lagsAtOnce = 4;

/** Sums of the products of values so many apart, and one, two and three more. */
function sumProducts(values: Float64Array, lag: number, sums: Float64Array): void {
  const n = values.length;
  // The first rows are there at the smaller lags only.
  const head = (apart: number): number => {
    let sum = 0;
    for (let i = apart; i < Math.min(n, lag + 3); i++) sum += values[i] * values[i - apart];
    return sum;
  };
  let a = head(lag);
  let b = head(lag + 1);
  let c = head(lag + 2);
  let d = 0;
  for (let i = lag + 3; i < n; i++) {
    const v = values[i];
    const at = i - lag;
    a += v * values[at];
    b += v * values[at - 1];
    c += v * values[at - 2];
    d += v * values[at - 3];
  }
  sums[0] = a;
  sums[1] = b;
  sums[2] = c;
  sums[3] = d;
}
