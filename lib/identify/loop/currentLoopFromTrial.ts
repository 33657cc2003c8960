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
  let xx = 0;
  let xy = 0;
  let n = 0;
  const pairs: [number, number][] = [];
  const intervals: number[] = [];
  let largest = 0;
  for (let k = trial.from; k < trial.to; k++) {
    const u = Math.abs(currentCommand[k]);
    if (u > largest) largest = u;
  }
  for (let k = trial.from; k + 1 < Math.min(trial.to, run.time.length); k++) {
    const [u, i, next] = [currentCommand[k], current[k], current[k + 1]];
    const dt = run.time[k + 1] - run.time[k];
    if (!Number.isFinite(u) || !Number.isFinite(i) || !Number.isFinite(next) || !(dt > 0)) continue;
    // Where the voltage runs out the current stays away from its command: only rows just after the command moved count.
    const moved = k > trial.from && Math.abs(u - currentCommand[k - 1]) > 0.05 * largest;
    const recent = k > trial.from + 1 && Math.abs(u - currentCommand[k - 2]) > 0.05 * largest;
    if (!moved && !recent) continue;
    if (Math.abs(u - i) < 0.05 * largest) continue;
    pairs.push([u - i, next - i]);
    intervals.push(dt);
    xx += (u - i) ** 2;
    xy += (u - i) * (next - i);
    n++;
  }
  if (n < 4 || !(xx > 0)) return undefined;
  const share = xy / xx;
  const dt = upperMedian(intervals);
  // Above 0.95 the loop settles within a row: the log does not resolve it.
  if (!(share > 0.02 && share < 0.95)) return undefined;
  const squares = pairs.reduce((s, [x, y]) => s + (y - share * x) ** 2, 0);
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
