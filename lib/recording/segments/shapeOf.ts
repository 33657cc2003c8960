import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import type { TrialShape } from "../types.js";

/** At most this many samples are looked at: a shape shows in fewer. */
const most = 4000;

/**
 * Shape of a command over time. A command that is held and stepped is a `step` (at most two sizes of level), a
 * `staircase` (three levels or more, for the most part in one direction) or `prbs` (many switches between levels in no
 * order); one that moves all the time is a `sine`, a `chirp`, a
 * `ramp` (straight pieces) or a `profile`.
 *
 * @param values the command of one trial, in sample order
 * @example
 * shapeOf(Float64Array.from({ length: 200 }, (_, i) => Math.sin(0.2 * i))); // => "sine"
 */
export function shapeOf(values: Float64Array): TrialShape {
  const data = thinOut(values);
  const n = data.length;
  if (n < 4) return "constant";
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of data) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const range = high - low;
  const size = Math.max(Math.abs(low), Math.abs(high));
  if (!(range > 1e-9 * size)) return "constant";
  const noise = noiseLevel(data);
  if (!(range > 8 * noise)) return "constant";
  return heldShape(data, range, noise) ?? movingShape(data, low, high, noise);
}

function thinOut(values: Float64Array): Float64Array {
  const stride = Math.max(1, Math.floor(values.length / most));
  const out = new Float64Array(Math.ceil(values.length / stride));
  let kept = 0;
  for (let i = 0; i < values.length; i += stride) if (values[i] - values[i] === 0) out[kept++] = values[i];
  return out.subarray(0, kept);
}

/** A run of values on one level. */
interface Run {
  readonly value: number;
  readonly length: number;
}

/** Runs of values that stay within `near` of their first three's median. */
function runsOf(data: Float64Array, near: number): Run[] {
  const runs: Run[] = [];
  let from = 0;
  let sum = 0;
  for (let i = 0; i <= data.length; i += 1) {
    const mean = i > from ? sum / (i - from) : 0;
    if (i < data.length && (i === from || Math.abs(data[i] - mean) <= near)) {
      sum += data[i];
      continue;
    }
    runs.push({ value: mean, length: i - from });
    from = i;
    sum = data[i] ?? 0;
  }
  return runs;
}

function sumOf(data: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < data.length; i += 1) sum += data[i];
  return sum;
}

/** The runs of three samples and more leave less than a tenth of the variance: spikes on a level are no steps. */
function explainedBy(data: Float64Array, runs: readonly Run[]): boolean {
  const mean = sumOf(data) / data.length;
  let left = 0;
  let all = 0;
  let at = 0;
  for (const run of runs) {
    for (let i = at; i < at + run.length; i += 1) {
      const away = data[i] - (run.length >= 3 ? run.value : mean);
      const off = data[i] - mean;
      left += away * away;
      all += off * off;
    }
    at += run.length;
  }
  return left < 0.1 * all;
}

/** Shape of a command that is on levels for most of the time; undefined when it is not. */
function heldShape(data: Float64Array, range: number, noise: number): TrialShape | undefined {
  const near = Math.max(0.008 * range, 4 * noise);
  const runs = runsOf(data, near);
  const long = runs.filter((run) => run.length >= 3);
  const covered = long.reduce((sum, run) => sum + run.length, 0) / data.length;
  // Between levels a command jumps: a ramp goes from run to run in steps hardly larger than what makes a run.
  let path = 0;
  let jumped = 0;
  for (let k = 1; k < runs.length; k += 1) {
    const d = Math.abs(runs[k].value - runs[k - 1].value);
    path += d;
    if (d > 0.03 * range && d > 2.5 * near) jumped += d;
  }
  if (covered < 0.6 || !(jumped > 0.7 * path) || !explainedBy(data, runs)) return undefined;
  const apart = Math.max(0.03 * range, 2 * near);
  const levels = long.filter((run, k) => k === 0 || Math.abs(run.value - long[k - 1].value) > apart);
  const values = levels.map((run) => run.value);
  const magnitudes = distinct(values.map(Math.abs), apart).filter((v) => v > apart);
  const changes = levels.length - 1;
  const irregular = changes >= 10 && lengthsDiffer(levels.map((run) => run.length));
  const sizes = distinct(values, apart);
  if (sizes.length === 2) return irregular ? "prbs" : "step";
  if (changes >= 10 && disordered(values)) return "prbs";
  return magnitudes.length >= 3 ? "staircase" : "step";
}

/** Values further apart than `apart`, one of each. */
function distinct(values: readonly number[], apart: number): number[] {
  const sorted = [...values].sort((a, b) => a - b);
  const out: number[] = [];
  for (const v of sorted) if (out.length === 0 || v - out[out.length - 1] > apart) out.push(v);
  return out;
}

