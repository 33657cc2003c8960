import type { Estimate } from "../../units/estimate.js";
import type { StepFit } from "./stepFitTypes.js";

/** What a model must explain of a response, noise from sample to sample apart. */
const leastExplained = 0.8;
/** The widest interval of a time constant, high over low, that is worth a number. */
const widestTime = 10;

/**
 * The fit as it may be used: not `determined`, with the reason, where the model explains too little of the response or
 * the record settles neither gain nor time constant. Nothing reads the numbers of a fit that is not determined, so they
 * are left out.
 *
 * @param values the response that was fitted
 * @param noise standard deviation of its noise from sample to sample
 */
export function believed(fit: StepFit, values: Float64Array, noise: number): StepFit {
  if (!fit.determined || fit.fit === undefined) return fit;
  const explained = explainedOf(fit.fit.sumOfSquares, values, noise);
  const missing = reasonAgainst(fit, explained);
  return missing === undefined ? { ...fit, explained } : { ...undeterminedFit(fit, missing), explained };
}

/** The fit without its numbers, and why. */
export function undeterminedFit(fit: StepFit, missing: string): StepFit {
  const { stepTime, candidates, effectiveSamples, excluded, warnings } = fit;
  return {
    model: fit.model,
    drift: fit.drift,
    determined: false,
    missing,
    stepTime,
    candidates,
    effectiveSamples,
    excluded,
    warnings,
  };
}

/** Fraction of the variation about the mean that is explained, with what the noise accounts for taken out of both. */
function explainedOf(left: number, values: Float64Array, noise: number): number {
  const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
  const about = values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
  const random = noise * noise * values.length;
  const signal = about - random;
  return signal > 0 ? Math.max(0, 1 - Math.max(0, left - random) / signal) : 0;
}

function reasonAgainst(fit: StepFit, explained: number): string | undefined {
  if (!(explained >= leastExplained))
    return `A response that one of the step models explains: the best explains ${Math.round(100 * explained)} % of it.`;
  const { timeConstant, gain, rate, loopGain, naturalFrequency } = fit;
  const open = (e: Estimate | undefined): boolean =>
    e !== undefined && !(Number.isFinite(e.high) && e.low > 0 && e.high < widestTime * e.low);
  if (open(timeConstant) || open(naturalFrequency) || open(loopGain))
    return "A longer record after the step: this one does not settle the time constant.";
  const zero = (e: Estimate | undefined): boolean =>
    e !== undefined && !(e.low * e.high > 0 && Number.isFinite(e.high - e.low));
  if (zero(gain) || zero(rate)) return "A larger step: the size of the response is not told from zero.";
  return undefined;
}
