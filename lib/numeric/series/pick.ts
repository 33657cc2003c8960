/**
 * The values of chosen rows, in the order of the rows. A plain loop: `Float64Array.from` with a function takes ten
 * times as long.
 *
 * @example
 * pick(Float64Array.of(5, 6, 7), [2, 0]); // => Float64Array [7, 5]
 */
export function pick(data: ArrayLike<number>, rows: ArrayLike<number>): Float64Array {
  const out = new Float64Array(rows.length);
  for (let j = 0; j < rows.length; j++) out[j] = data[rows[j]];
  return out;
}
