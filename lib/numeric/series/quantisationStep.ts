import { medianInPlace } from "./median.js";

/** How many differences are looked at where most rows change, and where few do. */
const [most, mostOfFew] = [6000, 20_000] as const;

/** Changes that tell a step as surely as more of them. */
const enough = 2000;

/** Rows looked at in one piece: what holds its value for some rows is seen to change. */
const piece = 50;

/**
 * Size of one step of a quantised signal: the largest step of which practically every difference between neighbours is
 * a whole multiple, within `tolerance` of a step. NaN when the signal is not quantised (or hardly changes).
 *
 * Candidates are the smallest first and second differences that occur (second differences show single steps even when
 * the signal moves by hundreds per sample). Each is refined by a straight line through the differences against their
 * whole multiples, small multiples first, and accepted when 99.5 in 100 differences are whole. The rounding of a text
 * file may be up to `tolerance` of a step.
 *
 * @param values in sample order, in any unit
 * @example
 * quantisationStep(Float64Array.of(0, 0.25, 0.75, 0.5, 0.5, 1)); // => 0.25
 */
export function quantisationStep(values: Float64Array, tolerance = 0.05): number {
  let looked = differencesOf(values, most);
  if (looked.found < enough && values.length > most) looked = differencesOf(values, mostOfFew);
  const { differences, all, found, both, largest } = looked;
  // What double precision cannot resolve at this magnitude is not a step.
  const floor = largest * 2 ** -44;
  const seen = above(differences.subarray(0, found), floor);
  if (seen.length < 3) return Number.NaN;
  const tried: number[] = [];
  for (const seed of seedsOf(above(all.subarray(0, both), floor))) {
    for (const divide of [1, 2, 3]) tried.push(seed / divide);
  }
  tried.sort((a, b) => b - a);
  for (const seed of tried) {
    const step = refine(seen, seed, tolerance);
    if (step !== undefined) return step;
  }
  return Number.NaN;
}

interface Differences {
  /** Sizes of first differences, so many of them above zero; of these and second ones. */
  readonly differences: Float64Array;
  readonly all: Float64Array;
  readonly found: number;
  readonly both: number;
  /** Largest magnitude of the values. */
  readonly largest: number;
}

/** Differences between neighbours over pieces all along the values, some `count` of them. */
function differencesOf(values: Float64Array, count: number): Differences {
  const n = values.length;
  const every = Math.max(piece, Math.floor((n * piece) / count));
  const places = Math.min(n, piece * Math.ceil(n / every)) + 1;
  const differences = new Float64Array(places);
  const all = new Float64Array(2 * places);
  let found = 0;
  let both = 0;
  let largest = 0;
  for (let from = 0; from < n; from += every) {
    const to = Math.min(n, from + piece);
    for (let i = Math.max(1, from); i < to; i += 1) {
      const d = Math.abs(values[i] - values[i - 1]);
      if (d - d !== 0) continue;
      largest = Math.max(largest, Math.abs(values[i]), Math.abs(values[i - 1]));
      if (d > 0) {
        differences[found++] = d;
        all[both++] = d;
      }
      const e = i > 1 ? Math.abs(values[i] - 2 * values[i - 1] + values[i - 2]) : Number.NaN;
      if (e > 0) all[both++] = e;
    }
  }
  return { differences, all, found, both, largest };
}

/** The values above a floor, in their order. */
function above(values: Float64Array, floor: number): Float64Array {
  const kept = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i += 1) if (values[i] > floor) kept[n++] = values[i];
  return kept.subarray(0, n);
}

/** Most seeds. */
const mostSeeds = 12;

/** Cells of the numbers above zero by the leading bits of their double: four an octave, so that the largest of a cell
 * is less than 1.25 times its smallest. */
const cells = { shift: 18, count: 2 ** 13 };
const smallest = new Float64Array(cells.count);
const greatest = new Float64Array(cells.count);
const held = new Int32Array(cells.count);

/**
 * The lowest clusters of the differences, each by its median: a new one begins where the next value in rising order is
 * half as large again. No cell is as wide as that, so that the ends of the cells tell where, and nothing need be
 * sorted.
 */
function seedsOf(values: Float64Array): number[] {
  const bits = new Uint32Array(values.buffer, values.byteOffset, 2 * values.length);
  const high = endianHigh;
  held.fill(0);
  let lowest = cells.count;
  let last = -1;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    const c = bits[2 * i + high] >>> cells.shift;
    if (held[c] === 0) {
      smallest[c] = v;
      greatest[c] = v;
      if (c < lowest) lowest = c;
      if (c > last) last = c;
    } else if (v < smallest[c]) smallest[c] = v;
    else if (v > greatest[c]) greatest[c] = v;
    held[c] += 1;
  }
  const seeds: number[] = [];
  const few = values.length < 50;
  let from = Number.NaN;
  let to = Number.NaN;
  let count = 0;
  const close = (): void => {
    if (count >= 2 || (few && count > 0)) seeds.push(medianBetween(values, from, to, count));
  };
  for (let c = lowest; c <= last; c += 1) {
    if (held[c] === 0) continue;
    if (!(smallest[c] < 1.4 * to)) {
      close();
      [from, count] = [smallest[c], 0];
      // A broad last cluster starts at a multiple that is itself a candidate.
      if (seeds.length >= mostSeeds) return [...seeds, from];
    }
    to = greatest[c];
    count += held[c];
  }
  close();
  return seeds;
}

/** Where the half of a double lies that holds its exponent. */
const endianHigh = new Uint8Array(Uint32Array.of(1).buffer)[0] === 1 ? 1 : 0;

/** Median of the values from one to another, so many of them. */
function medianBetween(values: Float64Array, from: number, to: number, count: number): number {
  const kept = new Float64Array(count);
  let n = 0;
  for (let i = 0; i < values.length; i += 1) if (values[i] >= from && values[i] <= to) kept[n++] = values[i];
  return medianInPlace(kept);
}

function refine(seen: Float64Array, seed: number, tolerance: number): number | undefined {
  let step = seed;
  for (const reach of [6, 40, 250, 1500, 10_000, Number.POSITIVE_INFINITY]) {
    let top = 0;
    let bottom = 0;
    let whole = 0;
    let looked = 0;
    // More misses than all differences together allow: there is no need to look at the rest.
    const mostMisses = 0.005 * seen.length;
    for (let i = 0; i < seen.length; i += 1) {
      const d = seen[i];
      const k = Math.round(d / step);
      if (k > reach) continue;
      looked += 1;
      if (k === 0 || Math.abs(d / step - k) > tolerance) {
        if (looked - whole > mostMisses) return undefined;
        continue;
      }
      whole += 1;
      top += d * k;
      bottom += k * k;
    }
    if (looked === 0) continue;
    if (whole < 0.995 * looked) return undefined;
    step = top / bottom;
  }
  return step;
}
