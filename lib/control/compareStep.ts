import { missingColumns, type TrialColumns, trialColumns } from "../identify/loop/trialColumns.js";
import { type ResidualDiagnostics, residualDiagnostics } from "../numeric/index.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { finelySampled, simulateLoop } from "./models/simulateLoop.js";
import { type FixedLoop, fixLoop, type SpeedLoop } from "./models/speedLoop.js";

/** A recorded closed-loop trial held against the model's run under the same reference. */
export interface StepComparison {
  /** 1 - norm(measured - predicted)/norm(measured - mean): 1 is perfect, 0 no better than the mean, below 0 worse. */
  readonly fitIndex?: number;
  /** The same of the current command. */
  readonly commandFitIndex?: number;
  /** RMS of measured minus predicted speed, rad/s, and its mean. */
  readonly residual?: number;
  readonly bias?: number;
  /** Whiteness of the residuals. */
  readonly diagnostics?: ResidualDiagnostics;
  readonly time?: Float64Array;
  readonly measured?: Float64Array;
  readonly predicted?: Float64Array;
  readonly rows: number;
  readonly missing?: string;
  readonly text: string;
}

/**
 * Runs the model under the recorded reference, from the recorded initial speed and current, with friction, counts and
 * limits as far as they are known, and compares it with what was measured.
 *
 * @example
 * const { loop } = loopFromRun(run);
 * if (loop) compareStep(run, trial, loop).fitIndex; // 1 where the model runs exactly as measured
 */
export function compareStep(run: Run, trial: Trial, loop: SpeedLoop): StepComparison {
  const none = (missing: string): StepComparison => ({ rows: 0, missing, text: `not compared: ${missing}` });
  const lacking = missingColumns(run);
  if (lacking.length > 0) return none(`not logged: ${lacking.join(", ")}`);
  const columns = trialColumns(run, trial);
  if (columns === undefined) return none("fewer than 16 whole rows");
  const fixed = finelySampled({ ...fixLoop(loop), positionGain: undefined });
  const whole = columns.time.length;
  const n = beforeVoltageLimit(columns, fixed);
  if (n < 16)
    return none("the voltage runs out at once: the current falls short of its command from the start");
  const { time, reference, speed, command, current } = {
    time: columns.time.subarray(0, n),
    reference: columns.reference.subarray(0, n),
    speed: columns.speed.subarray(0, n),
    command: columns.command.subarray(0, n),
    current: columns.current.subarray(0, n),
  };
  const duration = time[n - 1] - time[0];
  if (duration / fixed.sampleTime > 1_000_000)
    return none("the trial is longer than a million samples of the loop");
  let row = 0;
  const trace = simulateLoop(
    fixed,
    {
      duration,
      reference: (t) => {
        while (row + 1 < n && time[row + 1] - time[0] <= t + 1e-9) row++;
        return reference[row];
      },
    },
    {
      // Counts add nothing to a comparison in the mean, and their phase is not known.
      quantised: false,
      start: {
        speed: speed[0],
        current: current[0],
        sum: startingSum(fixed, columns),
      },
    },
  );
  const at = (column: Float64Array): Float64Array =>
    time.map((t) => {
      const place = Math.min((t - time[0]) / trace.sampleTime, column.length - 1);
      const k = Math.min(Math.floor(place), column.length - 2);
      return column[k] + (column[k + 1] - column[k]) * (place - k);
    });
  const predicted = at(trace.measured);
  const residuals = speed.map((w, k) => w - predicted[k]);
  const fitIndex = indexOf(speed, predicted);
  if (fitIndex === undefined) return none("the speed does not move");
  const commandFitIndex = indexOf(command, at(trace.command));
  const bias = residuals.reduce((s, v) => s + v, 0) / n;
  const residual = Math.sqrt(residuals.reduce((s, v) => s + v * v, 0) / n);
  return {
    fitIndex,
    ...(commandFitIndex === undefined ? {} : { commandFitIndex }),
    residual,
    bias,
    diagnostics: residualDiagnostics(residuals),
    time,
    measured: speed,
    predicted,
    rows: n,
    text: `the model explains ${(100 * Math.max(0, fitIndex)).toFixed(0)} % of the speed (fit index), ${residual.toPrecision(2)} rad/s RMS is left${n < whole ? `; compared up to ${time[n - 1].toPrecision(4)} s, where the voltage runs out` : ""}`,
  };
}

