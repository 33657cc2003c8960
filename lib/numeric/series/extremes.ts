/**
 * Lowest and highest of the values; missing values (NaN) do not count, and the lowest is above the highest where there
 * is none.
 *
 * @example
 * extremes(Float64Array.of(2, -1, 3)); // => [-1, 3]
 */
export function extremes(
  values: ArrayLike<number>,
  from = 0,
  to = values.length,
): readonly [low: number, high: number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = from; i < to; i += 1) {
    const v = values[i];
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return [low, high];
}
