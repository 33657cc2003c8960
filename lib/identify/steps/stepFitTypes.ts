import type { CovarianceKind, FitResult } from "../../numeric/optimise/types.js";
import type { Estimate } from "../../units/estimate.js";
import type { StepCurveName } from "./stepKinds.js";
import type { StepShape } from "./stepShapes.js";

/** What a step response turned out to be. `none`: no response beyond the noise. The last ones only where what was
 * stepped is known (`identifyStep`). */
export type StepModelName =
  | "none"
  | StepCurveName
  | "first-order"
  | "first-order-dead-time"
  | "second-order-underdamped"
  | "second-order-critical"
  | "second-order-overdamped";

/** What is known of a step response before it is fitted; everything may be left out. */
export interface StepResponseOptions {
  /** Time at which the command steps, s; the first sample when absent. Earlier samples settle the initial value. */
  readonly stepTime?: number;
  /** Size of the command's step (after minus before): gain is the amplitude divided by it. 1 when absent. */
  readonly commandStep?: number;
  /** Shapes to choose from; all four when absent. */
  readonly shapes?: readonly StepShape[];
  /** Whether a steady slope is fitted too; `auto` (when absent) lets the information criterion decide. */
  readonly drift?: boolean | "auto";
  /** Initial value when it is known (0 for a shaft at rest); fitted when absent. */
  readonly initial?: number;
  /** Coverage of intervals, 0.95 when absent. */
  readonly level?: number;
  /** `autoregressive` when absent: control data are correlated. */
  readonly covariance?: CovarianceKind;
  /** Leave isolated spikes (beyond 6 robust standard deviations, at most 3 samples each) out; true when absent. */
  readonly dropSpikes?: boolean;
  /** UCUM code of the values and of the command; `1` when absent. */
  readonly unit?: string;
  readonly commandUnit?: string;
}

/** One model that was tried. */
export interface StepCandidate {
  readonly model: StepModelName;
  readonly drift: boolean;
  readonly parameters: number;
  readonly sumOfSquares: number;
  /** Information criterion; the smallest wins. */
  readonly score: number;
  /** Share among the candidates implied by the scores (they sum to 1). */
  readonly weight: number;
}

/** What a step response says. Times in s, angular frequencies in rad/s. Quantities that a model does not have are
 * absent. */
export interface StepFit {
  readonly model: StepModelName;
  readonly drift: boolean;
  /** False when no response could be told from the noise, or too little of it was recorded; then `missing` says why. */
  readonly determined: boolean;
  readonly missing?: string;
  readonly stepTime: number;
  /** Value before the step, change by the step, value it settles to. */
  readonly initial?: Estimate;
  readonly amplitude?: Estimate;
  readonly final?: Estimate;
  /** Amplitude over the command's step. */
  readonly gain?: Estimate;
  /** Steady slope, where one was fitted. */
  readonly slope?: Estimate;
  /** First order: the time constant. Second order: that of the envelope 1/(zeta omega) or, overdamped, the slow one. */
  readonly timeConstant?: Estimate;
  /** Overdamped and critical: the fast time constant. */
  readonly fastTimeConstant?: Estimate;
  readonly deadTime?: Estimate;
  readonly dampingRatio?: Estimate;
  readonly naturalFrequency?: Estimate;
  /** Frequency of the ringing, underdamped only. */
  readonly dampedFrequency?: Estimate;
  /** Integrator: change of the slope by the step, and the same over the command's step. With friction: what the input
   * alone gives. */
  readonly rate?: Estimate;
  readonly rateGain?: Estimate;
  /** Friction: the slope that it takes (integrator), or the final value that it takes (first order). */
  readonly friction?: Estimate;
  /** Command that friction takes up (first order with friction). */
  readonly deadBand?: Estimate;
  /** Second order with a zero at -1/zeroTime. */
  readonly zeroTime?: Estimate;
  /** Position loop: speed limit, and gain from error to speed below it. */
  readonly slewLimit?: Estimate;
  readonly loopGain?: Estimate;
  /** Fraction of the response that the model explains, noise from sample to sample apart (`identifyStep`). */
  readonly explained?: number;
  readonly candidates: readonly StepCandidate[];
  /** Effectively independent samples used by the criterion. */
  readonly effectiveSamples: number;
  /** Samples left out as spikes (indexes into the input). */
  readonly excluded: readonly number[];
  /** The fit behind it with residuals, covariance, and `x`, `observed`, `fitted`, `bandLow`, `bandHigh` for a chart. */
  readonly fit?: FitResult;
  readonly warnings: readonly string[];
}
