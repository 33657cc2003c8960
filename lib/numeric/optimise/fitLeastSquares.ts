import { studentT } from "../distributions/studentT.js";
import { bandHalfWidth, correlationOf, covarianceOf } from "./fitCovariance.js";
import { residualDiagnostics } from "./residualDiagnostics.js";
import { asResidualProblem, isModel, searchProblem } from "./residualProblem.js";
import { type ScaledSearch, searchScaled } from "./searchBest.js";
import type { SearchOutcome, SearchProblem } from "./searchTypes.js";
import type {
  FitParameter,
  FitParameterInput,
  FitResult,
  LeastSquaresOptions,
  LeastSquaresProblem,
  ModelProblem,
  ResidualDiagnostics,
  StopCode,
} from "./types.js";

const messages: Readonly<Record<StopCode, string>> = {
  converged: "Converged: the minimum is nearer than the tolerance.",
  rounding: "Converged: nothing further can be gained in double precision.",
  exact: "Converged: the residuals are zero.",
  iterations: "Stopped at the iteration limit before the minimum was reached.",
  singular: "Stopped where some combination of the parameters has no influence on the residuals.",
  "not-finite": "Stopped: residuals or derivatives are not finite.",
  "too-few": "Not fitted: fewer residuals than free parameters.",
  "nothing-free": "Every parameter is fixed: residuals evaluated, nothing fitted.",
};

/**
 * Nonlinear least squares within bounds: values, standard errors, correlations, intervals, what the residuals look like
 * and how the search stopped.
 *
 * The search is a trust-region Levenberg-Marquardt method on QR and SVD factors with parameters scaled by their
 * Jacobian columns (Moré 1978); where it ends at a doubtful point (no influence left, iteration limit) other policies
 * are tried from the same start and the lowest end is kept. Derivatives are analytic when given, else central
 * differences refined by extrapolation near the end. Robust losses bend the cost of large residuals; their scale is
 * found from the residuals unless given.
 *
 * A fit that fails is a result too: read `stop.converged`. Intervals assume independent residuals unless `covariance`
 * says otherwise; `diagnostics` and `warnings` say when that assumption is doubtful.
 *
 * @throws RangeError when the problem contradicts itself (arrays of different lengths, a start that is not finite,
 * bounds crossed)
 * @example
 * const result = fitLeastSquares({
 *   x: [0, 1, 2, 3, 4],
 *   y: [2.01, 1.21, 0.74, 0.44, 0.27],
 *   parameters: [{ name: "amplitude", start: 1 }, { name: "rate", start: 1 }],
 *   model: (x, [a, k]) => a * Math.exp(-k * x),
 * });
 * result.parameters[1].value; // => 0.50
 */
export function fitLeastSquares(given: LeastSquaresProblem, options: LeastSquaresOptions = {}): FitResult {
  return searchLeastSquares(given, options).describe();
}

/** Where a search ended, before what it says of the parameters is worked out: enough to choose between fits by. */
export interface SearchedFit {
  readonly values: Float64Array;
  readonly residuals: Float64Array;
  readonly sumOfSquares: number;
  /** Parameters that are free and held by no bound. */
  readonly moving: number;
  /** The whole result. */
  readonly describe: () => FitResult;
}

/** The search of `fitLeastSquares` alone. */
export function searchLeastSquares(
  given: LeastSquaresProblem,
  options: LeastSquaresOptions = {},
): SearchedFit {
  const problem = asResidualProblem(given);
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  if (options.lossScale !== undefined && !(options.lossScale > 0))
    throw new RangeError(`lossScale is ${options.lossScale}; give a positive size in residual units.`);
  const prepared = searchProblem(problem, options, options.lossScale ?? 1);
  const scaled = searchScaled(problem, prepared, options);
  const { r, p, atBound } = scaled.outcome;
  let sumOfSquares = 0;
  for (let i = 0; i < problem.count; i++) sumOfSquares += r[i] * r[i];
  return {
    values: p,
    residuals: r,
    sumOfSquares,
    moving: atBound.filter((held) => !held).length,
    describe: () => described({ given, prepared, scaled, sumOfSquares, level }, options),
  };
}

/** A search that has ended. */
interface EndedSearch {
  readonly given: LeastSquaresProblem;
  readonly prepared: SearchProblem;
  readonly scaled: ScaledSearch;
  readonly sumOfSquares: number;
  readonly level: number;
}

