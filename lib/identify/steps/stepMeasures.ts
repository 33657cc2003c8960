import { studentT } from "../../numeric/distributions/studentT.js";
import { type StateLevels, stateLevels } from "../../numeric/series/stateLevels.js";
import type { Estimate } from "../../units/estimate.js";
import { indexAt, instantError, type SmoothedStep, type StepLevels, smoothStep } from "./smoothedStep.js";
import { bridgeSpikes, noiseOf, quantisedMean } from "./stepNoise.js";
import { overshootOf } from "./stepOvershoot.js";
import { estimateOf, howRead, type StepReport } from "./stepReport.js";
import { settlingTime } from "./stepSettling.js";

/** What is known of a step before it is measured; everything may be left out. */
export interface StepMeasureOptions {
  /** Time at which the command steps, s; the first sample when absent. */
  readonly stepTime?: number;
  /** Value before the step, when known; else the mean of the samples before it, else of the first sample after it. */
  readonly initial?: number;
  /** Value the response settles to, when known; else the mean of the end of the record. */
  readonly final?: number;
  /** Commanded final value: the steady-state error is it minus the final value. */
  readonly target?: number;
  /** Share of the record after the step that counts as its end, 0.2 when absent. */
  readonly endShare?: number;
  readonly level?: number;
  /** UCUM code of the values; `1` when absent. */
  readonly unit?: string;
}

/** Measures of a step response by their definitions. Times count from the step. What could not be measured is named in
 * `missing`. */
export interface StepMeasures {
  readonly stepTime: number;
  readonly initial?: Estimate;
  readonly final?: Estimate;
  readonly amplitude?: Estimate;
  /** From 10 % to 90 % of the amplitude. */
  readonly riseTime?: Estimate;
  /** To 50 % of the amplitude. */
  readonly delayTime?: Estimate;
  /** After which the response stays within 2 % and 5 % of the amplitude around its final value. */
  readonly settlingTime2?: Estimate;
  readonly settlingTime5?: Estimate;
  /** Largest excursion beyond the final value, percent of the amplitude. Zero where none stands out of the noise. */
  readonly overshoot?: Estimate;
  /** When the overshoot peaks; absent without overshoot. */
  readonly peakTime?: Estimate;
  readonly peakValue?: Estimate;
  readonly steadyStateError?: Estimate;
  /** Terms of IEEE Std 181 (transitions and pulses). */
  readonly transition?: {
    /** State levels by histogram mode. */
    readonly levels: StateLevels;
    readonly polarity: "positive" | "negative";
    /** Reference level instants, s on the record's clock: 10 %, 50 % and 90 % of the amplitude. */
    readonly instant10: number;
    readonly instant50: number;
    readonly instant90: number;
    /** Transition duration, 10 % to 90 %. */
    readonly duration: number;
    /** Excursion against the transition's sense before it, and beyond the level after it, percent of the amplitude. */
    readonly preshoot: number;
    readonly overshoot: number;
  };
  /** Standard deviation of the sample-to-sample noise, from second differences, and the step of a quantised signal (0
   * when none). */
  readonly noise: number;
  readonly resolution: number;
  /** Isolated spikes that were bridged. */
  readonly spikes: number;
  /** Measures that could not be estimated, and why. */
  readonly missing: Readonly<Record<string, string>>;
}

/** A record in the order of its clock, split at the step. */
interface SplitRecord {
  readonly t: Float64Array;
  readonly y: Float64Array;
  readonly stepTime: number;
  /** Samples before the step. */
  readonly before: number;
}

/** Finite samples whose time ascends. */
function splitRecord(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  givenStep: number | undefined,
): SplitRecord {
  const kept: number[] = [];
  for (let i = 0; i < time.length; i++)
    if (
      Number.isFinite(time[i]) &&
      Number.isFinite(values[i]) &&
      (kept.length === 0 || time[i] > time[kept[kept.length - 1]])
    )
      kept.push(i);
  const t = Float64Array.from(kept, (i) => time[i]);
  const y = Float64Array.from(kept, (i) => values[i]);
  const stepTime = givenStep ?? t[0] ?? 0;
  let before = 0;
  while (before < t.length && t[before] < stepTime) before++;
  return { t, y, stepTime, before };
}