/**
 * What the controller's sum held at the first row, from the command a few rows on: a log may show the new reference one
 * row before the command that answers it. 0 where those rows stand at the limit.
 */
function startingSum(loop: FixedLoop, { time, reference, speed, command }: TrialColumns): number {
  if (loop.ki === 0) return 0;
  const sums: number[] = [];
  let integral = 0;
  // Rows before the command first moves were logged before the controller ran on this reference.
  let answers = 1;
  while (answers < time.length && command[answers] === command[0] && time[answers] - time[0] < 5e-3)
    answers++;
  for (let k = 1; k < time.length && (k <= answers + 5 || time[k] - time[answers] < 5e-3); k++) {
    integral += (reference[k - 1] - speed[k - 1]) * (time[k] - time[k - 1]);
    if (k < answers && command[answers] !== command[0]) continue;
    // At the limit the sum cannot be seen; a loop that starts there has just been closed, with its sum empty.
    if (Math.abs(command[k]) >= 0.995 * loop.currentLimit) return 0;
    const proportional = loop.kp * (loop.referenceWeight * reference[k] - speed[k]);
    sums.push((command[k] - proportional) / loop.ki - integral);
  }
  // The later half: by then the command answers the reference, however fine the log.
  const later = sums.slice(sums.length >> 1).sort((a, b) => a - b);
  return sums.length < 3 ? 0 : later[later.length >> 1];
}

/**
 * Rows before voltage, not the loop, sets the speed: from there on the current falls short of its command for good, or
 * the command stands at its limit while the turning shaft gains less than a fifth of the speed that this current gives
 * it.
 */
function beforeVoltageLimit(
  { time, command, current, speed, interval }: TrialColumns,
  loop: FixedLoop,
): number {
  let largest = 0;
  let fastest = 0;
  for (const u of command) largest = Math.max(largest, Math.abs(u));
  for (const w of speed) fastest = Math.max(fastest, Math.abs(w));
  const long = Math.max(8, Math.ceil(0.02 / interval));
  const acceleration = (Math.abs(loop.torquePerAmpere) * largest) / loop.inertia;
  let short = 0;
  let flat = 0;
  for (let k = 0; k < time.length; k++) {
    const missing =
      Math.abs(command[k] - current[k]) > 0.2 * largest && Math.abs(current[k]) < Math.abs(command[k]);
    short = missing ? short + 1 : 0;
    flat = Math.abs(command[k]) > 0.99 * largest && Math.abs(speed[k]) > 0.3 * fastest ? flat + 1 : 0;
    if (short >= long) return k - short + 1;
    if (flat >= long && loop.currentLimit <= 1.02 * largest) {
      const gained = Math.abs(speed[k] - speed[k - long + 1]) / (time[k] - time[k - long + 1]);
      if (gained < 0.2 * acceleration) return k - long + 1;
    }
  }
  return time.length;
}

/** 1 - norm(measured - predicted)/norm(measured - mean); `undefined` when the measured values do not move. */
function indexOf(measured: Float64Array, predicted: Float64Array): number | undefined {
  const mean = measured.reduce((s, v) => s + v, 0) / measured.length;
  let off = 0;
  let all = 0;
  for (let k = 0; k < measured.length; k++) {
    off += (measured[k] - predicted[k]) ** 2;
    all += (measured[k] - mean) ** 2;
  }
  return all > 0 ? 1 - Math.sqrt(off / all) : undefined;
}
