/**
 * Means over blocks of samples, NaN where a block holds a missing value; what is left over at the end is left out.
 *
 * @param values in sample order
 * @param block samples of each
 * @example
 * blockMeans(Float64Array.of(1, 3, 5, 7, 9), 2); // 2, 6
 */
export function blockMeans(values: Float64Array, block: number): Float64Array {
  const out = new Float64Array(Math.floor(values.length / block));
  for (let k = 0; k < out.length; k += 1) {
    let sum = 0;
    for (let i = k * block; i < (k + 1) * block; i += 1) sum += values[i];
    out[k] = sum / block;
  }
  return out;
}
