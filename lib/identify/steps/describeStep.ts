import { studentT } from "../../numeric/distributions/studentT.js";
import {
  autoregressiveCovariance,
  neweyWestCovariance,
  normalInverse,
} from "../../numeric/optimise/covariance.js";
import { bandHalfWidth, correlationOf } from "../../numeric/optimise/fitCovariance.js";
import { residualDiagnostics } from "../../numeric/optimise/residualDiagnostics.js";
import type { CovarianceKind, FitParameter, FitResult } from "../../numeric/optimise/types.js";
import type { Estimate } from "../../units/estimate.js";
import type { StepModelFit } from "./fitStepModel.js";
import { columnsOf, type PreparedStep } from "./preparedStep.js";
import type { StepCandidate, StepFit, StepModelName, StepResponseOptions } from "./stepFitTypes.js";
import { dampingOf, modelName } from "./stepNaming.js";
import { fillShape } from "./stepShapes.js";

/** A record with the response that was chosen for it. */
export interface ChosenStep {
  readonly s: PreparedStep;
  readonly chosen: StepModelFit;
  readonly t: Float64Array;
  readonly y: Float64Array;
  readonly stepTime: number;
  readonly options: StepResponseOptions;
  readonly level: number;
  /** Initial value held by the caller, in the record's scale. */
  readonly held: number | undefined;
}

/** Natural parameters of a response, the derivatives of the curve by each, and the curve. */
interface NaturalModel {
  readonly names: readonly { readonly name: string; readonly unit: string; readonly value: number }[];
  readonly columns: readonly Float64Array[];
  readonly fitted: Float64Array;
  readonly amplitude: number;
}

function naturalModel({ s, chosen, t, stepTime, options }: ChosenStep): NaturalModel {
  const m = s.count;
  const unit = options.unit ?? "1";
  const { span, height, center, before } = s;
  const { g, da, db } = columnsOf(s);
  fillShape(chosen.shape, chosen.a, chosen.b, s, { g, da, db });
  const A = chosen.amplitude * height;
  const initial = center + height * chosen.initial;
  const slope = (height * chosen.slope) / span;
  const names: { name: string; unit: string; value: number }[] = [];
  const columns: Float64Array[] = [];
  const fitted = new Float64Array(m).fill(initial);
  const amplitudeColumn = new Float64Array(m);
  amplitudeColumn.set(g, before);
  for (let i = 0; i < m; i++) fitted[i] += slope * (t[i] - stepTime) + A * amplitudeColumn[i];
  const add = (name: string, code: string, value: number, column: Float64Array): void => {
    names.push({ name, unit: code, value });
    columns.push(column);
  };
  add("initial", unit, initial, new Float64Array(m).fill(1));
  add("amplitude", unit, A, amplitudeColumn);
  if (chosen.drift)
    add(
      "slope",
      `${unit}/s`,
      slope,
      t.map((v) => v - stepTime),
    );
  const shaped = (byA: number, byB: number): Float64Array => {
    const column = new Float64Array(m);
    for (let i = before; i < m; i++) column[i] = A * (byA * da[i - before] + byB * db[i - before]);
    return column;
  };
  if (chosen.shape === "second-order") {
    const omega = 1 / (Math.sqrt(chosen.b) * span);
    const zeta = dampingOf(chosen.a, chosen.b);
    add("damping ratio", "1", zeta, shaped(2 / (omega * span), 0));
    add(
      "natural frequency",
      "rad/s",
      omega,
      shaped((-2 * zeta) / (omega * omega * span), -2 / (omega ** 3 * span * span)),
    );
  } else if (chosen.shape === "second-order-critical") {
    const T = chosen.a * span;
    add("natural frequency", "rad/s", 1 / T, shaped((-T * T) / span, 0));
  } else {
    add("time constant", "s", chosen.a * span, shaped(1 / span, 0));
    if (chosen.shape === "first-order-dead-time") add("dead time", "s", chosen.b * span, shaped(0, 1 / span));
  }
  return { names, columns, fitted, amplitude: A };
}

/** What the chosen model leaves of a record. */
export interface LeftOfStep {
  readonly model: NaturalModel;
  readonly observed: Float64Array;
  readonly residuals: Float64Array;
  readonly sumOfSquares: number;
}

/** The curve of the chosen model, and what it leaves. */
export function leftOfStep(step: ChosenStep): LeftOfStep {
  const model = naturalModel(step);
  const observed = step.y;
  const residuals = new Float64Array(observed.length);
  let sumOfSquares = 0;
  for (let i = 0; i < observed.length; i++) {
    residuals[i] = observed[i] - model.fitted[i];
    sumOfSquares += residuals[i] * residuals[i];
  }
  return { model, observed, residuals, sumOfSquares };
}

/** What the residuals of a response say of its parameters. */
interface StepCovariance {
  /** Derivatives by the free parameters, column-major. */
  readonly flat: Float64Array;
  readonly kind: CovarianceKind;
  readonly covariance: Float64Array;
  readonly degrees: number;
  /** Quantile to read intervals with. */
  readonly quantile: number;
  /** Index of the first free parameter. */
  readonly first: number;
  readonly n: number;
}

