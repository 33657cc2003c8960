import { studentT } from "../../numeric/distributions/studentT.js";
import {
  autoregressiveCovariance,
  neweyWestCovariance,
  normalInverse,
} from "../../numeric/optimise/covariance.js";
import { bandHalfWidth } from "../../numeric/optimise/fitLeastSquares.js";
import { residualDiagnostics } from "../../numeric/optimise/residualDiagnostics.js";
import type { CovarianceKind, FitParameter, FitResult } from "../../numeric/optimise/types.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../numeric/series/autoregression.js";
import { robustScale } from "../../numeric/series/median.js";
import type { Estimate } from "../../units/estimate.js";
import type { StepCurveName } from "./stepKinds.js";
import { columnsOf, fitStepModel, type PreparedStep, prepareStep, type StepModelFit } from "./stepModel.js";
import { fillShape, type StepShape } from "./stepShapes.js";
import { type StepStart, stepStart } from "./stepStart.js";

/** What a step response turned out to be. `none`: no response beyond the noise. The last ones only where what was stepped is known (`identifyStep`). */
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

/** What a step response says. Times in s, angular frequencies in rad/s. Quantities that a model does not have are absent. */
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
  /** Integrator: change of the slope by the step, and the same over the command's step. With friction: what the input alone gives. */
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

const allShapes: readonly StepShape[] = [
  "first-order",
  "first-order-dead-time",
  "second-order",
  "second-order-critical",
];

/** Damping ratio of 1/(b s² + a s + 1). */
function dampingOf(a: number, b: number): number {
  return a / (2 * Math.sqrt(b));
}

function modelName(fit: StepModelFit): StepModelName {
  if (fit.shape !== "second-order") return fit.shape;
  return dampingOf(fit.a, fit.b) < 1 ? "second-order-underdamped" : "second-order-overdamped";
}

/** Finite samples in ascending time; what was dropped is named. */
function cleanRecord(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
): { t: Float64Array; y: Float64Array; from?: Int32Array; warnings: string[] } {
  const warnings: string[] = [];
  const n = time.length;
  let clean = true;
  for (let i = 0; i < n && clean; i++)
    if (!Number.isFinite(time[i]) || !Number.isFinite(values[i]) || (i > 0 && time[i] < time[i - 1]))
      clean = false;
  if (clean) return { t: Float64Array.from(time), y: Float64Array.from(values), warnings };
  let index: number[] = [];
  let ordered = true;
  for (let i = 0; i < time.length; i++) {
    if (!Number.isFinite(time[i]) || !Number.isFinite(values[i])) continue;
    if (index.length > 0 && time[i] < time[index[index.length - 1]]) ordered = false;
    index.push(i);
  }
  if (index.length < time.length)
    warnings.push(
      `${time.length - index.length} of ${time.length} samples are not finite and were left out.`,
    );
  if (!ordered) {
    warnings.push("Times are not ascending; samples were sorted by time.");
    index = index.sort((a, b) => time[a] - time[b]);
  }
  const from = Int32Array.from(index);
  return {
    t: Float64Array.from(from, (i) => time[i]),
    y: Float64Array.from(from, (i) => values[i]),
    from,
    warnings,
  };
}

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
  const h = held ?? 0;
  const b0 = y0 - h * s0;
  const b1 = y1 - h * s1;
  const bb = y2 - 2 * h * y0 + h * h * s0;
  if (held !== undefined) return drift && s2 > 0 ? bb - (b1 * b1) / s2 : bb;
  const rest = bb - (b0 * b0) / s0;
  if (!drift) return rest;
  const stt = s2 - (s1 * s1) / s0;
  const sty = b1 - (s1 * b0) / s0;
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
  fillShape(fit.shape, fit.a, fit.b, s.t, s.spacing, columns.g, columns.da, columns.db);
  const out = new Float64Array(s.count);
  for (let i = 0; i < s.count; i++) {
    const g = i < s.before ? 0 : columns.g[i - s.before];
    const t = fit.drift ? (time[i] - stepTime) / s.span : 0;
    out[i] = (y[i] - s.center) / s.height - (fit.initial + fit.slope * t + fit.amplitude * g);
  }
  return out;
}

