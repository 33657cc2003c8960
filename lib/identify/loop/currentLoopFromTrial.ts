import { largest } from "../../numeric/series/largest.js";
import { upperMedian } from "../../numeric/series/median.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";

/**
 * Bandwidth of the closed current loop from the log: first-order regression of the measured current's change from row
 * to row on its distance from the command, i[k+1] - i[k] = (1 - exp(-wc*T))*(u[k] - i[k]). Only a log that resolves the
 * current's rise (several rows in it) shows it.
 *
 * @returns `undefined` where current and command were not both logged, hardly differ, or settle within one row
 * @example
 * currentLoopFromTrial(run, trials[0])?.value; // => 2098.3 (rad/s)
 */
export function currentLoopFromTrial(run: Run, trial: Trial): Estimate | undefined {
  const currentCommand = run.channel("currentCommand")?.values;
  const current = run.channel("current")?.values;
  if (!currentCommand || !current) return undefined;
  const { from, to } = trial;
  const { away, change, intervals } = rowsAfterSteps(
    run.time.subarray(from, to),
    currentCommand.subarray(from, to),
    current.subarray(from, to),
  );
  const n = away.length;
  let xx = 0;
  let xy = 0;
  for (let k = 0; k < n; k += 1) {
    xx += away[k] ** 2;
    xy += away[k] * change[k];
  }
  if (n < 4 || !(xx > 0)) return undefined;
  const share = xy / xx;
  const dt = upperMedian(intervals);
  // Above 0.95 the loop settles within a row: the log does not resolve it.
  if (!(share > 0.02 && share < 0.95)) return undefined;
  let squares = 0;
  for (let k = 0; k < n; k += 1) squares += (change[k] - share * away[k]) ** 2;
  const error = Math.sqrt(squares / Math.max(1, n - 1) / xx);
  const bandwidth = (a: number): number => -Math.log(1 - Math.min(Math.max(a, 1e-6), 0.999)) / dt;
  // The command may have acted up to a row later than it was logged.
  return {
    value: bandwidth(share),
    low: bandwidth(share - 2.2 * error),
    high: bandwidth(share + 2.2 * error),
    unit: "rad/s",
    method: `first-order regression of the current on its command, ${n} rows after steps`,
    level: 0.95,
    samples: n,
    channels: ["currentCommand", "current"],
  };
}

/** Distance from the command and change to the next row, with the time to it, of the rows just after the command moved:
 * where the voltage runs out the current stays away from its command. */
function rowsAfterSteps(
  time: Float64Array,
  command: Float64Array,
  current: Float64Array,
): {
  readonly away: readonly number[];
  readonly change: readonly number[];
  readonly intervals: readonly number[];
} {
  const limit = 0.05 * largest(command);
  const away: number[] = [];
  const change: number[] = [];
  const intervals: number[] = [];
  for (let k = 1; k + 1 < time.length; k += 1) {
    const u = command[k];
    const moved = Math.abs(u - command[k - 1]) > limit;
    if (!moved && !(k > 1 && Math.abs(u - command[k - 2]) > limit)) continue;
    const left = u - current[k];
    const next = current[k + 1] - current[k];
    const dt = time[k + 1] - time[k];
    if (next - next !== 0 || left - left !== 0 || !(dt > 0) || Math.abs(left) < limit) continue;
    away.push(left);
    change.push(next);
    intervals.push(dt);
  }
  return { away, change, intervals };
}
