import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../numeric/series/autoregression.js";
import { fitStepModel, type StepModelFit } from "./fitStepModel.js";
import { columnsOf, type PreparedStep } from "./preparedStep.js";
import type { StepCandidate, StepModelName, StepResponseOptions } from "./stepFitTypes.js";
import { dampingOf, modelName } from "./stepNaming.js";
import { fillShape, type StepShape } from "./stepShapes.js";
import { type StepStart, stepStart } from "./stepStart.js";

const allShapes: readonly StepShape[] = [
  "first-order",
  "first-order-dead-time",
  "second-order",
  "second-order-critical",
];

/** Fits one shape from the closed-form starts; dead time from a second start where the first is doubtful. */
function fitShape(
  s: PreparedStep,
  start: StepStart,
  shape: StepShape,
  drift: boolean,
  heldInitial: number | undefined,
  first: StepModelFit | undefined,
): StepModelFit | undefined {
  // Close enough to compare models by; the chosen one is taken to the end afterwards.
  const options = { drift, heldInitial, tolerance: 0.02, most: 25 };
  switch (shape) {
    case "first-order":
      return fitStepModel(s, shape, start.first, 0, options);
    case "second-order-critical":
      return fitStepModel(s, shape, Math.max(1e-5, start.a / 2), 0, options);
    case "second-order": {
      const found = fitStepModel(s, shape, start.a, start.b, options);
      // Nearly first order reaches b = 0 and must do no worse than it.
      if (first && found && found.sumOfSquares > first.sumOfSquares * (1 + 1e-9)) {
        const again = fitStepModel(s, shape, first.a * 1.05, 0.05 * first.a * first.a, options);
        if (again && again.sumOfSquares < found.sumOfSquares) return again;
      }
      return found;
    }
    case "first-order-dead-time": {
      let best = fitStepModel(s, shape, start.delayed[0], start.delayed[1], options);
      if (first && (!best?.converged || best.sumOfSquares > first.sumOfSquares * (1 + 1e-9))) {
        for (const share of [0.02, 0.2, 0.6]) {
          const again = fitStepModel(s, shape, first.a * (1 - share / 2), first.a * share, options);
          if (again && (!best || again.sumOfSquares < best.sumOfSquares)) best = again;
        }
      }
      return best;
    }
  }
}

/** Shapes of the two fits with the smallest residuals; all where there are none. */
function twoBest(fits: readonly StepModelFit[]): readonly StepShape[] {
  if (fits.length < 2) return allShapes;
  return [...fits]
    .sort((a, b) => a.sumOfSquares - b.sumOfSquares)
    .slice(0, 2)
    .map((fit) => fit.shape);
}

/** Residual sum of squares of "no response": a constant, or a line. */
function noResponse(s: PreparedStep, drift: boolean, held: number | undefined): number {
  const [s0, s1, s2, y0, y1, y2] = s.sums;
  if (held !== undefined) {
    const along = y1 - held * s1;
    const about = y2 - 2 * held * y0 + held * held * s0;
    return drift && s2 > 0 ? about - (along * along) / s2 : about;
  }
  const rest = y2 - (y0 * y0) / s0;
  if (!drift) return rest;
  const stt = s2 - (s1 * s1) / s0;
  const sty = y1 - (s1 * y0) / s0;
  return stt > 0 ? rest - (sty * sty) / stt : rest;
}

/** Scaled residuals of a model over all samples. */
function residualsOf(
  s: PreparedStep,
  fit: StepModelFit,
  time: Float64Array,
  stepTime: number,
  y: Float64Array,
) {
  const columns = columnsOf(s);
  fillShape(fit.shape, fit.a, fit.b, s, columns);
  const out = new Float64Array(s.count);
  for (let i = 0; i < s.count; i++) {
    const g = i < s.before ? 0 : columns.g[i - s.before];
    const t = fit.drift ? (time[i] - stepTime) / s.span : 0;
    out[i] = (y[i] - s.center) / s.height - (fit.initial + fit.slope * t + fit.amplitude * g);
  }
  return out;
}