interface FoundLevels extends StepLevels {
  /** Mean of the end, whatever final value was given. */
  readonly end: { readonly mean: number; readonly error: number };
  readonly endCount: number;
}

/** Levels before and after the step: given ones, else means. */
function levelsOf(
  { y, before }: SplitRecord,
  { noise, resolution }: { readonly noise: number; readonly resolution: number },
  options: StepMeasureOptions,
): FoundLevels {
  const meanOf = (of: Float64Array) => quantisedMean(of, resolution);
  const after = y.length - before;
  const ya = y.subarray(before);
  const endCount = Math.min(Math.max(5, Math.round((options.endShare ?? 0.2) * after)), after);
  const end = meanOf(ya.slice(after - endCount));
  const start =
    options.initial !== undefined
      ? { mean: options.initial, error: 0 }
      : before >= 3
        ? meanOf(y.slice(0, before))
        : { mean: ya[0], error: noise };
  const settled = options.final !== undefined ? { mean: options.final, error: 0 } : end;
  const amplitude = settled.mean - start.mean;
  const amplitudeError = Math.hypot(settled.error, start.error);
  return { start, settled, end, endCount, amplitude, amplitudeError };
}

/** The levels as estimates. */
function levelEstimates(
  levels: FoundLevels,
  before: number,
  options: StepMeasureOptions,
  report: StepReport,
): Pick<StepMeasures, "initial" | "final" | "amplitude" | "steadyStateError"> {
  const { start, settled, end, endCount, amplitude, amplitudeError } = levels;
  const of = (value: number, error: number, method: string) =>
    estimateOf(report, { value, error, unit: report.unit, method });
  const first = before >= 3 ? "mean before the step" : "first sample after the step";
  return {
    initial: of(start.mean, start.error, options.initial !== undefined ? "given" : first),
    final: of(
      settled.mean,
      settled.error,
      options.final !== undefined ? "given" : `mean of the last ${endCount} samples`,
    ),
    amplitude: of(amplitude, amplitudeError, "final less initial"),
    steadyStateError:
      options.target === undefined
        ? undefined
        : of(options.target - end.mean, end.error, "target minus the mean of the end"),
  };
}

/** Rise time and delay time from the instants the response passes. */
function riseAndDelay(step: SmoothedStep, report: StepReport): Pick<StepMeasures, "riseTime" | "delayTime"> {
  const { passage } = step;
  const { missing } = report;
  if (!passage) {
    missing.riseTime = "the response never reaches 90 % of its change";
    missing.delayTime = missing.riseTime;
    return {};
  }
  const e10 = instantError(step, passage.t10, 0.1);
  const e90 = instantError(step, passage.t90, 0.9);
  const of = (value: number, error: number, method: string) =>
    estimateOf(report, { value, error, unit: "s", method, least: 0 });
  return {
    riseTime: of(passage.t90 - passage.t10, Math.hypot(e10, e90), `10 % to 90 %, ${howRead(step)}`),
    delayTime: of(
      passage.t50 - report.stepTime,
      instantError(step, passage.t50, 0.5),
      `to 50 %, ${howRead(step)}`,
    ),
  };
}

/** The terms of IEEE Std 181, where the response passes its levels. */
function transitionOf(
  step: SmoothedStep,
  { y, before }: SplitRecord,
  overshoot: number,
): StepMeasures["transition"] {
  const { time, smooth, sigma, passage } = step;
  const { start, amplitude } = step.levels;
  const levels = stateLevels(y);
  if (!passage || !levels) return undefined;
  let least = 0;
  const at10 = indexAt(time, passage.t10);
  for (let i = 0; i < at10; i++) least = Math.min(least, smooth.value[i]);
  for (let i = 0; i < before; i++) {
    const v = (y[i] - start.mean) / amplitude;
    if (v < -4 * sigma) least = Math.min(least, v);
  }
  return {
    levels,
    polarity: Math.sign(amplitude) > 0 ? "positive" : "negative",
    instant10: passage.t10,
    instant50: passage.t50,
    instant90: passage.t90,
    duration: passage.t90 - passage.t10,
    preshoot: least < -4 * sigma * smooth.share[Math.max(0, at10 - 1)] ? -100 * least : 0,
    overshoot,
  };
}