/**
 * Reads a step response: which of first order, first order with dead time, and second order (under-, critically or overdamped) it
 * is, with or without a steady slope, and its gain, time constants, damping, natural frequency and dead time with intervals.
 *
 * The model is chosen by the Bayesian information criterion (Schwarz 1978) on as many samples as are effectively independent: the
 * residuals' autoregressive model says how many. Intervals allow for the same correlation. Time constants and frequencies have
 * intervals symmetric on a logarithmic scale.
 *
 * @param time sample times, s
 * @param values sampled response, in `options.unit`
 * @throws RangeError when the arrays differ in length or an option is out of range
 * @example
 * const time = Float64Array.from({ length: 500 }, (_, i) => i * 0.002);
 * const values = time.map((t) => 40 * (1 - Math.exp(-t / 0.1)));
 * const fit = fitStepResponse(time, values, { unit: "rad/s" });
 * fit.model; // => "first-order"
 * fit.timeConstant?.value; // => 0.1000 (s)
 */
export function fitStepResponse(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: StepResponseOptions = {},
): StepFit {
  if (time.length !== values.length)
    throw new RangeError(`there are ${time.length} times and ${values.length} values; they must be as many.`);
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  if (options.commandStep !== undefined && !(Math.abs(options.commandStep) > 0))
    throw new RangeError(`commandStep is ${options.commandStep}; give the command's change, not zero.`);
  const record = cleanRecord(time, values);
  const found = readStep(record.t, record.y, options, level);
  found.warnings.unshift(...record.warnings);
  if ((options.dropSpikes ?? true) && found.fit) {
    const spikes = isolatedSpikes(found.fit.residuals);
    if (spikes.length > 0 && spikes.length <= Math.max(3, 0.02 * record.t.length)) {
      const gone = new Set(spikes);
      const keep = (_: number, i: number): boolean => !gone.has(i);
      const again = readStep(record.t.filter(keep), record.y.filter(keep), options, level);
      if (again.determined) {
        again.warnings.unshift(
          ...record.warnings,
          `${spikes.length} isolated ${spikes.length === 1 ? "spike was" : "spikes were"} left out.`,
        );
        return { ...again, excluded: spikes.map((i) => record.from?.[i] ?? i) };
      }
    }
  }
  return found;
}

/** Samples beyond 6 robust standard deviations that stand alone or in runs of at most 3. */
function isolatedSpikes(r: Float64Array): number[] {
  const deviation = robustScale(r);
  const spikes: number[] = [];
  if (!(deviation > 0)) return spikes;
  const limit = 6 * deviation;
  for (let i = 0; i < r.length; ) {
    if (Math.abs(r[i]) <= limit) {
      i++;
      continue;
    }
    let j = i;
    while (j < r.length && Math.abs(r[j]) > limit) j++;
    if (j - i <= 3) for (let k = i; k < j; k++) spikes.push(k);
    i = j;
  }
  return spikes;
}

type Writable<T> = { -readonly [K in keyof T]: T[K] };

