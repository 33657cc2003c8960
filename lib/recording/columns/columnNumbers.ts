import { median, medianInPlace } from "../../numeric/series/median.js";

/** How a column runs from row to row. */
export type Shape = "constant" | "held" | "ramps" | "clean" | "smooth" | "noisy";

/** What the values of one column look like, without its name. */
export interface ColumnNumbers {
  /** Finite values looked at. */
  readonly count: number;
  readonly min: number;
  readonly max: number;
  readonly largest: number;
  /** Only whole numbers. */
  readonly whole: boolean;
  /** Only 0 and 1. */
  readonly binary: boolean;
  /** Number of different values, counted up to 200. */
  readonly distinct: number;
  readonly shape: Shape;
  /** Fraction of the steps between neighbours that go up; 1 for a clock. */
  readonly rising: number;
  /** Fraction of the steps that go down. */
  readonly falling: number;
  /** Fraction of the rises that are about the usual one. */
  readonly even: number;
  /** Usual rise. */
  readonly step: number;
  /** Fraction of neighbours that are equal. */
  readonly still: number;
  /** Value near which the column rests, when it stays near one for long. */
  readonly middle: number;
  /** Noise over range: robust size of the second differences, over the range. */
  readonly roughness: number;
  /** Smallest difference between two values that occur: the last digit written, or a step of the converter. */
  readonly grain: number;
}

/** Room for steps, bends and sizes, used for one column after the other: they are gone once a column was looked at. */
let room = roomOf(4096);

function roomOf(rows: number) {
  return { steps: new Float64Array(rows), bends: new Float64Array(rows), sizes: new Float64Array(rows) };
}

/** Looks at the values of a column, block by block (`edges`: starts of the blocks, and the end). */
export function columnNumbers(values: Float64Array, edges: readonly number[]): ColumnNumbers {
  let count = 0;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let whole = true;
  let binary = true;
  const seen = new Set<number>();
  let latest = Number.NaN;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    count += 1;
    if (v < min) min = v;
    if (v > max) max = v;
    if (whole && !Number.isInteger(v)) whole = false;
    if (binary && v !== 0 && v !== 1) binary = false;
    if (v !== latest && seen.size < 200) seen.add(v);
    latest = v;
  }
  if (count === 0) return empty;
  const range = max - min;
  if (room.steps.length < values.length) room = roomOf(values.length);
  const { steps, bends } = room;
  let n = 0;
  let m = 0;
  let up = 0;
  let down = 0;
  let still = 0;
  let turns = 0;
  let moves = 0;
  let grain = Number.POSITIVE_INFINITY;
  for (let b = 0; b + 1 < edges.length; b += 1) {
    let before = Number.NaN;
    let last = 0;
    // Rows without a value are passed over: a signal that is logged now and then still has its steps.
    let value = values[edges[b]];
    for (let i = edges[b] + 1; i < edges[b + 1]; i += 1) {
      if (values[i] - values[i] !== 0) continue;
      const d = values[i] - value;
      value = values[i];
      if (d - d !== 0) continue;
      steps[n++] = d;
      if (d > 0) up += 1;
      if (d < 0) down += 1;
      if (d === 0) still += 1;
      else {
        moves += 1;
        if (last !== 0 && Math.sign(d) !== last) turns += 1;
        last = Math.sign(d);
        const size = Math.abs(d);
        if (size < grain && size > 1e-9 * Math.max(Math.abs(max), Math.abs(min), range)) grain = size;
      }
      if (before - before === 0) bends[m++] = Math.abs(d - before);
      before = d;
    }
  }
  const step = medianSize(steps, n, false);
  let even = 0;
  for (let i = 0; i < n; i += 1) if (steps[i] > 0 && Math.abs(steps[i] - step) <= 0.5 * step) even += 1;
  const roughness = range > 0 ? medianInPlace(bends.subarray(0, m)) / range : 0;
  return {
    count,
    min,
    max,
    largest: Math.max(Math.abs(min), Math.abs(max)),
    whole,
    binary: binary && range > 0,
    distinct: seen.size,
    shape: shapeOf({
      binary,
      range,
      n,
      still,
      moves,
      turns,
      bends: bends.subarray(0, m),
      grain,
      steps: steps.subarray(0, n),
    }),
    rising: n === 0 ? 0 : up / n,
    falling: n === 0 ? 0 : down / n,
    even: up === 0 ? 0 : even / up,
    step: Number.isNaN(step) ? 0 : step,
    still: n === 0 ? 0 : still / n,
    middle: median(values),
    roughness,
    grain: Number.isFinite(grain) ? grain : 0,
  };
}

