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
  const at = (lag: number): number => {
    let sum = 0;
    for (let i = lag; i < n; i++) sum += centred[i] * centred[i - lag];
    return sum / variance;
  };
  let total = 1;
  const longest = Math.floor(n / 3);
  for (let lag = 1; lag + 1 <= longest; lag += 2) {
    const pair = at(lag) + at(lag + 1);
    if (pair <= 0) {
      const single = at(lag);
      if (lag === 1 && single > 0) total += 2 * single;
      break;
    }
    total += 2 * pair;
  }
  return Math.max(1, total);
}