/** Levels of a staircase go on in one direction for several treads; random ones turn back at every second. */
function disordered(levels: readonly number[]): boolean {
  let turns = 0;
  for (let i = 2; i < levels.length; i += 1)
    if ((levels[i] - levels[i - 1]) * (levels[i - 1] - levels[i - 2]) < 0) turns += 1;
  const through = levels.filter((v) => v === 0).length / levels.length;
  return turns > 0.5 * (levels.length - 2) && turns < 0.9 * (levels.length - 2) && through < 0.3;
}

function lengthsDiffer(lengths: readonly number[]): boolean {
  const inner = lengths.slice(1, -1);
  const mean = inner.reduce((a, b) => a + b, 0) / inner.length;
  const variance = inner.reduce((a, b) => a + (b - mean) ** 2, 0) / inner.length;
  return Math.sqrt(variance) > 0.35 * mean;
}

function movingShape(data: Float64Array, low: number, high: number, noise: number): TrialShape {
  const centre = (low + high) / 2;
  const dead = Math.max(0.1 * (high - low), 3 * noise);
  const crossings: number[] = [];
  let side = 0;
  for (let i = 0; i < data.length; i += 1) {
    const now = data[i] > centre + dead ? 1 : data[i] < centre - dead ? -1 : 0;
    if (now !== 0 && now !== side) {
      if (side !== 0) crossings.push(i);
      side = now;
    }
  }
  const gaps = crossings.slice(1).map((at, i) => at - crossings[i]);
  if (gaps.length >= 4 && evenPeaks(data, centre, crossings)) {
    const mean = gaps.reduce((a, b) => a + b, 0) / gaps.length;
    const spread = Math.sqrt(gaps.reduce((a, b) => a + (b - mean) ** 2, 0) / gaps.length);
    if (spread < Math.max(0.12 * mean, 1)) return "sine";
    const third = Math.ceil(gaps.length / 3);
    const part = (from: number): number => {
      const some = gaps.slice(from, from + third);
      return some.reduce((a, b) => a + b, 0) / some.length;
    };
    const [first, middle, last] = [
      part(0),
      part(Math.floor((gaps.length - third) / 2)),
      part(gaps.length - third),
    ];
    const onward = (first - middle) * (middle - last) > 0;
    if (onward && Math.max(first / last, last / first) > 1.8) return "chirp";
  }
  return straight(data, high - low, noise) ? "ramp" : isSine(data) ? "sine" : "profile";
}

/** The half waves between crossings are of one height: a loop that rings or a joint that swings has some high and some
 * low. */
function evenPeaks(data: Float64Array, middle: number, crossings: readonly number[]): boolean {
  const peaks: number[] = [];
  for (let k = 1; k < crossings.length; k += 1) {
    let peak = 0;
    for (let i = crossings[k - 1]; i < crossings[k]; i += 1)
      peak = Math.max(peak, Math.abs(data[i] - middle));
    peaks.push(peak);
  }
  const mean = peaks.reduce((a, b) => a + b, 0) / peaks.length;
  const spread = Math.sqrt(peaks.reduce((a, b) => a + (b - mean) ** 2, 0) / peaks.length);
  return spread < 0.2 * mean;
}

/** Straight pieces: the slope hardly changes but at a few corners. */
function straight(data: Float64Array, range: number, noise: number): boolean {
  const width = Math.max(1, Math.floor(data.length / 100));
  const slopes: number[] = [];
  for (let i = width; i < data.length; i += width) slopes.push((data[i] - data[i - width]) / range);
  const near = Math.max(0.002, (6 * noise) / range);
  let corners = 0;
  for (let i = 1; i < slopes.length; i += 1) if (Math.abs(slopes[i] - slopes[i - 1]) > near) corners += 1;
  return corners <= Math.max(8, 0.2 * slopes.length);
}

/** One sine of fewer than two periods explains nearly all of it. */
function isSine(data: Float64Array): boolean {
  const n = data.length;
  const mean = sumOf(data) / n;
  let all = 0;
  for (const v of data) all += (v - mean) ** 2;
  for (let periods = 0.8; periods <= 4; periods += 0.1) {
    let cc = 0;
    let ss = 0;
    let cs = 0;
    let cy = 0;
    let sy = 0;
    for (let i = 0; i < n; i += 1) {
      const c = Math.cos((2 * Math.PI * periods * i) / n);
      const s = Math.sin((2 * Math.PI * periods * i) / n);
      cc += c * c;
      ss += s * s;
      cs += c * s;
      cy += c * (data[i] - mean);
      sy += s * (data[i] - mean);
    }
    const det = cc * ss - cs * cs;
    if (det === 0) continue;
    const a = (cy * ss - sy * cs) / det;
    const b = (sy * cc - cy * cs) / det;
    if (a * cy + b * sy > 0.99 * all) return true;
  }
  return false;
}
