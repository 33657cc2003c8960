import { quantisationStep } from "../../numeric/series/quantisationStep.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";

/** Sample time of the speed loop as the log shows it, or the most it can be. */
export interface SampleTimeSeen {
  /** s; absent when the log is not fast enough to show it. */
  readonly sampleTime?: Estimate;
  /** The command moves from row to row: the loop runs at least this often, s. */
  readonly atMost?: number;
}

/**
 * Sample time of the speed loop from its current command, which stands still between two runs of the loop. A log faster
 * than the loop shows stairs, whose tread is the sample time; a log that is not shows a new value in every row, and
 * then its own interval is the most the sample time can be.
 *
 * Only rows inside the current limit count, in which the command moves. At least 20 treads of about one length are
 * asked for.
 *
 * @example
 * const { sampleTime, atMost } = sampleTimeFromTrial(run, trial);
 * sampleTime ?? atMost; // s; undefined where the command moves too little to tell
 */
export function sampleTimeFromTrial(run: Run, trial: Trial): SampleTimeSeen {
  return run.once(`sample time ${trial.from} ${trial.to}`, () => look(run, trial));
}

function look(run: Run, trial: Trial): SampleTimeSeen {
  const command = run.channel("currentCommand")?.values;
  const reference = run.channel("speedCommand")?.values;
  if (!command || !reference || trial.kind !== "speed") return {};
  const { time } = run;
  const to = Math.min(trial.to, time.length);
  let largest = 0;
  for (let k = trial.from; k < to; k++)
    if (Number.isFinite(command[k]) && Math.abs(command[k]) > largest) largest = Math.abs(command[k]);
  const limit = run.recording.drive.currentLimit ?? largest;
  // Treads between two changes, both inside the limit.
  const treads: number[] = [];
  const risers: number[] = [];
  const rows: number[] = [];
  let last = -1;
  for (let k = trial.from + 1; k < to; k++) {
    if (
      !Number.isFinite(command[k]) ||
      !Number.isFinite(reference[k]) ||
      Math.abs(command[k]) > 0.99 * limit
    ) {
      last = -1;
      continue;
    }
    if (command[k] === command[k - 1]) continue;
    if (last > 0) {
      treads.push(time[k] - time[last]);
      risers.push(Math.abs(command[k] - command[k - 1]));
      rows.push(k - last);
    }
    last = k;
  }
  if (treads.length < 20) return {};
  // Stairs a few digits high are those of a command written with few digits, not of the loop.
  const digit = quantisationStep(command.subarray(trial.from, to));
  risers.sort((a, b) => a - b);
  if (digit > 0 && risers[Math.floor(0.3 * risers.length)] < 5 * digit) return {};
  const sorted = [...rows].sort((a, b) => a - b);
  const median = sorted[sorted.length >> 1];
  const interval = (time[to - 1] - time[trial.from]) / (to - 1 - trial.from);
  // A command written with few digits, or one at rest, stands still for longer: those treads are not the loop's.
  const usual = treads.filter((_, j) => rows[j] <= 1.5 * median + 0.5);
  if (median < 2 && usual.filter((_, j) => rows[j] > 1).length < 0.2 * usual.length) {
    const single = rows.filter((r) => r === 1).length;
    const mean = usual.reduce((sum, v) => sum + v, 0) / usual.length;
    return single > 0.8 * rows.length ? { atMost: Math.max(interval, 1.01 * mean) } : {};
  }
  if (usual.length < 20 || usual.length < 0.6 * treads.length) return {};
  const shortest = Math.min(...rows.filter((r) => r <= 1.5 * median + 0.5));
  // Treads of one loop differ by one row at most; a spread beyond that is a command that changes when it likes.
  const near = usual.filter((_, j) => rows[j] >= shortest).length;
  if (sorted[Math.floor(0.9 * usual.length)] - sorted[Math.floor(0.1 * usual.length)] > 1 || near < 20)
    return {};
  const mean = usual.reduce((sum, v) => sum + v, 0) / usual.length;
  const half = Math.max((1.96 * 0.5 * interval) / Math.sqrt(usual.length), 0.01 * mean);
  return {
    sampleTime: {
      value: mean,
      low: mean - half,
      high: mean + half,
      unit: "s",
      method: `stairs of the current command, ${usual.length} treads`,
      level: 0.95,
      samples: usual.length,
      channels: ["currentCommand"],
    },
  };
}
