import {
  atLimit,
  missingColumns,
  type TrialColumns,
  trialColumns,
} from "../../identify/loop/trialColumns.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { limitedAcceleration } from "../fromRun/predictRunaway.js";
import { fixLoop, type SpeedLoop } from "../models/speedLoop.js";

/** A runaway whose current stood at its limit: the acceleration there against the one that the torque at the limit
 * gives. */
export interface SaturatedRunaway {
  /** Measured acceleration while the current stood at its limit, rad/s2, in the sense of the motion. */
  readonly acceleration?: Estimate;
  /** (abs(g)*Kt*limit - friction)/J at the same speeds. */
  readonly predicted?: Estimate;
  /** Measured over predicted. */
  readonly ratio?: number;
  /** The intervals meet, the predicted one 5 % wider for the angle by which a turning drive is late. */
  readonly agrees?: boolean;
  /** Mean current of the rows used, A. */
  readonly current?: number;
  readonly rows: number;
  readonly from?: number;
  readonly to?: number;
  readonly missing?: string;
  readonly text: string;
}

/**
 * A reversed loop whose first error already asks for more than the current limit never shows its growing exponential:
 * the current jumps to its limit and the speed runs away along a straight line. That line is a check of its own: its
 * slope is the torque at the limit over the inertia, less friction.
 *
 * Used are the first rows at the limit in which the shaft gains speed against the reference's wish, from the current's
 * rise to the voltage's limit (the current falling below its command) or half of the highest speed. The measured
 * interval allows for correlated residuals; the predicted one is the range over the corners of the plant's intervals.
 *
 * @param loop the loop with its negative torque gain
 * @example
 * const reversed = { ...loop, plant: { ...loop.plant, torqueGain: -0.5 } };
 * saturatedRunaway(run, trial, reversed).text; // what the shaft gained at the limit, beside the prediction
 */
export function saturatedRunaway(run: Run, trial: Trial, loop: SpeedLoop): SaturatedRunaway {
  const none = (missing: string, rows = 0): SaturatedRunaway => ({
    rows,
    missing,
    text: `acceleration at the limit not compared: ${missing}`,
  });
  const lacking = missingColumns(run);
  if (lacking.length > 0) return none(`not logged: ${lacking.join(", ")}`);
  const columns = trialColumns(run, trial);
  if (columns === undefined) return none("fewer than 16 whole rows");
  const { rows: limited, limit } = atLimit(columns, run.recording.drive.currentLimit);
  if (limit === undefined) return none("the current stays below its limit");
  const fixed = fixLoop(loop);
  const rise = Math.max(
    2 * columns.interval,
    Number.isFinite(fixed.currentBandwidth) ? 4 / fixed.currentBandwidth : 2e-3,
    Number.isFinite(fixed.speedFilter) ? 4 / fixed.speedFilter : 0,
  );
  const stretch = gainingStretch(columns, limited, limit, rise);
  const nothing = "no rows at the limit in which the shaft gains speed under the full current";
  if (stretch === undefined) return none(nothing);
  const { start, end } = stretch;
  const n = end - start;
  if (n < 8) return none(`only ${n} rows between the current's rise and the voltage limit`, n);
  const t = columns.time.subarray(start, end);
  const sense = -Math.sign(columns.command[start]);
  const w = columns.speed.slice(start, end).map((v) => v * sense);
  const { slope, half, middle } = slopeOf(t, w);
  // A sound loop that brakes at its limit also turns against its command, but slows down.
  if (!(slope > 0)) return none(nothing, n);
  const acceleration: Estimate = {
    value: slope,
    low: slope - half,
    high: slope + half,
    unit: "rad/s2",
    method: `slope of the speed while the current stood at its limit, ${n} rows`,
    level: 0.95,
    samples: n,
    channels: ["speed", "currentCommand"],
  };
  const carriedCurrent = mean(columns.current.slice(start, end).map((v) => Math.abs(v)));
  const predicted = limitedAcceleration(loop.plant, carriedCurrent, middle);
  if (predicted === undefined) return none("friction would hold the shaft by the model", n);
  const agrees =
    acceleration.high >= (1 - angleShare) * predicted.low &&
    acceleration.low <= (1 + angleShare) * predicted.high;
  const ratio = slope / predicted.value;
  return {
    acceleration,
    predicted,
    ratio,
    agrees,
    current: carriedCurrent,
    rows: n,
    from: t[0],
    to: t[n - 1],
    text: `saturated runaway: at ${short(carriedCurrent)} A the shaft gained ${short(slope)} rad/s², predicted ${short(predicted.value)} (${short(predicted.low)} to ${short(predicted.high)}): ${agrees ? "as predicted" : `${short(ratio)} times the predicted`}`,
  };
}