function readStep(
  t: Float64Array,
  y: Float64Array,
  options: StepResponseOptions,
  level: number,
): Omit<StepFit, "warnings"> & { warnings: string[] } {
  const warnings: string[] = [];
  const stepTime = options.stepTime ?? (t.length > 0 ? t[0] : 0);
  const s = prepareStep(t, y, stepTime);
  const after = s.count - s.before;
  const nothing = (missing: string, candidates: StepCandidate[] = [], effectiveSamples = 0) => ({
    model: "none" as const,
    drift: false,
    determined: false,
    missing,
    stepTime,
    candidates,
    effectiveSamples,
    excluded: [],
    warnings,
  });
  if (after < 8)
    return nothing(`Only ${after} samples lie after the step at ${stepTime} s; at least 8 are needed.`);
  if (!(s.sums[5] > 0)) return nothing("The values never change: there is no response to fit.");
  const held = options.initial === undefined ? undefined : (options.initial - s.center) / s.height;
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
      if (Number.isFinite(fit.sumOfSquares) && timeScale(fit) < longestScale) fits.push(fit);
    }
  }
  // Below this the sums the search works with cannot tell one model from another (noise of a few millionths of the signal).
  const floor = 1e-13 * s.sums[5];
  let richest: StepModelFit | undefined;
  for (const fit of fits) if (!richest || fit.sumOfSquares < richest.sumOfSquares) richest = fit;
  if (!richest)
    return nothing("No step-response model could be fitted: the record is too short or too flat.");
  const order = Math.min(8, highestOrder(s.count));
  let effective = s.count;
  if (fits.length > 1 || options.shapes === undefined) {
    const r = residualsOf(s, richest, t, stepTime, y);
    const inflation = varianceInflation(fitAutoregression(autocovariances(r, order), s.count, order));
    effective = Math.max(Math.min(s.count, 10), Math.min(s.count, s.count / inflation));
  }
  const scoreOf = (sumOfSquares: number, parameters: number): number =>
    effective * Math.log(Math.max(sumOfSquares, floor) / s.count) + parameters * Math.log(effective);
  const options0 = drift === "auto" ? [false, true] : [drift];
  const scored: {
    fit?: StepModelFit;
    model: StepModelName;
    drift: boolean;
    parameters: number;
    sum: number;
    score: number;
  }[] = fits.map((fit) => ({
    fit,
    model: modelName(fit),
    drift: fit.drift,
    parameters: fit.parameters,
    sum: fit.sumOfSquares,
    score: scoreOf(fit.sumOfSquares, fit.parameters),
  }));
  for (const withDrift of options0) {
    const sum = noResponse(s, withDrift, held);
    const parameters = (held === undefined ? 1 : 0) + (withDrift ? 1 : 0);
    scored.push({ model: "none", drift: withDrift, parameters, sum, score: scoreOf(sum, parameters) });
  }
  scored.sort((a, b) => a.score - b.score || a.parameters - b.parameters);
  let total = 0;
  for (const c of scored) total += Math.exp((scored[0].score - c.score) / 2);
  const candidates: StepCandidate[] = scored.map((c) => ({
    model: c.model,
    drift: c.drift,
    parameters: c.parameters,
    sumOfSquares: c.sum * s.height * s.height,
    score: c.score,
    weight: Math.exp((scored[0].score - c.score) / 2) / total,
  }));
  const best = scored[0];
  const refined =
    best.fit &&
    fitStepModel(s, best.fit.shape, best.fit.a, best.fit.b, { drift: best.fit.drift, heldInitial: held });
  if (best.fit && refined && !(timeScale(refined) < longestScale))
    return nothing(
      "The record is far too short for the time constant that it suggests.",
      candidates,
      effective,
    );
  if (!best.fit || !refined)
    return nothing(
      best.drift
        ? "The values follow a straight line through the step: no response can be told from it."
        : "The values do not change by more than their noise: no response to the step.",
      candidates,
      effective,
    );
  return describe(
    s,
    refined,
    modelName(refined),
    t,
    y,
    stepTime,
    options,
    level,
    held,
    candidates,
    effective,
    warnings,
  );
}

/** Slowest time of a response, in lengths of the record, that is still a response and not a line. */
const longestScale = 30;

/** Time constant with dead time, or the sum of the time constants, in lengths of the record. */
function timeScale(fit: StepModelFit): number {
  return fit.shape.startsWith("second") ? fit.a : fit.a + fit.b;
}

