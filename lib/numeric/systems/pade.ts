import type { Polynomial } from "./polynomial.js";

/**
 * Diagonal Padé approximation of a delay exp(-s*delay), as numerator and denominator of the given order. It has the
 * delay's gain (1) at every frequency and its phase up to about `order` radians; it is used for poles only, frequency
 * responses use the delay itself.
 *
 * Source: closed form of the diagonal Padé table of exp(x), coefficients (2n-k)! n! / ((2n)! k! (n-k)!).
 *
 * @param delay s
 * @param order of numerator and denominator, 1 or more
 * @example
 * padeDelay(2, 1); // => { numerator: [-1, 1], denominator: [1, 1] }, that is (1 - s)/(1 + s)
 */
export function padeDelay(
  delay: number,
  order: number,
): { readonly numerator: Polynomial; readonly denominator: Polynomial } {
  if (delay === 0 || order === 0) return { numerator: [1], denominator: [1] };
  const ascending = [1];
  for (let k = 1; k <= order; k++)
    ascending.push((ascending[k - 1] * (order - k + 1) * delay) / (k * (2 * order - k + 1)));
  return {
    numerator: ascending.map((c, k) => (k % 2 === 0 ? c : -c)).reverse(),
    denominator: [...ascending].reverse(),
  };
}
