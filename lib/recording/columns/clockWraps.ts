import { median } from "../../numeric/series/median.js";
import { clockSteps } from "./clockSteps.js";

/** A clock whose wraps were carried on. */
export interface CarriedOn {
  readonly time: Float64Array;
  /** Size of one wrap, in the unit of the clock as logged. */
  readonly size: number;
  readonly times: number;
}

/** Sizes of counters: a clock that comes within a few samples of one of these and begins anew at zero has wrapped;
 * chance is out of the question. */
const registers = [2 ** 16, 2 ** 24, 2 ** 31, 2 ** 32, 2 ** 32 / 1e3, 2 ** 32 / 1e6];
/** Parts of a moment: the milliseconds of a second, the seconds of a minute... A run of a round length ends there
 * too. */
const parts = [1e3, 1e6, 1e9, 60, 3600, 86_400, 60e3, 3600e3, 86_400e3, 60e6, 3600e6, 86_400e6];
/** So many wraps show how long a step over one of them is as a rule. */
const manyWraps = 3;
/** A clock of fewer rows from wrap to wrap is carried on only where it is even over every one of them (judgement). */
const rowsOfWrap = 8;
/** A wrap may hide so many samples that were lost. */
const mostLost = 5;

/**
 * Carries on a clock that wraps at the size of a register or of a part of a moment. A clock that begins anew because a
 * new run begins is left as it is: there the values before the step are no round number, or the other columns jump with
 * it.
 *
 * @param time clock, in any unit; NaN where a row has none
 * @param scale size of the clock's own unit in the unit of `time` (0.001 for milliseconds given in seconds)
 * @param others columns beside it, asked for only when the clock alone does not tell
 * @example
 * carryOn(Float64Array.of(65000, 65200, 65400, 64, 264), 1); // time goes on to 65600 and 65800, size 65536
 */
export function carryOn(
  time: Float64Array,
  scale: number,
  others: () => readonly Float64Array[] = () => [],
): CarriedOn | undefined {
  const steps = backSteps(time);
  if (steps.length === 0) return undefined;
  const dt = usualStep(time);
  if (!(dt > 0)) return undefined;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const t of time) {
    if (t < low) low = t;
    if (t > high) high = t;
  }
  for (const [sizes, sure] of [
    [registers, true],
    [parts, false],
  ] as const) {
    for (const size of [...sizes].sort((a, b) => a - b)) {
      const whole = size * scale;
      if (low < 0 || high >= whole * (1 + 1e-9) || high < 0.5 * whole) continue;
      const over = Float64Array.from(steps, ([before, after]) => time[after] - time[before] + whole);
      if (!over.every((step) => fits(step, dt))) continue;
      // What is lost now and then is not lost at every wrap.
      if (over.length >= manyWraps && Math.abs(median(over) - dt) > 0.5 * dt) continue;
      if (dt > whole / rowsOfWrap && !(sure && over.length >= manyWraps && even(over, dt))) continue;
      if (!sure && !goesOn(time, steps, dt, others())) continue;
      return { time: carried(time, whole), size, times: steps.length };
    }
  }
  return undefined;
}

/** Pairs of rows (the last with a time, and the next) between which time steps back. */
export function backSteps(time: Float64Array): [number, number][] {
  const out: [number, number][] = [];
  if (clockSteps(time).least >= 0) return out;
  let last = -1;
  for (let i = 0; i < time.length; i += 1) {
    if (time[i] - time[i] !== 0) continue;
    if (last >= 0 && time[i] < time[last]) out.push([last, i]);
    last = i;
  }
  return out;
}

/** Median of the steps forward. */
export function usualStep(time: Float64Array): number {
  const steps: number[] = [];
  const stride = Math.max(1, Math.floor(time.length / 20_000));
  for (let i = 1; i < time.length; i += stride) {
    const d = time[i] - time[i - 1];
    if (d > 0) steps.push(d);
  }
  return median(Float64Array.from(steps));
}

/** Every step over a wrap is as long as the others, within a part of it that no other size would give. */
function even(over: Float64Array, dt: number): boolean {
  return over.every((step) => Math.abs(step - dt) < 0.05 * dt);
}

function fits(step: number, dt: number): boolean {
  return step > 0 && step <= (mostLost + 1) * dt;
}

/** True when a clock that begins anew at a round size goes on: it first began elsewhere, or the columns beside it run
 * through. */
function goesOn(
  time: Float64Array,
  steps: readonly [number, number][],
  dt: number,
  others: readonly Float64Array[],
): boolean {
  const first = time.find((t) => t - t === 0) ?? 0;
  // A run that began with its clock at zero, like those after it, is a run of its own until the columns say otherwise.
  const anew = steps.every(([, after]) => Math.abs(time[after] - first) < 0.5 * dt);
  const fractions = new Set(steps.map(([, after]) => Math.round((time[after] / dt) * 20)));
  if (!anew && fractions.size > 1 && steps.length > 2) return true;
  const seen = others.map((values) => jumps(values, steps)).filter((j) => j !== undefined);
  if (seen.length === 0) return !anew;
  return seen.every((jump) => !jump);
}

/** True when a column jumps at most of these steps as it hardly ever does elsewhere; undefined when it hardly moves at
 * all. */
function jumps(values: Float64Array, steps: readonly [number, number][]): boolean | undefined {
  const moves: number[] = [];
  for (let i = 1; i < values.length; i += 1) {
    const d = Math.abs(values[i] - values[i - 1]);
    if (d - d === 0) moves.push(d);
  }
  if (moves.length < 20) return undefined;
  moves.sort((a, b) => a - b);
  const usual = moves[Math.floor(0.98 * (moves.length - 1))];
  if (moves[moves.length - 1] === 0) return undefined;
  let large = 0;
  for (const [before, after] of steps) if (Math.abs(values[after] - values[before]) > usual) large += 1;
  return large > steps.length / 3;
}

function carried(time: Float64Array, whole: number): Float64Array {
  const out = new Float64Array(time.length);
  let turns = 0;
  let last = Number.NaN;
  for (let i = 0; i < time.length; i += 1) {
    if (time[i] < last) turns += 1;
    if (time[i] - time[i] === 0) last = time[i];
    out[i] = time[i] + turns * whole;
  }
  return out;
}
