import { solve } from "./gainRegression.js";
import { type FilteredLaw, lawBehindFilter } from "./loopFilter.js";
import type { TrialColumns } from "./trialColumns.js";

/**
 * By how much the sum of trapezoids exceeds the integral of the error up to each row, less a constant between jumps of
 * the reference: interval^2/12 of the slope (Gregory's first end correction; the first term of Euler and Maclaurin).
 */
export function endCorrection(error: Float64Array, time: Float64Array, jumps: Int32Array): Float64Array {
  const n = error.length;
  const out = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const from = k > 0 && jumps[k - 1] === jumps[k] ? k - 1 : k;
    const to = k + 1 < n && jumps[k + 1] === jumps[k] ? k + 1 : k;
    if (to > from)
      out[k] = (((time[to] - time[from]) / (to - from)) * (error[to] - error[from])) / (to - from) / 12;
  }
  return out;
}

/** What half the end correction moves either gain by. */
export function sumError(
  { shifted, x, y, groups }: FilteredLaw,
  rounded: Float64Array,
): readonly [number, number] {
  const half = shifted(rounded);
  const moved = [-1, 1].map((sense) =>
    solve(y, [x[0], x[1].map((v, k) => v + (sense * half[k]) / 2)], groups),
  );
  const [low, high] = moved;
  if (low === undefined || high === undefined) return [0, 0];
  const by = (j: number): number => Math.abs(high.values[j] - low.values[j]) / 2;
  return [by(0), by(1)];
}

/** How far angle and integrated speed may differ over a trial before the one is not the other's integral. */
const sameMotion = 0.01;

/**
 * The integral gain where the shaft's angle was logged beside its speed: the angle holds what the speed did between the
 * rows. A filter on the speed shifts that integral by its time constant times the speed, which kp takes up and ki does
 * not. Undefined where there is no angle, or where the integrated speed explains the command better.
 */
export function integralByAngle(
  best: FilteredLaw,
  columns: TrialColumns,
  ownSpeed: boolean,
): FilteredLaw["held"] | undefined {
  const { turned, time, reference, speed, interval } = columns;
  if (turned === undefined) return undefined;
  const byAngle = new Float64Array(time.length);
  let along = 0;
  let square = 0;
  for (let k = 1; k < time.length; k++) {
    const step = Math.min(time[k] - time[k - 1], 4 * interval);
    const turn = turned[k] - turned[k - 1];
    const summed = ((speed[k] + speed[k - 1]) / 2) * step;
    byAngle[k] = byAngle[k - 1] + ((reference[k] + reference[k - 1]) / 2) * step - turn;
    along += turn * Math.sign(summed);
    square += Math.abs(summed);
  }
  if (!(Math.abs(along / square - 1) < sameMotion)) return undefined;
  const { shifted, groups, y, x, lag } = best;
  const columnsBy = [x[0], shifted(byAngle)];
  const solved = solve(y, columnsBy, groups);
  if (solved === undefined || !(solved.squares < best.solved.squares)) return undefined;
  return lawBehindFilter({ ...best, solved, x: columnsBy, lag }, columns, byAngle, ownSpeed).held;
}
