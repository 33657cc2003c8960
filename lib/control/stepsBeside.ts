import { type StepMeasures, type StepModelName, stepMeasures } from "../identify/index.js";
import { stepsOfTrial } from "../identify/steps/fitSteps.js";
import { residualDiagnostics } from "../numeric/index.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import type { Estimate } from "../units/estimate.js";
import type { StepComparison } from "./compareStep.js";

/** Figures of one step response, by one set of definitions for measured and predicted. */
export interface BesideFigures {
  /** 10 % to 90 % of the amplitude, s. */
  readonly rise?: Estimate;
  /** Percent of the amplitude. */
  readonly overshoot?: Estimate;
  /** Last time outside 2 % of the amplitude, s. */
  readonly settling?: Estimate;
}

/** How well a curve stands for the measured speed over a step. */
export interface Agreement {
  /** 1 - norm(measured - curve)/norm(measured - mean). */
  readonly fitIndex: number;
  /** RMS of the residuals, rad/s. */
  readonly residual: number;
  /** Lag-1 autocorrelation of the residuals, and p value of the runs test on their signs: near 0 and above 0.05 for
   * white residuals. */
  readonly lag1: number;
  readonly runsPValue: number;
  readonly white: boolean;
}

/** A recorded step of the speed reference: measured, fitted, and predicted by the model of the loop. */
export interface StepBeside {
  /** s. */
  readonly time: number;
  /** Reference before and after, rad/s. */
  readonly from: number;
  readonly to: number;
  readonly measured: BesideFigures;
  /** The best of the four response shapes: what the step looks like, without any model of the loop. Absent when none
   * could be told. */
  readonly fitted?: { readonly shape: StepModelName; readonly timeConstant?: Estimate } & Agreement;
  /** The model's run under the recorded reference. Absent where it was not compared. */
  readonly predicted?: BesideFigures & Agreement;
  readonly text: string;
}

/**
 * The steps of a speed trial, each with its measured figures, the response shape fitted to it, and the same figures of
 * the model's run beside it.
 *
 * @param comparison what `compareStep` gave for the trial; without it only the measured side is there
 * @example
 * const { loop } = loopFromRun(run);
 * const steps = stepsBeside(run, trial, loop && compareStep(run, trial, loop));
 * steps[0]?.text;
 */
export function stepsBeside(run: Run, trial: Trial, comparison?: StepComparison): StepBeside[] {
  const beside: StepBeside[] = [];
  const steps = stepsOfTrial(run, trial).filter((s) => s.command === "speedCommand");
  steps.forEach((step, k) => {
    const end = steps[k + 1]?.time ?? trial.end;
    const fit = step.fit;
    const predicted = comparison ? predictedOf(comparison, step.time, end, step.to) : undefined;
    const residuals = fit.determined && fit.fit ? residualsOf(fit.fit) : undefined;
    const fitted = residuals && {
      shape: fit.model,
      ...(fit.timeConstant ? { timeConstant: fit.timeConstant } : {}),
      ...residuals,
    };
    const measured = figuresOf(step.measures);
    beside.push({
      time: step.time,
      from: step.from,
      to: step.to,
      measured,
      ...(fitted ? { fitted } : {}),
      ...(predicted ? { predicted } : {}),
      text: textOf(measured, predicted),
    });
  });
  return beside;
}

function figuresOf({ riseTime, overshoot, settlingTime2 }: StepMeasures): BesideFigures {
  return {
    ...(riseTime ? { rise: riseTime } : {}),
    ...(overshoot ? { overshoot } : {}),
    ...(settlingTime2 ? { settling: settlingTime2 } : {}),
  };
}

function residualsOf(fit: {
  readonly observed?: Float64Array;
  readonly fitted?: Float64Array;
}): Agreement | undefined {
  return fit.observed && fit.fitted ? agreement(fit.observed, fit.fitted) : undefined;
}

function agreement(measured: Float64Array, curve: Float64Array): Agreement | undefined {
  const n = measured.length;
  if (n < 8) return undefined;
  const mean = measured.reduce((s, v) => s + v, 0) / n;
  const residuals = measured.map((v, k) => v - curve[k]);
  const off = residuals.reduce((s, v) => s + v * v, 0);
  const all = measured.reduce((s, v) => s + (v - mean) ** 2, 0);
  if (!(all > 0) || !Number.isFinite(off)) return undefined;
  const { lag1, runs } = residualDiagnostics(residuals);
  return {
    fitIndex: 1 - Math.sqrt(off / all),
    residual: Math.sqrt(off / n),
    lag1,
    runsPValue: runs.pValue,
    white: runs.pValue > 0.05 && Math.abs(lag1) < 2 / Math.sqrt(n) + 0.05,
  };
}

/** Figures and agreement of the model's run from a step to the next. */
function predictedOf(
  { time, measured, predicted }: StepComparison,
  step: number,
  end: number,
  target: number,
): (BesideFigures & Agreement) | undefined {
  if (!time || !measured || !predicted) return undefined;
  let from = 0;
  while (from < time.length && time[from] < step) from++;
  let to = from;
  while (to < time.length && time[to] < end) to++;
  // The comparison may end before the step does, where the voltage runs out.
  if (to - from < 12 || time[to - 1] < step + 0.6 * (end - step)) return undefined;
  const before = Math.max(0, from - 5);
  const agrees = agreement(measured.subarray(from, to), predicted.subarray(from, to));
  if (agrees === undefined) return undefined;
  const figures = stepMeasures(time.subarray(before, to), predicted.subarray(before, to), {
    stepTime: step,
    unit: "rad/s",
    target,
  });
  return { ...figuresOf(figures), ...agrees };
}

function textOf(measured: BesideFigures, predicted: (BesideFigures & Agreement) | undefined): string {
  if (predicted === undefined) return "not compared with the model here";
  const off = (name: string, m: Estimate | undefined, p: Estimate | undefined): string[] =>
    m && p && m.value > 0 && Math.abs(p.value / m.value - 1) > 0.2
      ? [`${name} predicted ${offText(p.value / m.value - 1)}`]
      : [];
  const said = [
    ...off("rise", measured.rise, predicted.rise),
    ...off("settling", measured.settling, predicted.settling),
  ];
  const whole =
    predicted.fitIndex > 0.95
      ? "the model answers this step as the drive did"
      : predicted.fitIndex > 0.85
        ? "the model answers this step nearly as the drive did"
        : "the model does not answer this step as the drive did";
  return said.length > 0 ? `${whole}; ${said.join(", ")}` : whole;
}

/** How far a prediction is off, relative to what was measured. */
function offText(share: number): string {
  return Math.abs(share) < 1 ? `${Math.round(100 * share)} % off` : "far off";
}
