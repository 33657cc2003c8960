import { linearRegression } from "../../numeric/linear/linearRegression.js";
import { type SearchedFit, searchLeastSquares } from "../../numeric/optimise/fitLeastSquares.js";
import type { FitParameterInput, LeastSquaresOptions } from "../../numeric/optimise/types.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../numeric/series/autoregression.js";
import { quantile } from "../../numeric/series/median.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import { bestFirst } from "./chooseStep.js";
import { type CurveOfStep, curveStepFit, type IdentifyStepOptions } from "./curveStepFit.js";
import { type SearchedStep, searchStepResponse } from "./fitStepResponse.js";
import type { StepCandidate, StepFit } from "./stepFitTypes.js";
import { believed, undeterminedFit } from "./stepGate.js";
import { curvesFor, type StepCurveModel, type StepSketch } from "./stepKinds.js";

/**
 * Reads a step response with the physics of what was stepped: the four linear shapes of `fitStepResponse`, and those
 * that only this kind of input makes: an integrator (with a lag, or with
 * friction) for a torque on a free shaft, first order with Coulomb friction where the shaft stops or reverses, a second
 * order with a zero for a speed loop with a PI
 * controller, a slew limit for a position loop. The choice is by the Bayesian information criterion (Schwarz, 1978) on
 * as many samples as are independent.
 *
 * A fit that explains less than it should, or whose interval is wider than a number is worth, is not `determined`, and
 * `missing` says why.
 *
 * @example
 * identifyStep(time, speed, { input: "torque", stepTime: 0.5, commandStep: 2, unit: "rad/s", commandUnit: "A" }).model; // "integrator"
 */
export function identifyStep(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: IdentifyStepOptions,
): StepFit {
  const seen = { time: Float64Array.from(time), values: Float64Array.from(values) };
  const lead = leadOf(seen.time, seen.values, options.stepTime ?? seen.time[0]);
  const first = lead.flat || options.fitFrom === undefined ? 0 : rowAt(seen.time, options.fitFrom);
  const linear = searchStepResponse(seen.time.subarray(first), seen.values.subarray(first), options);
  const spikes = new Set(linear.excluded);
  const kept = Array.from(time, (_, i) => i).filter(
    (i) => i >= first && !spikes.has(i - first) && Number.isFinite(time[i]) && Number.isFinite(values[i]),
  );
  const stepTime = linear.stepTime;
  const t = Float64Array.from(kept, (i) => time[i] - stepTime);
  const y = Float64Array.from(kept, (i) => values[i]);
  const sketch = sketchOf(t, y, options.commandTo === 0);
  if (sketch === null) return linear.describe();
  if (linear.determined && stillMoving(lead, sketch))
    return undeterminedFit(
      linear.describe(),
      "A response at rest or steady before the step: the one before it had not ended.",
    );
  const noise = noiseLevel(y);
  // Nothing is left to explain, and what was found is believed: no other shape can do better.
  const left = linear.left?.sumOfSquares ?? Number.POSITIVE_INFINITY;
  if (linear.determined && left < 1.05 * noise * noise * y.length) {
    const asLinear = believed(linear.describe(), y, noise);
    if (asLinear.determined) return asLinear;
  }
  const curves = fitCurves(curvesFor(options.input, sketch), t, y, left);
  const { winner, candidates, independent } = choose(linear, curves, y.length);
  if (winner === null) return believed({ ...linear.describe(), candidates }, y, noise);
  const found = curveStepFit(winner, t, y, options, { stepTime, candidates, independent, linear });
  return believed(found, y, noise);
}

/** What can be seen of a response at a glance; null where too little lies after the step. */
function sketchOf(t: Float64Array, y: Float64Array, off: boolean): StepSketch | null {
  const n = t.length;
  let before = 0;
  while (before < n && t[before] < 0) before++;
  const after = n - before;
  if (after < 8) return null;
  const mean = (from: number, to: number): number =>
    y.subarray(from, to).reduce((sum, v) => sum + v, 0) / (to - from);
  const noise = 3 * noiseLevel(y);
  const first = before > 0 ? mean(0, before) : y[0];
  const initial = Math.abs(first) <= noise ? 0 : first;
  const end = mean(n - Math.max(3, Math.floor(after / 10)), n);
  const span = t[n - 1];
  let at = before;
  while (at < n && (y[at] - initial) / (end - initial) < 0.632) at++;
  const reach = Math.max(2, Math.floor(after / 20));
  let steepest = 0;
  for (let i = before; i + reach < n; i++) {
    const slope = (y[i + reach] - y[i]) / (t[i + reach] - t[i]);
    if (Math.abs(slope) > Math.abs(steepest)) steepest = slope;
  }
  return { initial, end, span, time63: at < n ? t[at] : 0, steepest, noise, off };
}