/** Natural parameters, covariance, estimates and curves of the chosen model. */
function describe(
  s: PreparedStep,
  chosen: StepModelFit,
  model: StepModelName,
  t: Float64Array,
  y: Float64Array,
  stepTime: number,
  options: StepResponseOptions,
  level: number,
  held: number | undefined,
  candidates: StepCandidate[],
  effectiveSamples: number,
  warnings: string[],
): Omit<StepFit, "warnings"> & { warnings: string[] } {
  const m = s.count;
  const unit = options.unit ?? "1";
  const { span, height, center, before } = s;
  const { g, da, db } = columnsOf(s);
  fillShape(chosen.shape, chosen.a, chosen.b, s.t, s.spacing, g, da, db);
  const A = chosen.amplitude * height;
  const initial = center + height * chosen.initial;
  const slope = (height * chosen.slope) / span;
  const names: { name: string; unit: string; value: number }[] = [];
  const columns: Float64Array[] = [];
  const fitted = new Float64Array(m).fill(initial);
  const amplitudeColumn = new Float64Array(m);
  amplitudeColumn.set(g, before);
  for (let i = 0; i < m; i++) fitted[i] += slope * (t[i] - stepTime) + A * amplitudeColumn[i];
  names.push({ name: "initial", unit, value: initial });
  columns.push(new Float64Array(m).fill(1));
  names.push({ name: "amplitude", unit, value: A });
  columns.push(amplitudeColumn);
  if (chosen.drift) {
    names.push({ name: "slope", unit: `${unit}/s`, value: slope });
    columns.push(t.map((v) => v - stepTime));
  }
  const shaped = (byA: number, byB: number): Float64Array => {
    const column = new Float64Array(m);
    for (let i = before; i < m; i++) column[i] = A * (byA * da[i - before] + byB * db[i - before]);
    return column;
  };
  if (chosen.shape === "second-order") {
    const omega = 1 / (Math.sqrt(chosen.b) * span);
    const zeta = dampingOf(chosen.a, chosen.b);
    names.push({ name: "damping ratio", unit: "1", value: zeta });
    columns.push(shaped(2 / (omega * span), 0));
    names.push({ name: "natural frequency", unit: "rad/s", value: omega });
    columns.push(shaped((-2 * zeta) / (omega * omega * span), -2 / (omega ** 3 * span * span)));
  } else if (chosen.shape === "second-order-critical") {
    const T = chosen.a * span;
    names.push({ name: "natural frequency", unit: "rad/s", value: 1 / T });
    columns.push(shaped((-T * T) / span, 0));
  } else {
    names.push({ name: "time constant", unit: "s", value: chosen.a * span });
    columns.push(shaped(1 / span, 0));
    if (chosen.shape === "first-order-dead-time") {
      names.push({ name: "dead time", unit: "s", value: chosen.b * span });
      columns.push(shaped(0, 1 / span));
    }
  }
  const first = held === undefined ? 0 : 1;
  const n = columns.length - first;
  const flat = new Float64Array(m * n);
  for (let j = 0; j < n; j++) flat.set(columns[j + first], j * m);
  const residuals = new Float64Array(m);
  let sumOfSquares = 0;
  for (let i = 0; i < m; i++) {
    residuals[i] = y[i] - fitted[i];
    sumOfSquares += residuals[i] * residuals[i];
  }
  const kind = options.covariance ?? "autoregressive";
  const degrees = Math.max(0, m - n);
  let covariance: Float64Array;
  let reading = degrees;
  if (kind === "independent") {
    const factor = sumOfSquares / Math.max(1, degrees);
    covariance = normalInverse(flat, m, n).inverse.map((v) => v * factor);
  } else {
    const part =
      kind === "autoregressive"
        ? autoregressiveCovariance(flat, residuals, n)
        : neweyWestCovariance(flat, residuals, n);
    covariance = part.covariance;
    reading = part.degreesOfFreedom;
  }
  const q = studentT(level, reading);
  const values = Float64Array.from(names, (p) => p.value);
  const parameters: FitParameter[] = names.map((p, index) => {
    const j = index - first;
    const error = j < 0 ? 0 : Math.sqrt(covariance[j * n + j]);
    return {
      name: p.name,
      value: p.value,
      standardError: error,
      low: p.value - (error === 0 ? 0 : q * error),
      high: p.value + (error === 0 ? 0 : q * error),
      start: Number.NaN,
      lower:
        p.name === "initial" || p.name === "amplitude" || p.name === "slope" ? Number.NEGATIVE_INFINITY : 0,
      upper: Number.POSITIVE_INFINITY,
      fixed: j < 0,
      atBound: p.name === "dead time" && p.value === 0,
      unit: p.unit,
    };
  });

  const method = `step response, ${model.replace(/-/g, " ")}${chosen.drift ? " with slope" : ""}`;
  /** Interval of a function of the parameters by its gradient; on a logarithmic scale for what is positive by nature. */
  const estimate = (
    of: (v: Float64Array) => number,
    code: string,
    how: string,
    positive: boolean,
  ): Estimate => {
    const value = of(values);
    const gradient = new Float64Array(n);
    for (let j = 0; j < n; j++) {
      const moved = values.slice();
      const h = 1e-6 * Math.max(Math.abs(values[j + first]), 1e-9 * (Math.abs(A) + 1e-300));
      moved[j + first] = values[j + first] + h;
      const up = of(moved);
      moved[j + first] = values[j + first] - h;
      gradient[j] = (up - of(moved)) / (2 * h);
    }
    let variance = 0;
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++)
        if (gradient[i] !== 0 && gradient[j] !== 0)
          variance += gradient[i] * gradient[j] * covariance[i * n + j];
    const half = q * Math.sqrt(Math.max(0, variance));
    const wide = Number.isFinite(half) ? half : Number.POSITIVE_INFINITY;
    const ratio = positive && value > 0 ? Math.exp(wide / value) : 0;
    return {
      value,
      low: ratio > 0 ? value / ratio : value - wide,
      high: ratio > 0 ? value * ratio : value + wide,
      unit: code,
      method: how,
      level,
      samples: m,
    };
  };
  const at = (name: string): number => names.findIndex((p) => p.name === name);
  const one = (name: string, positive: boolean): Estimate | undefined => {
    const index = at(name);
    if (index < 0) return undefined;
    return estimate((v) => v[index], names[index].unit, method, positive);
  };
  const command = options.commandStep ?? 1;
  const gainUnit =
    options.commandUnit && options.commandUnit !== "1" ? `${unit}/${bracket(options.commandUnit)}` : unit;
  const out: Partial<Writable<StepFit>> = {
    initial: one("initial", false),
    amplitude: one("amplitude", false),
    final: estimate((v) => v[0] + v[1], unit, method, false),
    gain: estimate((v) => v[1] / command, gainUnit, `${method}, amplitude over the command's step`, false),
    slope: one("slope", false),
  };
  const z = at("damping ratio");
  const w = at("natural frequency");
  if (model === "first-order" || model === "first-order-dead-time") {
    out.timeConstant = one("time constant", true);
    if (model === "first-order-dead-time") {
      const dead = one("dead time", false) as Estimate;
      out.deadTime = { ...dead, low: Math.max(0, dead.low) };
    }
  } else if (model === "second-order-critical") {
    out.naturalFrequency = one("natural frequency", true);
    out.timeConstant = estimate((v) => 1 / v[w], "s", `${method}, both time constants`, true);
    out.fastTimeConstant = out.timeConstant;
    out.dampingRatio = {
      value: 1,
      low: 1,
      high: 1,
      unit: "1",
      method: `${method}: critical damping does as well as any`,
      level,
      samples: m,
    };
  } else {
    out.dampingRatio = one("damping ratio", true);
    out.naturalFrequency = one("natural frequency", true);
    if (model === "second-order-underdamped") {
      out.timeConstant = estimate((v) => 1 / (v[z] * v[w]), "s", `${method}, envelope 1/(zeta omega)`, true);
      out.dampedFrequency = estimate(
        (v) => v[w] * Math.sqrt(Math.max(0, 1 - v[z] * v[z])),
        "rad/s",
        method,
        true,
      );
    } else {
      const root = (v: Float64Array): number => Math.sqrt(Math.max(0, v[z] * v[z] - 1));
      out.timeConstant = estimate((v) => (v[z] + root(v)) / v[w], "s", `${method}, slow time constant`, true);
      out.fastTimeConstant = estimate(
        (v) => 1 / (v[w] * (v[z] + root(v))),
        "s",
        `${method}, fast time constant`,
        true,
      );
    }
  }

  const jacobian = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) jacobian[i * n + j] = -flat[j * m + i];
  const half = bandHalfWidth(jacobian, covariance, m, n, q);
  const correlation = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      correlation[i * n + j] =
        i === j ? 1 : covariance[i * n + j] / Math.sqrt(covariance[i * n + i] * covariance[j * n + j]);
  const recorded = t[m - 1] - stepTime;
  const slowest = out.timeConstant?.value ?? 0;
  if (recorded < 2 * slowest)
    warnings.push(
      `The record ends ${(recorded / slowest).toFixed(1)} time constants after the step: the final value is extrapolated.`,
    );
  const rival = candidates[1];
  if (rival && candidates[0].weight < 0.9 && rival.model !== "none")
    warnings.push(
      `The choice of model is not clear: ${rival.model.replace(/-/g, " ")}${rival.drift ? " with slope" : ""} has ${Math.round(rival.weight * 100)} % of the weight.`,
    );
  const deviation = degrees > 0 ? Math.sqrt(sumOfSquares / degrees) : Number.NaN;
  const fit: FitResult = {
    parameters,
    values,
    free: names.flatMap((_, i) => (i < first ? [] : [i])),
    covariance,
    correlation,
    covarianceKind: kind,
    level,
    count: m,
    degreesOfFreedom: degrees,
    sumOfSquares,
    residualStandardDeviation: deviation,
    residuals,
    jacobian,
    x: t,
    observed: y,
    fitted,
    bandLow: fitted.map((v, i) => v - half[i]),
    bandHigh: fitted.map((v, i) => v + half[i]),
    loss: "linear",
    stop: {
      code: chosen.converged ? "converged" : "iterations",
      converged: chosen.converged,
      message: chosen.converged
        ? "Converged: the minimum is nearer than a millionth of a standard error."
        : "Stopped before the minimum was reached.",
      iterations: chosen.iterations,
      evaluations: chosen.iterations + 1,
      jacobians: chosen.iterations + 1,
      attempts: ["variable projection"],
      relativeOffset: 0,
      condition: Number.NaN,
    },
    diagnostics: residualDiagnostics(residuals),
    warnings: [],
  };
  return {
    model,
    drift: chosen.drift,
    determined: true,
    stepTime,
    ...out,
    candidates,
    effectiveSamples,
    excluded: [],
    fit,
    warnings,
  };
}

/** A unit as a divisor: compound units in parentheses. */
function bracket(unit: string): string {
  return /[./]/.test(unit) ? `(${unit})` : unit;
}
