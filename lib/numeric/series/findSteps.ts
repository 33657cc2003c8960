import { largest } from "./largest.js";
import { median } from "./median.js";
import { noiseLevel } from "./noiseLevel.js";

/** A change from one level to another. */
export interface FoundStep {
  /** Index of the first sample after the change began. */
  readonly at: number;
  /** Index of the first sample on the new level (equal to `at` for a step, later for a ramp). */
  readonly settled: number;
  readonly from: number;
  readonly to: number;
}

/** A stretch on one level, samples `from <= i < to`. */
export interface Level {
  readonly from: number;
  readonly to: number;
  readonly value: number;
}

/** What `findSteps` returns. */
export interface Steps {
  readonly steps: readonly FoundStep[];
  readonly levels: readonly Level[];
  /** Noise that was measured (standard deviation) and the smallest change told from it at the shortest level. */
  readonly noise: number;
  readonly smallest: number;
}

/** What counts as a step; everything is found from the data when absent. */
export interface FindStepsOptions {
  /** Standard deviation of the noise when it is known; measured when absent. */
  readonly noise?: number;
  /** Fewest samples of a level. 4 when absent. */
  readonly shortest?: number;
  /** Changes smaller than this are not steps, whatever the noise. */
  readonly smallest?: number;
  /** Samples from which on the tread of a stair is a level of its own and no part of a ramp; without end when
   * absent. */
  readonly longestTread?: number;
}

/**
 * Finds the levels of a signal that is held and stepped, and the steps between them.
 *
 * A signal that is exactly held (a logged command: more than nine in ten neighbours are equal) is cut into its runs of
 * equal values; short runs between longer ones are one ramp. Any other signal is cut by top-down segmentation: a
 * stretch is split where the two means differ most, as long as the difference exceeds its own standard deviation by
 * more than sqrt(2 ln n), the size noise alone reaches somewhere in n samples (Donoho and Johnstone, Biometrika 81,
 * 1994, the universal threshold), plus 3. The noise is measured, both from neighbours and from block means, so that
 * slow noise counts too.
 *
 * @example
 * findSteps(Float64Array.of(0, 0, 0, 0, 2, 2, 2, 2)).steps; // => [{ at: 4, settled: 4, from: 0, to: 2 }]
 */
export function findSteps(values: Float64Array, options: FindStepsOptions = {}): Steps {
  const n = values.length;
  const shortest = Math.max(2, options.shortest ?? 4);
  if (n < 2 * shortest) return { steps: [], levels: [], noise: 0, smallest: 0 };
  let equal = 0;
  let pairs = 0;
  for (let i = 1; i < n; i += 1) {
    const d = values[i] - values[i - 1];
    if (d === 0) equal += 1;
    if (d - d === 0) pairs += 1;
  }
  if (options.noise === undefined && equal > 0.9 * pairs && pairs > 0.5 * n) {
    const held = heldLevels(values, shortest, options.smallest ?? 0, options.longestTread ?? Infinity);
    if (held !== undefined) return held;
  }
  return noisyLevels(values, shortest, options);
}

/** Levels of an exactly held signal; undefined when it flickers between neighbouring values, as a quantised measurement
 * does. */
function heldLevels(
  values: Float64Array,
  shortest: number,
  smallest: number,
  longestTread: number,
): Steps | undefined {
  const n = values.length;
  const runs: { from: number; to: number; value: number }[] = [];
  let start = 0;
  let back = 0;
  for (let i = 1; i <= n; i += 1) {
    if (i < n && (values[i] === values[start] || Number.isNaN(values[i]))) continue;
    const value = values[start];
    if (!Number.isNaN(value)) {
      if (runs.length > 1 && runs[runs.length - 2].value === value) back += 1;
      runs.push({ from: start, to: i, value });
    }
    start = i;
  }
  // A command returns to its last value now and then (pulses); a flickering last digit does so all the time.
  if (runs.length > 20 && back > 0.5 * runs.length) return undefined;
  let largest = 0;
  for (const run of runs) largest = Math.max(largest, Math.abs(run.value));
  const tolerance = Math.max(smallest, largest * 1e-9);
  const levels: Level[] = [];
  const stairs = markStairs(runs);
  for (let k = 0; k < runs.length; k += 1) {
    const run = runs[k];
    if (run.to - run.from < shortest || (stairs[k] && run.to - run.from < longestTread)) continue;
    const last = levels.at(-1);
    if (last !== undefined && Math.abs(last.value - run.value) <= tolerance) {
      levels[levels.length - 1] = { from: last.from, to: run.to, value: last.value };
    } else levels.push(run);
  }
  return { steps: stepsBetween(levels), levels, noise: 0, smallest: tolerance };
}

