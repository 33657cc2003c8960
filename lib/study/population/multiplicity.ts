/**
 * Holm's step-down adjustment: holds the chance of any false alarm among all tests (Holm, S. (1979), Scandinavian
 * Journal of Statistics 6, 65-70).
 *
 * @param p values between 0 and 1, in any order
 * @returns adjusted p values in the same order
 * @example
 * holm([0.01, 0.04, 0.03]); // => [0.03, 0.06, 0.06]
 */
export function holm(p: readonly number[]): number[] {
  const order = p.map((_, i) => i).sort((a, b) => p[a] - p[b]);
  const adjusted = new Array<number>(p.length);
  let running = 0;
  order.forEach((index, rank) => {
    running = Math.max(running, Math.min(1, (p.length - rank) * p[index]));
    adjusted[index] = running;
  });
  return adjusted;
}

/**
 * Benjamini and Hochberg's adjustment: holds the expected share of false alarms among those raised (Benjamini, Y. and
 * Hochberg, Y. (1995), Journal of the Royal Statistical Society B 57, 289-300).
 *
 * @param p values between 0 and 1, in any order
 * @returns adjusted p values in the same order
 * @example
 * benjaminiHochberg([0.01, 0.04, 0.03]); // => [0.03, 0.04, 0.04]
 */
export function benjaminiHochberg(p: readonly number[]): number[] {
  const order = p.map((_, i) => i).sort((a, b) => p[b] - p[a]);
  const adjusted = new Array<number>(p.length);
  let running = 1;
  order.forEach((index, rank) => {
    running = Math.min(running, (p[index] * p.length) / (p.length - rank));
    adjusted[index] = running;
  });
  return adjusted;
}