/** What lies before a step. */
interface Lead {
  /** Slope of the straight line through it. */
  readonly slope: number;
  /** Length, s. */
  readonly length: number;
  /** The line rises or falls by no more than the noise, or by little beside what comes after the step. */
  readonly flat: boolean;
}

/** Change before a step beside the change after it that still counts as steady. */
const steady = 0.05;

function leadOf(time: Float64Array, values: Float64Array, stepTime: number): Lead {
  const rows: number[] = [];
  for (let i = 0; i < time.length && time[i] < stepTime; i++)
    if (time[i] - time[i] === 0 && values[i] - values[i] === 0) rows.push(i);
  if (rows.length < 5) return { slope: 0, length: 0, flat: true };
  const t = rows.map((i) => time[i] - stepTime);
  const y = Float64Array.from(rows, (i) => values[i]);
  const fit = linearRegression(
    t.map((v) => [1, v]),
    y,
    { robust: false, leastBlock: 1 },
  );
  const length = t[t.length - 1] - t[0];
  const slope = fit?.coefficients[1] ?? (y[y.length - 1] - y[0]) / length;
  const tail = values.subarray(values.length - Math.max(3, Math.floor((values.length - rows.length) / 10)));
  const change = Math.abs(quantile(tail, 0.5) - quantile(y, 0.5));
  return { slope, length, flat: Math.abs(slope) * length <= Math.max(3 * noiseLevel(y), steady * change) };
}

/** First row at or after a time. */
function rowAt(time: Float64Array, from: number): number {
  let i = 0;
  while (i < time.length && !(time[i] >= from)) i++;
  return i;
}

/** What the response still does before the step, over the time it then takes, beside its whole change. */
const mostBefore = 0.2;

/**
 * Whether the response to what went before had not ended when the step came: the end of one response and the start of
 * the next cannot be told apart.
 */
function stillMoving({ slope, length, flat }: Lead, s: StepSketch): boolean {
  const took = s.time63 > 0 ? s.time63 : s.span;
  return (
    !flat &&
    Math.abs(slope) * took > mostBefore * Math.abs(s.end - s.initial) &&
    Math.abs(slope) * length > s.noise
  );
}

/** Most points that are searched over; the fit itself is to all of them. */
const searchPoints = 250;

/**
 * A curve that leaves so many times the squares of the best one on the thinned record is not taken to the end: with ten
 * independent samples and more it weighs less than a hundredth beside it, three parameters more or less included.
 */
const hopeless = 6;

/**
 * Each curve by the best of its searches from its starts over a thinned record, and, unless it is hopeless there, taken
 * to the end over the whole; without those that end badly.
 *
 * @param left sum of squares over the whole record that the best of the other shapes leaves
 */
function fitCurves(
  models: readonly StepCurveModel[],
  t: Float64Array,
  y: Float64Array,
  left: number,
): CurveOfStep[] {
  const by = Math.ceil(t.length / searchPoints);
  const some = (x: Float64Array): Float64Array => (by === 1 ? x : x.filter((_, i) => i % by === by >> 1));
  const [thinTime, thinValues] = [some(t), some(y)];
  const more = t.length / thinTime.length;
  const begun = models.flatMap((model) => bestStart(model, thinTime, thinValues) ?? []);
  const least = Math.min(left / more, ...begun.map(({ fit }) => fit.sumOfSquares));
  return begun
    .map(({ model, fit }): CurveOfStep => {
      if (fit.sumOfSquares > hopeless * least)
        return { model, fit: { ...fit, sumOfSquares: more * fit.sumOfSquares } };
      const near = model.starts[0].map((q, j) => (q.fixed ? q : { ...q, start: fit.values[j] }));
      return { model, fit: fitTo(model, near, t, y, { maxIterations: 60, tolerance: 1e-4 }) };
    })
    .filter(({ model, fit }) => Number.isFinite(fit.sumOfSquares) && !model.simpler?.(fit.values));
}