const empty: ColumnNumbers = {
  count: 0,
  min: 0,
  max: 0,
  largest: 0,
  whole: false,
  binary: false,
  distinct: 0,
  shape: "constant",
  rising: 0,
  falling: 0,
  even: 0,
  step: 0,
  still: 0,
  middle: 0,
  roughness: 0,
  grain: 0,
};

interface Steps {
  readonly binary: boolean;
  readonly range: number;
  readonly n: number;
  readonly still: number;
  readonly moves: number;
  readonly turns: number;
  readonly bends: Float64Array;
  readonly steps: Float64Array;
  readonly grain: number;
}

/**
 * A command is held and stepped, or runs in ramps and curves without noise; a measurement is noisy, or moves by a few
 * steps of a converter all the time. Held: hardly any row changes, and those that do change by much. Ramps: second
 * differences within the last digit. Clean: a curve whose third differences are within the last digits, though it moves
 * by many of them in a row.
 */
function shapeOf({ binary, range, n, still, moves, turns, bends, steps, grain }: Steps): Shape {
  if (!(range > 0) || n === 0) return "constant";
  if (moves <= 0.12 * n) {
    // What leaves its value by a last digit for a single row is measured; a pulse is not.
    if (!binary && range <= 2.5 * grain && moves <= 2.5 * blips(steps)) return "smooth";
    const jump = medianSize(steps, n, true);
    return jump > 0.04 * range || moves <= 4 ? "held" : still > 0.97 * n ? "held" : "smooth";
  }
  const usual = medianSize(steps, n, true);
  // Straight within the last digit tells something only where a step is many of them: a coarse converter is as
  // straight.
  const digit = usual > 15 * grain ? 1.05 * grain : 0.01 * grain;
  const straight = digit + 1e-9 * range;
  let within = 0;
  for (let i = 0; i < bends.length; i += 1) if (bends[i] <= straight) within += 1;
  if (within > 0.93 * bends.length) return "ramps";
  if (usual > 8 * grain && moves > 0.7 * n && cleanCurve(bends, steps, grain)) return "clean";
  if (moves > 20 && turns > 0.3 * moves && turns > 0.12 * n) return "noisy";
  return "smooth";
}

/** Median size of the first `n` steps that are not zero, or of those that go up alone. */
function medianSize(steps: Float64Array, n: number, both: boolean): number {
  const { sizes } = room;
  let k = 0;
  for (let i = 0; i < n; i += 1) {
    const d = steps[i];
    if (d > 0) sizes[k++] = d;
    else if (both && d < 0) sizes[k++] = -d;
  }
  return medianInPlace(sizes.subarray(0, k));
}

/** Steps that the next row takes back. */
function blips(steps: Float64Array): number {
  let count = 0;
  for (let i = 0; i + 1 < steps.length; i += 1) if (steps[i] !== 0 && steps[i + 1] === -steps[i]) count += 1;
  return count;
}

/** Third differences of noise are larger than its second ones; those of a curve that was computed are nothing but the
 * rounding of the last digit. */
function cleanCurve(bends: Float64Array, steps: Float64Array, grain: number): boolean {
  const n = steps.length;
  if (n <= 22) return false;
  const third = room.sizes.subarray(0, n - 2);
  for (let i = 0; i < n - 2; i += 1) third[i] = Math.abs(steps[i + 2] - 2 * steps[i + 1] + steps[i]);
  if (medianInPlace(third) > 3 * grain) return false;
  const sizes = room.sizes.subarray(0, n);
  for (let i = 0; i < n; i += 1) sizes[i] = Math.abs(steps[i]);
  return medianInPlace(bends) <= 0.3 * medianInPlace(sizes);
}
