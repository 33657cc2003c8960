import { short } from "./thin.js";

/**
 * Ends of an axis that holds all values with some room, so that no peak touches the edge. One value alone stands in the
 * middle of a tenth of itself to either side, zero alone in the middle of one unit.
 *
 * @example
 * axisSpan([0, 100]); // => [-6, 106]
 */
export function axisSpan(values: readonly number[], room = 0.06): readonly [number, number] {
  const finite = values.filter(Number.isFinite);
  if (finite.length === 0) return [0, 1];
  const low = Math.min(...finite);
  const high = Math.max(...finite);
  const wide = high - low > 1e-9 * Math.max(Math.abs(low), Math.abs(high));
  const more = wide ? room * (high - low) : 0.1 * Math.abs(high) || 1;
  return [short(low - more) ?? 0, short(high + more) ?? 1];
}