/**
 * Measures of a recorded step response: rise time, delay time, settling times, overshoot, peak time, steady-state
 * error, and the terms of IEEE Std 181.
 *
 * Definitions as in the control textbooks (Nise, Control Systems Engineering, 4.6; Ogata, Modern Control
 * Engineering, 5.3): percentages of the change from the initial to the final value. Noise is measured first; where
 * there is some, crossings and the peak are read from a local cubic fitted over a fifth of the rise time, isolated
 * spikes are bridged, and an overshoot counts only where it stands out of what noise alone would reach. A measure that
 * the record does not hold (not settled, no crossing) is absent and named in `missing`.
 *
 * @param time sample times, s, ascending
 * @param values the recorded response, as many, in `options.unit`
 * @throws RangeError when the arrays differ in length
 * @example
 * const time = Float64Array.from({ length: 1000 }, (_, i) => i * 0.001);
 * const m = stepMeasures(time, time.map((t) => 1 - Math.exp(-t / 0.1)), { final: 1 });
 * m.riseTime?.value; // => 0.2197 (s; that is 0.1 ln 9)
 */
export function stepMeasures(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: StepMeasureOptions = {},
): StepMeasures {
  if (time.length !== values.length)
    throw new RangeError(`there are ${time.length} times and ${values.length} values; they must be as many.`);
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  const record = splitRecord(time, values, options.stepTime);
  const { t, y, stepTime, before } = record;
  const { noise, resolution } = noiseOf(y);
  const spikes = bridgeSpikes(y, noise, resolution);
  const missing: Record<string, string> = {};
  const bare = { stepTime, noise, resolution, spikes, missing };
  const after = t.length - before;
  const giveUp = (why: string): StepMeasures => {
    for (const name of ["riseTime", "delayTime", "settlingTime2", "settlingTime5", "overshoot", "peakTime"])
      missing[name] = why;
    return bare;
  };
  if (after < 10) return giveUp(`only ${after} samples lie after the step; at least 10 are needed`);
  const quantile = studentT(level, 1e6);
  const report = { level, quantile, samples: after, stepTime, unit: options.unit ?? "1", missing };
  const levels = levelsOf(record, { noise, resolution }, options);
  const size = Math.abs(levels.amplitude);
  if (!(size > 5 * levels.amplitudeError) || !(size > 2 * noise) || size === 0)
    return giveUp("the values before and after the step do not differ by more than their noise");
  const step = smoothStep(t.subarray(before), y.subarray(before), levels, noise, levels.endCount);
  const { initial, final, amplitude, steadyStateError } = levelEstimates(levels, before, options, report);
  const { riseTime, delayTime } = riseAndDelay(step, report);
  const { overshoot, peakTime, peakValue } = overshootOf(step, resolution, report);
  const settlingTime5 = settlingTime(step, 0.05, "settlingTime5", report);
  const settlingTime2 = settlingTime(step, 0.02, "settlingTime2", report);
  const transition = transitionOf(step, record, overshoot?.value ?? 0);
  if (riseTime && riseTime.value < (2 * (t[t.length - 1] - t[before])) / (after - 1))
    missing.riseTimeNote = "the rise takes fewer than two samples: its value is that of the sampling";
  return {
    ...bare,
    initial,
    final,
    amplitude,
    riseTime,
    delayTime,
    settlingTime2,
    settlingTime5,
    overshoot,
    peakTime,
    peakValue,
    steadyStateError,
    transition,
  };
}
