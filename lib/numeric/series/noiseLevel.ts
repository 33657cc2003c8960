import { deviationPerMedian, medianInPlace } from "./median.js";

/** Longest stretch looked at: more samples do not make a robust scale better enough to wait for. */
const longest = 200_000;

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
  const stride = Math.max(1, Math.ceil((to - from) / longest));
  const most = Math.max(0, Math.ceil((to - from - 2) / stride));
  if (room.length < most) room = new Float64Array(Math.max(2 * room.length, most));
  const away = room;
  let count = 0;
  for (let i = from + 2; i < to; i += stride) {
    const d = Math.abs(values[i] - 2 * values[i - 1] + values[i - 2]);
    if (d - d === 0) away[count++] = d;
  }
  if (count < fewest) return 0;
  return (deviationPerMedian * medianInPlace(away.subarray(0, count))) / Math.sqrt(6);
}