function covarianceOfStep({ options, level, held }: ChosenStep, left: LeftOfStep): StepCovariance {
  const { model, residuals, sumOfSquares } = left;
  const m = residuals.length;
  const first = held === undefined ? 0 : 1;
  const n = model.columns.length - first;
  const flat = new Float64Array(m * n);
  for (let j = 0; j < n; j++) flat.set(model.columns[j + first], j * m);
  const kind = options.covariance ?? "autoregressive";
  const degrees = Math.max(0, m - n);
  const shared = { flat, kind, degrees, first, n };
  if (kind === "independent") {
    const factor = sumOfSquares / Math.max(1, degrees);
    const covariance = normalInverse(flat, m, n).inverse.map((v) => v * factor);
    return { ...shared, covariance, quantile: studentT(level, degrees) };
  }
  const { covariance, degreesOfFreedom } =
    kind === "autoregressive"
      ? autoregressiveCovariance(flat, residuals, n)
      : neweyWestCovariance(flat, residuals, n);
  return { ...shared, covariance, quantile: studentT(level, degreesOfFreedom) };
}

/** Estimates of functions of the natural parameters. */
class StepEstimator {
  readonly values: Float64Array;
  readonly method: string;

  constructor(
    readonly step: ChosenStep,
    readonly model: NaturalModel,
    readonly known: StepCovariance,
  ) {
    this.values = Float64Array.from(model.names, (p) => p.value);
    const { chosen } = step;
    this.method = `step response, ${modelName(chosen).replace(/-/g, " ")}${chosen.drift ? " with slope" : ""}`;
  }

  /** Interval of a function of the parameters by its gradient; on a logarithmic scale for what is positive by
   * nature. */
  of(of: (v: Float64Array) => number, unit: string, positive: boolean, how = ""): Estimate {
    const { covariance, first, n, quantile } = this.known;
    const value = of(this.values);
    const gradient = new Float64Array(n);
    for (let j = 0; j < n; j++) {
      const moved = this.values.slice();
      const k = j + first;
      const h = 1e-6 * Math.max(Math.abs(this.values[k]), 1e-9 * (Math.abs(this.model.amplitude) + 1e-300));
      moved[k] = this.values[k] + h;
      const up = of(moved);
      moved[k] = this.values[k] - h;
      gradient[j] = (up - of(moved)) / (2 * h);
    }
    let variance = 0;
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++)
        if (gradient[i] !== 0 && gradient[j] !== 0)
          variance += gradient[i] * gradient[j] * covariance[i * n + j];
    const half = quantile * Math.sqrt(Math.max(0, variance));
    const wide = Number.isFinite(half) ? half : Number.POSITIVE_INFINITY;
    const ratio = positive && value > 0 ? Math.exp(wide / value) : 0;
    return {
      value,
      low: ratio > 0 ? value / ratio : value - wide,
      high: ratio > 0 ? value * ratio : value + wide,
      unit,
      method: `${this.method}${how}`,
      level: this.step.level,
      samples: this.step.s.count,
    };
  }

  indexOf(name: string): number {
    return this.model.names.findIndex((p) => p.name === name);
  }

  /** One of the parameters; absent where the model does not have it. */
  one(name: string, positive: boolean): Estimate | undefined {
    const index = this.indexOf(name);
    return index < 0 ? undefined : this.of((v) => v[index], this.model.names[index].unit, positive);
  }
}

/** Levels and times of a response, by what it turned out to be. */
function estimatesOf(step: ChosenStep, estimator: StepEstimator): Partial<StepFit> {
  const { options } = step;
  const unit = options.unit ?? "1";
  const command = options.commandStep ?? 1;
  const gainUnit =
    options.commandUnit && options.commandUnit !== "1" ? `${unit}/${bracket(options.commandUnit)}` : unit;
  return {
    initial: estimator.one("initial", false),
    amplitude: estimator.one("amplitude", false),
    final: estimator.of((v) => v[0] + v[1], unit, false),
    gain: estimator.of((v) => v[1] / command, gainUnit, false, ", amplitude over the command's step"),
    slope: estimator.one("slope", false),
    ...timesOf(modelName(step.chosen), estimator),
  };
}

