import { unwrap } from "../../numeric/series/unwrap.js";
import { wrapOf } from "./wrapOf.js";

/** Short stretches of a recording, over which rates and areas are compared. */
export interface Windows {
  /** Per column: change from the first row of each window to its last; NaN where a value is missing. */
  readonly change: readonly Float64Array[];
  /** Per column: integral over each window, in units of the column times units of time. */
  readonly area: readonly Float64Array[];
  /** Per column: mean over each window. */
  readonly mean: readonly Float64Array[];
  readonly duration: Float64Array;
  /** Wraps that were taken out of a column before its change was computed. */
  readonly wraps: readonly (number | undefined)[];
}

const shortest = 4;
const longest = 32;
const windowsInAll = 300;
const wrapSizes = [
  1,
  2 * Math.PI,
  100,
  360,
  400,
  1000,
  3600,
  4000,
  10_000,
  36_000,
  ...[8, 10, 12, 14, 16, 17, 18, 20, 22, 24, 32].map((b) => 2 ** b),
];

/** Cuts the looked-at rows into windows. `time` is in logged units, or absent: then rows are one apart. */
export function windowsOf(
  columns: readonly Float64Array[],
  time: Float64Array | undefined,
  edges: readonly number[],
): Windows {
  const rows = edges[edges.length - 1];
  const length = Math.max(shortest, Math.min(longest, Math.round(rows / windowsInAll)));
  const starts: number[] = [];
  // Few rows are cut into windows that overlap by half.
  const stride = rows > 5 * windowsInAll ? length : length >> 1;
  for (let b = 0; b + 1 < edges.length; b += 1) {
    for (let i = edges[b]; i + length < edges[b + 1]; i += stride) starts.push(i);
  }
  const clock = time ?? Float64Array.from({ length: rows }, (_, i) => i);
  const duration = ends(clock, starts, length);
  const all = columns.map((values) => columnWindows(values, clock, starts, length));
  return {
    change: all.map((c) => c.change),
    area: all.map((c) => c.area),
    mean: all.map((c) => c.mean),
    wraps: all.map((c) => c.wrap),
    duration,
  };
}

function ends(values: Float64Array, starts: readonly number[], length: number): Float64Array {
  const out = new Float64Array(starts.length);
  for (let k = 0; k < out.length; k += 1) out[k] = values[starts[k] + length] - values[starts[k]];
  return out;
}

function columnWindows(
  values: Float64Array,
  clock: Float64Array,
  starts: readonly number[],
  length: number,
): {
  readonly change: Float64Array;
  readonly area: Float64Array;
  readonly mean: Float64Array;
  readonly wrap: number | undefined;
} {
  const found = wrapOf(values, wrapSizes);
  const wraps = found !== undefined && found.times > 0 && found.closest < 0.95 && passesThrough(values);
  const wrap = wraps ? found.size : undefined;
  const whole = wrap === undefined ? values : unwrap(values, wrap);
  const area = new Float64Array(starts.length);
  const mean = new Float64Array(starts.length);
  for (let k = 0; k < starts.length; k += 1) {
    const from = starts[k];
    let under = 0;
    let sum = 0;
    for (let i = from; i < from + length; i += 1) {
      under += 0.5 * (values[i] + values[i + 1]) * (clock[i + 1] - clock[i]);
      sum += values[i];
    }
    area[k] = clock[from + length] > clock[from] ? under : Number.NaN;
    mean[k] = sum / length;
  }
  return { change: ends(whole, starts, length), area, mean, wrap };
}

/** A value that wraps passes through the middle of its range; one that is switched between two ends does not. */
function passesThrough(values: Float64Array): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const from = low + 0.25 * (high - low);
  const to = high - 0.25 * (high - low);
  let middle = 0;
  const seen = new Set<number>();
  for (const v of values) {
    if (v > from && v < to) {
      middle += 1;
      if (seen.size < 9) seen.add(v);
    }
  }
  return middle > 0.08 * values.length && seen.size > 8;
}
