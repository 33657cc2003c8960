import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { endCorrection } from "./gainIntegral.js";
import { oneRowATread } from "./oneRowATread.js";
import { sampleTimeFromTrial } from "./sampleTimeFromTrial.js";
import { atLimit, type TrialColumns } from "./trialColumns.js";
import { windowedColumns } from "./windowedColumns.js";

/** What a PI law answers to at every row, and the stretches in which one constant of it holds. */
export interface LawColumns {
  readonly columns: TrialColumns;
  /** Whether the rows are means over windows, as where the position alone was logged. */
  readonly windowed: boolean;
  /** Speed error, rad/s, and its integral, rad. */
  readonly error: Float64Array;
  readonly sum: Float64Array;
  /** By how much a sum of trapezoids exceeds the integral. */
  readonly rounded: Float64Array;
  /** Number of the stretch between saturations and gaps that a row is in, -1 at the current limit. */
  readonly stretch: Int32Array;
  readonly stretches: number;
  /** Jumps of the reference up to each row. */
  readonly jumps: Int32Array;
  /** Fraction of the rows at the current limit. */
  readonly saturatedShare: number;
}

/** Takes the columns of a PI law out of those of a trial. */
export function lawColumns(run: Run, trial: Trial, whole: TrialColumns): LawColumns {
  const statedLimit = run.recording.drive.currentLimit;
  const windows = windowedColumns(whole, statedLimit);
  const windowed = windows !== undefined;
  const columns = windows?.columns ?? oneRowATread(whole, sampleTimeFromTrial(run, trial).sampleTime?.value);
  const { time, reference, speed, interval } = columns;
  const n = time.length;
  const limited = windows?.broken ?? atLimit(columns, statedLimit).rows;
  const error = new Float64Array(n);
  for (let k = 0; k < n; k++) error[k] = reference[k] - speed[k];
  const jumps = jumpsOf(reference);
  const sum = new Float64Array(n);
  for (let k = 1; k < n; k++)
    sum[k] = sum[k - 1] + ((error[k] + error[k - 1]) / 2) * Math.min(time[k] - time[k - 1], 4 * interval);
  // A log as fast as the loop holds the loop's own sum; a slower one its integral: the middle of both, whose half
  // difference is in the intervals.
  const rounded = endCorrection(error, time, jumps);
  const smooth = windowed ? 1 : 0.5;
  for (let k = 0; k < n; k++) sum[k] -= smooth * rounded[k];
  return {
    columns,
    windowed,
    error,
    sum,
    rounded,
    ...stretchesInside(columns, limited, windowed ? 0 : 2),
    jumps,
    saturatedShare: limited.reduce((total, v) => total + v, 0) / n,
  };
}

/** Numbers the stretches between rows at the limit, with a margin of rows about those, and gaps of the time. */
function stretchesInside(
  { time, interval }: TrialColumns,
  limited: Uint8Array,
  margin: number,
): { readonly stretch: Int32Array; readonly stretches: number } {
  const n = time.length;
  const stretch = new Int32Array(n).fill(-1);
  let number = -1;
  let inside = false;
  for (let k = 0; k < n; k++) {
    let near = false;
    for (let j = Math.max(0, k - margin); j <= Math.min(n - 1, k + margin); j++) near ||= limited[j] === 1;
    const gap = k > 0 && time[k] - time[k - 1] > 4 * interval;
    if (near) inside = false;
    else {
      if (!inside || gap) number++;
      inside = true;
      stretch[k] = number;
    }
  }
  return { stretch, stretches: number + 1 };
}

/** How often the reference has jumped up to each row, by more than a twentieth of its range. */
function jumpsOf(reference: Float64Array): Int32Array {
  const jumps = new Int32Array(reference.length);
  const range = reference.reduce((most, r) => Math.max(most, Math.abs(r - reference[0])), 0);
  for (let k = 1; k < reference.length; k++)
    jumps[k] = jumps[k - 1] + (Math.abs(reference[k] - reference[k - 1]) > 0.05 * range ? 1 : 0);
  return jumps;
}