/** Time constants, damping and frequencies of a model. */
function timesOf(model: StepModelName, estimator: StepEstimator): Partial<StepFit> {
  const z = estimator.indexOf("damping ratio");
  const w = estimator.indexOf("natural frequency");
  if (model === "first-order") return { timeConstant: estimator.one("time constant", true) };
  if (model === "first-order-dead-time") {
    const timeConstant = estimator.one("time constant", true);
    const dead = estimator.one("dead time", false) as Estimate;
    return { timeConstant, deadTime: { ...dead, low: Math.max(0, dead.low) } };
  }
  if (model === "second-order-critical") {
    const naturalFrequency = estimator.one("natural frequency", true);
    const timeConstant = estimator.of((v) => 1 / v[w], "s", true, ", both time constants");
    const { method, step } = estimator;
    const dampingRatio = {
      value: 1,
      low: 1,
      high: 1,
      unit: "1",
      method: `${method}: critical damping does as well as any`,
      level: step.level,
      samples: step.s.count,
    };
    return { naturalFrequency, timeConstant, fastTimeConstant: timeConstant, dampingRatio };
  }
  const dampingRatio = estimator.one("damping ratio", true);
  const naturalFrequency = estimator.one("natural frequency", true);
  if (model === "second-order-underdamped")
    return {
      dampingRatio,
      naturalFrequency,
      timeConstant: estimator.of((v) => 1 / (v[z] * v[w]), "s", true, ", envelope 1/(zeta omega)"),
      dampedFrequency: estimator.of((v) => v[w] * Math.sqrt(Math.max(0, 1 - v[z] * v[z])), "rad/s", true),
    };
  const root = (v: Float64Array): number => Math.sqrt(Math.max(0, v[z] * v[z] - 1));
  return {
    dampingRatio,
    naturalFrequency,
    timeConstant: estimator.of((v) => (v[z] + root(v)) / v[w], "s", true, ", slow time constant"),
    fastTimeConstant: estimator.of((v) => 1 / (v[w] * (v[z] + root(v))), "s", true, ", fast time constant"),
  };
}

/** What a reader of the fit should know: how much is extrapolated, and how clear the choice of model was. */
function warnOf(
  { t, stepTime }: ChosenStep,
  slowest: number,
  candidates: readonly StepCandidate[],
): readonly string[] {
  const warnings: string[] = [];
  const recorded = t[t.length - 1] - stepTime;
  if (recorded < 2 * slowest)
    warnings.push(
      `The record ends ${(recorded / slowest).toFixed(1)} time constants after the step: the final value is extrapolated.`,
    );
  const rival = candidates[1];
  if (rival && candidates[0].weight < 0.9 && rival.model !== "none")
    warnings.push(
      `The choice of model is not clear: ${rival.model.replace(/-/g, " ")}${rival.drift ? " with slope" : ""} has ${Math.round(rival.weight * 100)} % of the weight.`,
    );
  return warnings;
}

function parametersOf(
  model: NaturalModel,
  { covariance, first, n, quantile }: StepCovariance,
): FitParameter[] {
  return model.names.map((p, index) => {
    const j = index - first;
    const error = j < 0 ? 0 : Math.sqrt(covariance[j * n + j]);
    return {
      name: p.name,
      value: p.value,
      standardError: error,
      low: p.value - (error === 0 ? 0 : quantile * error),
      high: p.value + (error === 0 ? 0 : quantile * error),
      start: Number.NaN,
      lower:
        p.name === "initial" || p.name === "amplitude" || p.name === "slope" ? Number.NEGATIVE_INFINITY : 0,
      upper: Number.POSITIVE_INFINITY,
      fixed: j < 0,
      atBound: p.name === "dead time" && p.value === 0,
      unit: p.unit,
    };
  });
}

/** The chosen model as a fit like any other, with the band of its curve. */
function asFit(step: ChosenStep, left: LeftOfStep, known: StepCovariance): FitResult {
  const { chosen, t, y, level } = step;
  const { model, residuals, sumOfSquares } = left;
  const { flat, kind, covariance, degrees, quantile, first, n } = known;
  const m = y.length;
  const jacobian = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) jacobian[i * n + j] = -flat[j * m + i];
  const half = bandHalfWidth(jacobian, covariance, m, n, quantile);
  return {
    parameters: parametersOf(model, known),
    values: Float64Array.from(model.names, (p) => p.value),
    free: model.names.flatMap((_, i) => (i < first ? [] : [i])),
    covariance,
    correlation: correlationOf(covariance, n),
    covarianceKind: kind,
    level,
    count: m,
    degreesOfFreedom: degrees,
    sumOfSquares,
    residualStandardDeviation: degrees > 0 ? Math.sqrt(sumOfSquares / degrees) : Number.NaN,
    residuals,
    jacobian,
    x: t,
    observed: y,
    fitted: model.fitted,
    bandLow: model.fitted.map((v, i) => v - half[i]),
    bandHigh: model.fitted.map((v, i) => v + half[i]),
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
}

/** Natural parameters, covariance, estimates and curves of the chosen model, from what it leaves of the record. */
export function describeStep(
  step: ChosenStep,
  left: LeftOfStep,
  candidates: readonly StepCandidate[],
  effectiveSamples: number,
): StepFit {
  const known = covarianceOfStep(step, left);
  const estimates = estimatesOf(step, new StepEstimator(step, left.model, known));
  return {
    model: modelName(step.chosen),
    drift: step.chosen.drift,
    determined: true,
    stepTime: step.stepTime,
    ...estimates,
    candidates,
    effectiveSamples,
    excluded: [],
    fit: asFit(step, left, known),
    warnings: warnOf(step, estimates.timeConstant?.value ?? 0, candidates),
  };
}

/** A unit as a divisor: compound units in parentheses. */
function bracket(unit: string): string {
  return /[./]/.test(unit) ? `(${unit})` : unit;
}
