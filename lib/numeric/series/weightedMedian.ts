/**
 * The value below which half of the weight lies; NaN where there is none. Values that are not finite are left out.
 *
 * @param weights one for each value, 0 or more
 * @example
 * weightedMedian([1, 2, 3], [1, 1, 5]); // => 3
 */
export function weightedMedian(values: ArrayLike<number>, weights: ArrayLike<number>): number {
  const kept: { readonly value: number; readonly weight: number }[] = [];
  for (let i = 0; i < values.length; i += 1)
    if (Number.isFinite(values[i]) && weights[i] > 0) kept.push({ value: values[i], weight: weights[i] });
  kept.sort((a, b) => a.value - b.value);
  const half = kept.reduce((sum, { weight }) => sum + weight, 0) / 2;
  let sum = 0;
  for (const { value, weight } of kept) {
    sum += weight;
    if (sum >= half) return value;
  }
  return Number.NaN;
}
