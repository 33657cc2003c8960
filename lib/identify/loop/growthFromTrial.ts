import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { mean } from "../../run/trialSignals.js";
import { drivenPart } from "../../run/trip.js";
import type { Estimate } from "../../units/estimate.js";
import { backEmfVector } from "../electrical/backEmfVector.js";
import { tangentOfGain } from "../mechanical/torqueBySense.js";
import { longestSpeedFilter } from "../motionLimits.js";
import { fitGrowth } from "./growthFit.js";
import { atLimit, missingColumns, type TrialColumns, trialColumns } from "./trialColumns.js";

/** How fast a runaway grew before the current reached its limit. */
export interface ObservedGrowth {
  readonly growthTime?: Estimate;
  /** Rows the fit used, and factor by which the exponential grew over them. */
  readonly rows: number;
  readonly factor?: number;
  /** First and last time used, s. */
  readonly from?: number;
  readonly to?: number;
  /** Whether the predicted growth time lies within the interval; absent without a prediction. */
  readonly agrees?: boolean;
  readonly missing?: string;
}

/**
 * Growth time constant of a runaway from its log: w = a + b*exp(t/tau) fitted to the speed from the step of the
 * reference to the row where the current command reaches its limit (past it the speed rises along a straight line and
 * says nothing of the loop), where the voltage no longer carries the current, or where the drive tripped. The interval
 * is where the sum of squares stays below the F limit, with the number of independent rows taken from the residuals'
 * correlation.
 *
 * @param predicted the growth time that `growthTime` gives, to compare with
 * @example
 * const { growthTime, missing } = growthFromTrial(run, trial);
 * growthTime ?? missing; // an estimate in s, or why there is none
 */
export function growthFromTrial(run: Run, trial: Trial, predicted?: Estimate): ObservedGrowth {
  const driven = drivenPart(run, trial);
  const seen = run.once(`growth ${driven.from} ${driven.to}`, () => observe(run, driven));
  const { growthTime } = seen;
  if (predicted === undefined || growthTime === undefined) return seen;
  return { ...seen, agrees: predicted.high >= growthTime.low && predicted.low <= growthTime.high };
}

function observe(run: Run, trial: Trial): ObservedGrowth {
  const none = (missing: string, rows = 0): ObservedGrowth => ({ rows, missing });
  const lacking = missingColumns(run);
  if (lacking.length > 0) return none(`not logged: ${lacking.join(", ")}`);
  const columns = trialColumns(run, trial);
  if (columns === undefined) return none("fewer than 16 whole rows");
  const { time, speed, reference, command, current } = columns;
  const { rows: limited } = atLimit(columns, run.recording.drive.currentLimit);
  // From the first row whose reference has moved or is not zero, to the first row at the limit.
  let start = 0;
  while (start < time.length && reference[start] === 0) start++;
  if (start === time.length) start = 0;
  let end = start;
  while (end < time.length && limited[end] === 0 && reference[end] === reference[start]) end++;
  // A current that does not follow its command any more is none of the loop's: the drive is off, or out of voltage.
  while (end > start && Math.abs(current[end - 1]) < 0.5 * Math.abs(command[end - 1])) end--;
  end = withVoltage(columns, start, end);
  start = underWay(time, speed, start, end);
  const rows = end - start;
  if (rows < 8)
    return none(
      `only ${rows} ${rows === 1 ? "row lies" : "rows lie"} between the step of the reference and the current limit: log faster, or lower the gains`,
      rows,
    );
  const t = Float64Array.from({ length: rows }, (_, k) => time[start + k] - time[start]);
  const { machine, drive } = run.recording;
  const turning = (machine.polePairs ?? drive.polePairs ?? usualPairs) * Math.abs(speed[end - 1]);
  const error = speed.slice(start, end).map((v) => v - reference[start]);
  const grown = mean(error, rows - few, rows) / mean(error, 0, few);
  if (grown < leastGrown)
    return none(
      `the error grows by a factor of ${grown.toFixed(2)} only, which a straight line would do as well`,
      rows,
    );
  const tangent = tangentOf(run);
  const bySquare = tangent === undefined ? unknownDrift : usualShare * tangent;
  const fit = fitGrowth(
    t,
    error,
    Math.hypot(leastDrift, bySquare, Math.min(usualTangent, tangent ?? usualTangent) * turning * angleDelay),
    reference[start],
  );
  if (fit === undefined)
    return none("the speed does not grow as an exponential before the current limit", rows);
  const { rate, factor, low, high } = fit;
  if (factor < 2) return none(`the exponential grows by a factor of ${factor.toFixed(2)} only`, rows);
  if (low === undefined || high === undefined)
    return none("the rows before the current limit do not tell how fast the speed grows", rows);
  const growthTime: Estimate = {
    value: 1 / rate,
    low: 1 / high,
    high: 1 / low,
    unit: "s",
    method: `exponential fitted to the speed, ${rows} rows before the current limit`,
    level: 0.95,
    samples: rows,
    channels: ["speed", "currentCommand", "speedCommand"],
  };
  return {
    growthTime,
    rows,
    factor,
    from: time[start],
    to: time[end - 1],
  };
}

