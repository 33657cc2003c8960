import { onceForColumn } from "./onceForColumn.js";

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

/**
 * The same of a whole column that does not change any more, looked through once however many of its stretches are
 * judged by it.
 *
 * @example
 * largestOfColumn(Float64Array.of(1, -3, Number.NaN)); // => 3
 */
export const largestOfColumn: (column: Float64Array) => number = onceForColumn((column) => largest(column));