/** What is tried on a record, and what the search works with. */
interface StepSearch {
  readonly s: PreparedStep;
  readonly t: Float64Array;
  readonly y: Float64Array;
  readonly stepTime: number;
  readonly options: StepResponseOptions;
  readonly held: number | undefined;
}

/** Fewest samples of a period of ringing that show it: two false samples look like a faster one (the theorem of
 * sampling asks for more than two). */
const leastOfPeriod = 3;

/** Whether the samples after a step are close enough to show the ringing of a fit. */
function isSampled({ shape, a, b }: StepModelFit, { t }: PreparedStep): boolean {
  if (shape !== "second-order" || !(b > 0)) return true;
  const damping = dampingOf(a, b);
  if (!(damping < 1)) return true;
  const frequency = Math.sqrt((1 - damping * damping) / b);
  return (frequency * leastOfPeriod) / Math.max(1, t.length - 1) < 2 * Math.PI;
}

/** Fits of every shape worth trying, without and with a slope. */
export function fitShapes({ s, options, held }: StepSearch): StepModelFit[] {
  const start = stepStart(s);
  const shapes = options.shapes ?? allShapes;
  const drift = options.drift ?? "auto";
  const fits: StepModelFit[] = [];
  for (const withDrift of drift === "auto" ? [false, true] : [drift]) {
    let first: StepModelFit | undefined;
    let second: StepModelFit | undefined;
    // With a slope only the shapes that did best without one are worth trying.
    const hopeful = withDrift && drift === "auto" ? twoBest(fits) : undefined;
    for (const shape of allShapes) {
      if (!shapes.includes(shape) && !(shape === "first-order" && shapes.length > 1)) continue;
      if (hopeful && !hopeful.includes(shape)) continue;
      // Critical damping is a special case of the second order: pointless where that is far from it.
      if (shape === "second-order-critical" && shapes.includes("second-order") && !hopeful) {
        const zeta = second ? dampingOf(second.a, second.b) : 0;
        if (!(zeta > 0.5 && zeta < 2.5)) continue;
      }
      const fit = fitShape(s, start, shape, withDrift, held, first);
      if (!fit) continue;
      if (shape === "first-order") first = fit;
      if (shape === "second-order") second = fit;
      if (!shapes.includes(shape)) continue;
      // A response slower than the record by far is a line, not a measured time constant.
      if (Number.isFinite(fit.sumOfSquares) && timeScale(fit) < longestScale && isSampled(fit, s))
        fits.push(fit);
    }
  }
  return fits;
}

/** A fit, or no response, with its score. */
interface ScoredStep {
  readonly fit?: StepModelFit;
  readonly model: StepModelName;
  readonly drift: boolean;
  readonly parameters: number;
  readonly sum: number;
  readonly score: number;
}

/** Fits and the models without a response, the most probable first, by how many samples are worth counting. */
export function scoreSteps(
  search: StepSearch,
  fits: readonly StepModelFit[],
): { scored: ScoredStep[]; effective: number } {
  const { s, t, y, stepTime, options, held } = search;
  // Below this the sums the search works with cannot tell one model from another (noise of a few millionths of the
  // signal).
  const floor = 1e-13 * s.sums[5];
  const richest = fits.reduce((a, b) => (b.sumOfSquares < a.sumOfSquares ? b : a));
  const order = Math.min(8, highestOrder(s.count));
  let effective = s.count;
  if (fits.length > 1 || options.shapes === undefined) {
    const r = residualsOf(s, richest, t, stepTime, y);
    const inflation = varianceInflation(fitAutoregression(autocovariances(r, order), s.count, order));
    effective = Math.max(Math.min(s.count, 10), Math.min(s.count, s.count / inflation));
  }
  const scoreOf = (sumOfSquares: number, parameters: number): number =>
    effective * Math.log(Math.max(sumOfSquares, floor) / s.count) + parameters * Math.log(effective);
  const scored: ScoredStep[] = fits.map((fit) => ({
    fit,
    model: modelName(fit),
    drift: fit.drift,
    parameters: fit.parameters,
    sum: fit.sumOfSquares,
    score: scoreOf(fit.sumOfSquares, fit.parameters),
  }));
  const drift = options.drift ?? "auto";
  for (const withDrift of drift === "auto" ? [false, true] : [drift]) {
    const sum = noResponse(s, withDrift, held);
    const parameters = (held === undefined ? 1 : 0) + (withDrift ? 1 : 0);
    scored.push({ model: "none", drift: withDrift, parameters, sum, score: scoreOf(sum, parameters) });
  }
  return { scored: bestFirst(scored), effective };
}