/**
 * By how much the angle of a turning drive is late, s: half a sample period of 0.1 ms (common practice, no source). At
 * an offset error of 120 degrees the torque changes by the tangent of it times the angle.
 */
const angleDelay = 5e-5;
const usualTangent = Math.sqrt(3);
/** The least change of the torque between a slow and a quick shaft, and pole pairs where none are told. */
const [leastDrift, usualPairs] = [0.01, 4];
/**
 * Change of the torque of an ampere up to the current limit, per tangent of the offset error, as a standard deviation:
 * winding flux and unlike inductances (see `torqueBySense.ts`); and where the offset error is not known, half of them
 * having none (no source).
 */
const [usualShare, unknownDrift] = [0.04, 0.03];

/** Tangent of the offset error where dq voltages tell it. */
function tangentOf(run: Run): number | undefined {
  const gain = backEmfVector(run)?.torqueGain?.value;
  return gain === undefined ? undefined : tangentOfGain(gain);
}

/** The least growth of an error that tells an exponential, and rows whose mean is held against each other. */
const [leastGrown, few] = [1.5, 3];

/**
 * The end of the rows before the voltage runs out: there the current no longer rises with its command, and the speed no
 * longer as an exponential. Blocks of a 24th of the rows are held against the one before.
 */
function withVoltage({ current, command }: TrialColumns, start: number, end: number): number {
  const block = Math.max(few, Math.floor((end - start) / 24));
  let last = end;
  while (last - 2 * block > start) {
    const [at, before] = [last - block, last - 2 * block];
    const asked = mean(command, at, last) - mean(command, before, at);
    const risen = mean(current, at, last) - mean(current, before, at);
    const carried = mean(current, before, at) / mean(command, before, at);
    if (risen * Math.sign(asked) >= 0.5 * carried * Math.abs(asked)) break;
    last -= Math.max(1, block >> 1);
  }
  return last < end ? Math.max(start, last - (block >> 1)) : end;
}

/** Rows of which the fit should keep some, and fraction of the whole movement that shows a shaft under way. */
const [fewest, moved] = [16, 0.03];

/** The first row at which the shaft has left its rest and the short lags of the loop have died out. */
function underWay(time: Float64Array, speed: Float64Array, start: number, end: number): number {
  if (end - start < fewest) return start;
  const change = speed[end - 1] - speed[start];
  let k = end - 1;
  while (k > start && Math.abs(speed[k] - speed[start]) > moved * Math.abs(change)) k--;
  const from = time[k] + 2 * longestSpeedFilter;
  while (k < end - fewest && time[k] < from) k++;
  return k;
}