/** The best of the searches of a curve from each of its starts; nothing where none ends well. */
function bestStart(model: StepCurveModel, t: Float64Array, y: Float64Array): CurveOfStep | undefined {
  let best: SearchedFit | undefined;
  for (const parameters of model.starts) {
    // A record with spikes or a clock that stands gives no start for some models.
    if (!parameters.every(({ start }) => Number.isFinite(start))) continue;
    const fit = fitTo(model, parameters, t, y, { maxIterations: 60, tolerance: 1e-3 });
    if (Number.isFinite(fit.sumOfSquares) && (best === undefined || fit.sumOfSquares < best.sumOfSquares))
      best = fit;
  }
  return best === undefined ? undefined : { model, fit: best };
}

function fitTo(
  model: StepCurveModel,
  parameters: readonly FitParameterInput[],
  t: Float64Array,
  y: Float64Array,
  options: LeastSquaresOptions,
): SearchedFit {
  const { straight } = model;
  const shape = new Float64Array(t.length);
  // The shape once for all values of what it is only shifted and scaled by: a derivative by those costs no curve.
  const known = new Float64Array(parameters.length).fill(Number.NaN);
  const shapeAt = (p: Float64Array): void => {
    let same = true;
    for (let j = straight; j < p.length; j++) if (known[j] !== p[j]) same = false;
    if (same && straight > 0) return;
    known.set(p);
    if (straight > 0) known[0] = 0;
    if (straight > 1) known[1] = 1;
    model.curve(t, known, shape);
  };
  return searchLeastSquares(
    {
      count: t.length,
      parameters,
      residuals: (p, r) => {
        shapeAt(p);
        const from = straight > 0 ? p[0] : 0;
        const by = straight > 1 ? p[1] : 1;
        for (let i = 0; i < r.length; i++) r[i] = y[i] - (from + by * shape[i]);
      },
    },
    { ...options, retries: false },
  );
}

/** What a fit leaves. */
interface Left {
  readonly sumOfSquares: number;
  readonly residuals: Float64Array;
  readonly observed?: Float64Array;
}

/**
 * All candidates on one scale: the linear shapes and the curves. `winner` is null where a linear shape (or none) is
 * best.
 */
function choose(
  linear: SearchedStep,
  curves: readonly CurveOfStep[],
  count: number,
): { winner: CurveOfStep | null; candidates: StepCandidate[]; independent: number } {
  const richest = [linear.left, ...curves.map((c) => c.fit)].reduce<Left | undefined>(
    (a, b) => (b !== undefined && (a === undefined || b.sumOfSquares < a.sumOfSquares) ? b : a),
    undefined,
  );
  if (richest === undefined)
    return { winner: null, candidates: [...linear.candidates], independent: linear.effectiveSamples };
  const order = Math.min(8, highestOrder(count));
  const model = fitAutoregression(autocovariances(richest.residuals, order), count, order);
  const independent = Math.max(Math.min(count, 10), Math.min(count, count / varianceInflation(model)));
  const floor = 1e-13 * (richest.observed ?? richest.residuals).reduce((sum, v) => sum + v * v, 0);
  const score = (sum: number, parameters: number): number =>
    independent * Math.log(Math.max(sum, floor, 1e-300) / count) + parameters * Math.log(independent);
  const all = bestFirst(
    [
      ...linear.candidates.map((c) => ({ ...c, curve: null as CurveOfStep | null })),
      ...curves.map((curve) => ({
        model: curve.model.name,
        drift: false,
        parameters: curve.fit.moving,
        sumOfSquares: curve.fit.sumOfSquares,
        curve: curve as CurveOfStep | null,
      })),
    ].map((c) => ({ ...c, score: score(c.sumOfSquares, c.parameters) })),
  );
  let total = 0;
  for (const c of all) total += Math.exp((all[0].score - c.score) / 2);
  const candidates = all.map(({ curve: _, ...c }) => ({
    ...c,
    weight: Math.exp((all[0].score - c.score) / 2) / total,
  }));
  return { winner: all[0].curve, candidates, independent };
}