/** Models from the simplest on; of two that fit alike the first is taken. */
const fromSimple: readonly StepModelName[] = [
  "none",
  "first-order",
  "integrator",
  "first-order-dead-time",
  "integrator-lag",
  "second-order-critical",
];
/** Scores that are no further apart are alike: where one model ends in another, rounding alone parts the two. */
const alike = 0.01;

/** Candidates by their scores, the simplest of those that are alike best first: the last bit of a number chooses
 * none. */
export function bestFirst<T extends Pick<StepCandidate, "model" | "parameters" | "score">>(
  candidates: readonly T[],
): T[] {
  const sorted = [...candidates].sort((a, b) => a.score - b.score || a.parameters - b.parameters);
  const place = ({ model }: T): number => {
    const at = fromSimple.indexOf(model);
    return at < 0 ? fromSimple.length : at;
  };
  const near = sorted.filter(({ score }) => !(score - sorted[0].score >= alike));
  const first = near.reduce((a, b) => ((b.parameters - a.parameters || place(b) - place(a)) < 0 ? b : a));
  return [first, ...sorted.filter((one) => one !== first)];
}

/**
 * Standard deviation of the size of the response between the shapes that were tried, about the best one, in the
 * record's scale: a shape chosen for being simple leaves out a short lag, and its size takes that up. Weights by
 * Akaike's criterion on as many samples as are independent (Burnham and Anderson, Model Selection and Multimodel
 * Inference, 2002, 4.3: the unconditional standard error).
 */
export function rivalSpread(scored: readonly ScoredStep[], effective: number): number {
  const best = scored[0].fit;
  const rivals = scored.flatMap(({ fit, score, parameters, drift }) =>
    fit === undefined || best === undefined || drift !== best.drift
      ? []
      : [{ fit, score: score - parameters * (Math.log(effective) - 2) }],
  );
  if (best === undefined || rivals.length < 2) return 0;
  const least = Math.min(...rivals.map((r) => r.score));
  let sum = 0;
  let total = 0;
  for (const { fit, score } of rivals) {
    const weight = Math.exp((least - score) / 2);
    total += weight;
    sum += weight * (fit.amplitude - best.amplitude) ** 2;
  }
  return Math.sqrt(sum / total);
}

export function candidatesOf(scored: readonly ScoredStep[], height: number): StepCandidate[] {
  let total = 0;
  for (const c of scored) total += Math.exp((scored[0].score - c.score) / 2);
  return scored.map((c) => ({
    model: c.model,
    drift: c.drift,
    parameters: c.parameters,
    sumOfSquares: c.sum * height * height,
    score: c.score,
    weight: Math.exp((scored[0].score - c.score) / 2) / total,
  }));
}

/** Slowest time of a response, in lengths of the record, that is still a response and not a line. */
export const longestScale = 30;

/** Time constant with dead time, or the sum of the time constants, in lengths of the record. */
export function timeScale(fit: StepModelFit): number {
  return fit.shape.startsWith("second") ? fit.a : fit.a + fit.b;
}
