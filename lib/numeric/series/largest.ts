/**
 * Largest size of the finite values; 0 where there is none.
 *
 * @example
 * largest(Float64Array.of(1, -3, Number.NaN)); // => 3
 */
export function largest(values: ArrayLike<number>, from = 0, to = values.length): number {
  let most = 0;
  for (let i = from; i < to; i += 1) {
    const size = Math.abs(values[i]);
    if (size > most && size < Number.POSITIVE_INFINITY) most = size;
  }
  return most;
}