/** Marks runs that are the treads of a stair: at least four in a row of one direction, of like height and like
 * length. */
function markStairs(runs: readonly { from: number; to: number; value: number }[]): boolean[] {
  const marks = new Array<boolean>(runs.length).fill(false);
  let k = 1;
  while (k < runs.length - 1) {
    let end = k;
    const rise = runs[k].value - runs[k - 1].value;
    const tread = runs[k].to - runs[k].from;
    while (end < runs.length - 1) {
      const nextRise = runs[end + 1].value - runs[end].value;
      const length = runs[end].to - runs[end].from;
      if (
        nextRise * rise <= 0 ||
        Math.abs(nextRise) > 3 * Math.abs(rise) ||
        Math.abs(nextRise) * 3 < Math.abs(rise)
      )
        break;
      if (length > 3 * tread || length * 3 < tread) break;
      end += 1;
    }
    if (end - k >= 4) for (let i = k; i < end; i += 1) marks[i] = true;
    k = Math.max(end, k + 1);
  }
  return marks;
}

function stepsBetween(levels: readonly Level[]): FoundStep[] {
  const steps: FoundStep[] = [];
  for (let k = 1; k < levels.length; k += 1) {
    steps.push({
      at: levels[k - 1].to,
      settled: levels[k].from,
      from: levels[k - 1].value,
      to: levels[k].value,
    });
  }
  return steps;
}

function noisyLevels(values: Float64Array, shortest: number, options: FindStepsOptions): Steps {
  const n = values.length;
  const sum = new Float64Array(n + 1);
  const count = new Float64Array(n + 1);
  const origin = median(values);
  for (let i = 0; i < n; i += 1) {
    const v = values[i] - origin;
    const good = v - v === 0;
    sum[i + 1] = sum[i] + (good ? v : 0);
    count[i + 1] = count[i] + (good ? 1 : 0);
  }
  const noise = options.noise ?? Math.max(noiseLevel(values), blockNoise(sum, count, n, shortest));
  const limit = 3 + Math.sqrt(2 * Math.log(n));
  // What the rounding of sums leaves is no step, and no level beside zero.
  const grain = 1e-9 * largest(values);
  const floor = Math.max(options.smallest ?? 0, grain);
  const cuts: number[] = [];
  const work: [number, number][] = [[0, n]];
  while (work.length > 0) {
    const [from, to] = work.pop() as [number, number];
    let best = -1;
    let most = 0;
    for (let i = from + shortest; i <= to - shortest; i += 1) {
      const a = count[i] - count[from];
      const b = count[to] - count[i];
      if (a < 1 || b < 1) continue;
      const d = Math.abs((sum[to] - sum[i]) / b - (sum[i] - sum[from]) / a) * Math.sqrt((a * b) / (a + b));
      if (d > most) {
        most = d;
        best = i;
      }
    }
    if (best < 0 || most <= limit * noise || most <= 0) continue;
    cuts.push(best);
    work.push([from, best], [best, to]);
  }
  cuts.sort((a, b) => a - b);
  let levels: Level[] = [];
  const edges = [0, ...cuts, n];
  for (let k = 1; k < edges.length; k += 1) {
    const c = count[edges[k]] - count[edges[k - 1]];
    if (c === 0) continue;
    const value = origin + (sum[edges[k]] - sum[edges[k - 1]]) / c;
    levels.push({ from: edges[k - 1], to: edges[k], value: Math.abs(value) < grain ? 0 : value });
  }
  // Neighbouring levels closer than the floor are one.
  const merged: Level[] = [];
  for (const level of levels) {
    const last = merged.at(-1);
    if (last !== undefined && Math.abs(last.value - level.value) < floor) {
      const a = last.to - last.from;
      const b = level.to - level.from;
      merged[merged.length - 1] = {
        from: last.from,
        to: level.to,
        value: (last.value * a + level.value * b) / (a + b),
      };
    } else merged.push(level);
  }
  levels = merged;
  return { steps: stepsBetween(levels), levels, noise, smallest: (limit * noise) / Math.sqrt(shortest / 2) };
}

/** Noise as block means show it, scaled back to one sample: larger than the neighbour noise when the noise is slow. */
function blockNoise(sum: Float64Array, count: Float64Array, n: number, shortest: number): number {
  const block = Math.max(shortest, Math.floor(n / 400));
  const means: number[] = [];
  for (let i = 0; i + block <= n; i += block) {
    const c = count[i + block] - count[i];
    if (c > 0) means.push((sum[i + block] - sum[i]) / c);
  }
  if (means.length < 8) return 0;
  return noiseLevel(Float64Array.from(means)) * Math.sqrt(block);
}