function described(
  { given, prepared, scaled, sumOfSquares, level }: EndedSearch,
  options: LeastSquaresOptions,
): FitResult {
  const loss = options.loss ?? "linear";
  const { free, count: m } = prepared;
  const n = free.length;
  const { outcome, attempts, lossScale } = scaled;
  const { r, columns, p, code } = outcome;
  const degreesOfFreedom = Math.max(0, m - n);
  const deviation = degreesOfFreedom > 0 ? Math.sqrt(sumOfSquares / degreesOfFreedom) : Number.NaN;
  const { covariance, readingDegrees } = covarianceOf(outcome, options, {
    lossScale,
    degreesOfFreedom,
    deviation,
  });
  const t = studentT(level, readingDegrees);
  const found = parametersOf(given.parameters, prepared, outcome, covariance, t);
  const jacobian = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) jacobian[i * n + j] = columns[j * m + i];
  const diagnostics = residualDiagnostics(r);
  return {
    parameters: found,
    values: p,
    free,
    covariance,
    correlation: correlationOf(covariance, n),
    covarianceKind: loss === "linear" ? (options.covariance ?? "independent") : "independent",
    level,
    count: m,
    degreesOfFreedom,
    sumOfSquares,
    residualStandardDeviation: deviation,
    residuals: r,
    jacobian,
    ...(isModel(given) ? curveOf(given, p, bandHalfWidth(jacobian, covariance, m, n, t)) : {}),
    loss,
    lossScale: loss === "linear" ? undefined : lossScale,
    stop: {
      code,
      converged: code === "converged" || code === "rounding" || code === "exact",
      message: messages[code],
      iterations: outcome.iterations,
      evaluations: outcome.evaluations,
      jacobians: outcome.jacobians,
      attempts,
      relativeOffset: outcome.relativeOffset,
      condition: outcome.condition,
    },
    diagnostics,
    warnings: warningsOf(found, diagnostics, options, m, n),
  };
}

function parametersOf(
  given: readonly FitParameterInput[],
  { free, lower, upper }: SearchProblem,
  { p, atBound }: SearchOutcome,
  covariance: Float64Array,
  t: number,
): FitParameter[] {
  const n = free.length;
  return given.map((q, index) => {
    const j = free.indexOf(index);
    const error = j < 0 ? 0 : Math.sqrt(covariance[j * n + j]);
    return {
      name: q.name,
      value: p[index],
      standardError: error,
      low: error === 0 ? p[index] : p[index] - t * error,
      high: error === 0 ? p[index] : p[index] + t * error,
      start: q.start,
      lower: lower[index],
      upper: upper[index],
      fixed: j < 0,
      atBound: j >= 0 && atBound[j],
      unit: q.unit,
    };
  });
}

/** What a reader of the fit should know of its intervals. */
function warningsOf(
  found: readonly FitParameter[],
  diagnostics: ResidualDiagnostics,
  { loss = "linear", covariance: kind = "independent" }: LeastSquaresOptions,
  m: number,
  n: number,
): string[] {
  const warnings: string[] = [];
  if (loss !== "linear" && kind !== "independent")
    warnings.push("With a robust loss the covariance is that of independent residuals.");
  if (kind === "independent" && m >= 20 && diagnostics.lag1 > 0 && diagnostics.runs.pValue < 0.001)
    warnings.push(
      `Residuals are correlated (lag-1 ${diagnostics.lag1.toFixed(2)}): these intervals are too narrow; use the autoregressive covariance or the block bootstrap.`,
    );
  for (const q of found)
    if (q.atBound) warnings.push(`${q.name} ended on its bound ${q.value}: it has no interval.`);
  for (const q of found)
    if (!q.fixed && !q.atBound && Number.isNaN(q.standardError) && m >= n)
      warnings.push(`${q.name} is not determined by the data.`);
  if (diagnostics.outliers > 0 && loss === "linear")
    warnings.push(
      `${diagnostics.outliers} of ${m} residuals lie beyond 5 robust standard deviations; a robust loss would heed them less.`,
    );
  return warnings;
}

/** The fitted curve with its band, at the samples of a model. */
function curveOf(
  given: ModelProblem,
  p: Float64Array,
  half: Float64Array,
): Pick<FitResult, "x" | "observed" | "fitted" | "bandLow" | "bandHigh"> {
  const x = Float64Array.from(given.x);
  const fitted = Float64Array.from(x, (v) => given.model(v, p));
  if (given.weights) {
    for (let i = 0; i < half.length; i++) half[i] /= Math.sqrt(given.weights[i]);
    // A sample without weight says nothing of the band there.
    for (let i = 0; i < half.length; i++) if (!Number.isFinite(half[i])) half[i] = Number.NaN;
  }
  return {
    x,
    observed: Float64Array.from(given.y),
    fitted,
    bandLow: fitted.map((v, i) => v - half[i]),
    bandHigh: fitted.map((v, i) => v + half[i]),
  };
}
