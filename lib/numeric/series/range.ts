/**
 * Highest less lowest of the values in a window; missing values (NaN) do not count, and 0 is returned where there is
 * none.
 *
 * @param from first sample, and `to`: the one after the last
 * @example
 * range(Float64Array.of(2, -1, 3)); // => 4
 */
export function range(values: ArrayLike<number>, from = 0, to = values.length): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = from; i < to; i += 1) {
    if (values[i] < low) low = values[i];
    if (values[i] > high) high = values[i];
  }
  return high >= low ? high - low : 0;
}