/**
 * The rows at the limit in which the shaft gains speed against the reference's wish, without those in which the current
 * still rises; undefined where there are none.
 *
 * @param rise s
 */
function gainingStretch(
  { time, speed, reference, command, current, interval }: TrialColumns,
  limited: Uint8Array,
  limit: number,
  rise: number,
): { readonly start: number; readonly end: number } | undefined {
  let fastest = 0;
  for (const w of speed) fastest = Math.max(fastest, Math.abs(w));
  // The measured current is noisy: its running mean says whether the voltage still carries the limit.
  const width = Math.max(1, Math.round(5e-3 / interval));
  const carried = (k: number): boolean => {
    let sum = 0;
    let n = 0;
    for (let j = k; j < Math.min(time.length, k + width) && limited[j] === 1; j++, n++)
      sum += current[j] * Math.sign(command[k]);
    return n > 0 && sum / n > 0.95 * limit;
  };
  let start = -1;
  let end = -1;
  for (let k = 0; k < time.length && end < 0; k++) {
    const sense = -Math.sign(command[k]); // torque against the command
    const away =
      limited[k] === 1 &&
      speed[k] * sense > 0 &&
      (reference[k] - speed[k]) * command[k] > 0 &&
      Math.abs(speed[k]) < 0.5 * fastest;
    if (away && carried(k)) {
      if (start < 0) start = k;
    } else if (start >= 0) {
      if (time[k] - time[start] > rise + 8 * interval) end = k;
      else start = -1;
    }
  }
  if (start < 0) return undefined;
  if (end < 0) end = time.length;
  const begun = time[start];
  while (start < end && time[start] - begun < rise) start++;
  return { start, end };
}

const mean = (values: Float64Array): number => values.reduce((s, v) => s + v, 0) / values.length;

/** Slope of a line, half its interval with the correlation of the residuals allowed for, and the mean of the values. */
function slopeOf(
  t: Float64Array,
  w: Float64Array,
): { readonly slope: number; readonly half: number; readonly middle: number } {
  const n = t.length;
  const [mt, mw] = [mean(t), mean(w)];
  let tt = 0;
  let tw = 0;
  for (let k = 0; k < n; k++) {
    tt += (t[k] - mt) ** 2;
    tw += (t[k] - mt) * (w[k] - mw);
  }
  const slope = tw / tt;
  const residual = w.map((v, k) => v - mw - slope * (t[k] - mt));
  let squares = 0;
  let lagged = 0;
  for (let k = 0; k < n; k++) {
    squares += residual[k] ** 2;
    if (k > 0) lagged += residual[k] * residual[k - 1];
  }
  const correlation = Math.min(0.95, Math.max(0, squares > 0 ? lagged / squares : 0));
  const half = 2.2 * Math.sqrt((squares / Math.max(1, n - 2) / tt) * ((1 + correlation) / (1 - correlation)));
  return { slope, half, middle: mw };
}

/** What a degree or two of angle by which a turning drive is late does to the torque of a large offset error: one
 * degree at 120 is 3 %. */
const angleShare = 0.05;

const short = (x: number): string => String(Number(x.toPrecision(3)));
