import { deviationPerMedian, medianInPlace } from "./median.js";

/** Samples looked at: more do not make a robust scale better enough to wait for (of 20,000 it is sure to 0.8 %). */
const longest = 20_000;

/** They are looked at in pieces of so many: what holds its value for some rows is seen to change. */
const piece = 100;

/** Room that is used again and again: trials by the thousand would each ask for their own. */
let room = new Float64Array(1024);

/** Second differences below which nothing can be said. */
const fewest = 6;

/**
 * Standard deviation of the sample-to-sample noise of a slowly changing signal: 1.4826 times the median of the absolute
 * second differences, divided by sqrt(6) (second differences of white noise have variance 6 sigma squared, and a ramp
 * has none). Steps and spikes in fewer than half of the samples do not move it. Zero for a held or noise-free signal,
 * and for fewer than eight values.
 *
 * @param values in sample order
 * @param from first sample looked at
 * @param to one past the last
 * @example
 * noiseLevel(Float64Array.of(0, 1, 0, -1, 0, 1, 0, -1)); // => 0.6 (in the unit of the values)
 */
export function noiseLevel(values: Float64Array, from = 0, to = values.length): number {
  const every = Math.max(piece, Math.floor(((to - from) / longest) * piece));
  const most = Math.min(to - from, piece * Math.ceil((to - from) / every));
  if (room.length < most) room = new Float64Array(Math.max(2 * room.length, most));
  const away = room;
  let count = 0;
  for (let start = from; start < to; start += every) {
    const end = Math.min(to, start + piece);
    for (let i = Math.max(from + 2, start); i < end; i += 1) {
      const d = Math.abs(values[i] - 2 * values[i - 1] + values[i - 2]);
      if (d - d === 0) away[count++] = d;
    }
  }
  if (count < fewest) return 0;
  return (deviationPerMedian * medianInPlace(away.subarray(0, count))) / Math.sqrt(6);
}
