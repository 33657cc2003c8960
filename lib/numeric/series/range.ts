import { extremes } from "./extremes.js";

/**
 * Highest less lowest of the values in a window; missing values (NaN) do not count, and 0 is returned where there is
 * none.
 *
 * @param from first sample, and `to`: the one after the last
 * @example
 * range(Float64Array.of(2, -1, 3)); // => 4
 */
export function range(values: ArrayLike<number>, from = 0, to = values.length): number {
  const [low, high] = extremes(values, from, to);
  return high >= low ? high - low : 0;
}
