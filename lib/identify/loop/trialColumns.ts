import { upperMedian } from "../../numeric/series/median.js";
import { pick } from "../../numeric/series/pick.js";
import { stepsOf } from "../../numeric/series/stepsOf.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";

/** The columns of a closed-loop trial that the loop room reads, rows with a gap left out. SI. */
export interface TrialColumns {
  readonly time: Float64Array;
  /** Speed reference, rad/s. */
  readonly reference: Float64Array;
  readonly speed: Float64Array;
  /** Shaft angle, rad, where no speed was logged. */
  readonly angle?: Float64Array;
  /** Shaft angle, rad, where it was logged beside a speed: the integral of that speed, up to its filter. */
  readonly turned?: Float64Array;
  /** Current command, A. */
  readonly command: Float64Array;
  /** Measured current, A; the command where none was logged. */
  readonly current: Float64Array;
  /** Median time between rows, s. */
  readonly interval: number;
}

/** What a recording lacks to show its speed loop at work; empty when nothing. */
export function missingColumns(run: Run): string[] {
  return (["speedCommand", "speed", "currentCommand"] as const).filter(
    (role) => run.channel(role) === undefined && !(role === "speed" && run.shaft !== undefined),
  );
}

/** The columns of a trial, or `undefined` when a needed one was not logged or fewer than 16 whole rows are left. */
export function trialColumns(run: Run, trial: Trial): TrialColumns | undefined {
  return run.once(`loop columns ${trial.from} ${trial.to}`, () => gather(run, trial));
}

function gather(run: Run, trial: Trial): TrialColumns | undefined {
  const speedCommand = run.channel("speedCommand")?.values;
  const logged = run.channel("speed")?.values;
  const speed = logged ?? run.shaft?.speed;
  const angle = logged === undefined ? run.shaft?.angle : undefined;
  const turned = logged === undefined || run.channel("position") === undefined ? undefined : run.shaft?.angle;
  const currentCommand = run.channel("currentCommand")?.values;
  const current = run.channel("current")?.values;
  if (!speedCommand || !speed || !currentCommand) return undefined;
  const from = Math.max(0, trial.from);
  const to = Math.min(trial.to, run.time.length);
  const needed = [speedCommand, speed, ...(angle === undefined ? [] : [angle]), currentCommand];
  const rows = wholeRows(run.time, needed, from, to);
  if (rows.length < 16) return undefined;
  const column = (data: Float64Array): Float64Array => pick(data, rows);
  const time = column(run.time);
  const command = column(currentCommand);
  const way = turned && column(turned);
  return {
    time,
    reference: column(speedCommand),
    speed: column(speed),
    ...(angle ? { angle: column(angle) } : {}),
    ...(way && allFinite(way) ? { turned: way } : {}),
    command,
    current: current ? orElse(column(current), command) : command,
    interval: upperMedian(stepsOf(time)),
  };
}

/** Rows from one to another at which time goes on and every one of some columns has a value. */
function wholeRows(
  time: Float64Array,
  columns: readonly Float64Array[],
  from: number,
  to: number,
): Int32Array {
  const rows = new Int32Array(Math.max(0, to - from));
  let count = 0;
  let last = Number.NEGATIVE_INFINITY;
  for (let k = from; k < to; k++) {
    const t = time[k];
    if (!(t > last) || t - t !== 0) continue;
    let whole = true;
    for (let c = 0; c < columns.length && whole; c += 1) whole = columns[c][k] - columns[c][k] === 0;
    if (!whole) continue;
    rows[count++] = k;
    last = t;
  }
  return rows.subarray(0, count);
}

function allFinite(values: Float64Array): boolean {
  for (let k = 0; k < values.length; k += 1) if (values[k] - values[k] !== 0) return false;
  return true;
}

/** The values, and those of another column where one is missing. */
function orElse(values: Float64Array, other: Float64Array): Float64Array {
  for (let k = 0; k < values.length; k += 1) if (values[k] - values[k] !== 0) values[k] = other[k];
  return values;
}

/** Rows at which the command stands at the current limit: the stated one, or the largest value where the command dwells
 * on it. */
export function atLimit(
  columns: TrialColumns,
  statedLimit?: number,
): { readonly rows: Uint8Array; readonly limit?: number } {
  const { command } = columns;
  const rows = new Uint8Array(command.length);
  let largest = 0;
  for (const u of command) largest = Math.max(largest, Math.abs(u));
  let limit =
    statedLimit !== undefined && largest >= 0.98 * statedLimit ? Math.min(statedLimit, largest) : undefined;
  if (limit === undefined && statedLimit === undefined && largest > 0) {
    let run = 0;
    let longest = 0;
    for (const u of command) {
      run = Math.abs(u) >= 0.999 * largest ? run + 1 : 0;
      longest = Math.max(longest, run);
    }
    if (longest >= 4) limit = largest;
  }
  if (limit === undefined) return { rows };
  for (let k = 0; k < command.length; k++) if (Math.abs(command[k]) >= 0.995 * limit) rows[k] = 1;
  return { rows, limit };
}
