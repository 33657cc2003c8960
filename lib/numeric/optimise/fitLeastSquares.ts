import { studentT } from "../distributions/studentT.js";
import { solveLinear } from "../linear/solveLinear.js";
import { robustScale } from "../series/median.js";
import {
  autoregressiveCovariance,
  type CorrelatedCovariance,
  neweyWestCovariance,
  normalInverse,
} from "./covariance.js";
import type { ResidualFunction } from "./numericJacobian.js";
import { residualDiagnostics } from "./residualDiagnostics.js";
import { type LossValue, lossTuning, robustLoss } from "./robustLoss.js";
import {
  costOf,
  type SearchOutcome,
  type SearchPolicy,
  type SearchProblem,
  trustRegionSearch,
} from "./trustRegion.js";
import type {
  FitParameter,
  FitResult,
  LeastSquaresOptions,
  LeastSquaresProblem,
  ModelProblem,
  ResidualProblem,
  StopCode,
} from "./types.js";

/** The order in which searches are tried; the later ones only when the earlier ended at a doubtful point. */
const policies: readonly SearchPolicy[] = [
  { name: "largest column norm", scaling: "largest", radius: 1 },
  { name: "linear parameters solved first", scaling: "largest", radius: 1, linearFirst: true },
  { name: "parameter size", scaling: "size", radius: 1 },
  { name: "largest column norm, short first step", scaling: "largest", radius: 0.05 },
  { name: "parameter size, short first step", scaling: "size", radius: 0.1 },
];

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

function isModel(problem: LeastSquaresProblem): problem is ModelProblem {
  return "model" in problem;
}

/** The problem with its functions in residual form, weights applied. Throws RangeError on contradictory input. */
export function asResidualProblem(problem: LeastSquaresProblem): ResidualProblem {
  problem.parameters.forEach((q, index) => {
    const label = `parameter ${index + 1} (${q.name})`;
    if (!Number.isFinite(q.start))
      throw new RangeError(`${label}: start is ${q.start}; give a finite number.`);
    const lower = q.lower ?? Number.NEGATIVE_INFINITY;
    const upper = q.upper ?? Number.POSITIVE_INFINITY;
    if (!(lower <= upper))
      throw new RangeError(`${label}: lower bound ${lower} is above upper bound ${upper}; exchange them.`);
  });
  if (problem.parameters.length === 0) throw new RangeError("no parameters: give at least one.");
  if (!isModel(problem)) {
    if (!Number.isInteger(problem.count) || problem.count < 0)
      throw new RangeError(`count is ${problem.count}; give the number of residuals.`);
    return problem;
  }
  const { x, y, weights, parameters, gradient } = problem;
  const m = y.length;
  if (x.length !== m) throw new RangeError(`x has ${x.length} values and y has ${m}; they must be as many.`);
  let roots: Float64Array | undefined;
  if (weights) {
    if (weights.length !== m)
      throw new RangeError(`there are ${weights.length} weights for ${m} samples; they must be as many.`);
    roots = Float64Array.from(weights, (w, i) => {
      if (!(w >= 0) || !Number.isFinite(w))
        throw new RangeError(`weight ${i + 1} is ${w}; weights are finite and not negative.`);
      return Math.sqrt(w);
    });
  }
  const free = parameters.flatMap((q, i) => (q.fixed ? [] : [i]));
  const all = new Float64Array(parameters.length);
  return {
    count: m,
    parameters,
    residuals(p, out) {
      for (let i = 0; i < m; i++) {
        const d = y[i] - problem.model(x[i], p);
        out[i] = roots ? d * roots[i] : d;
      }
    },
    jacobian: gradient
      ? (p, out) => {
          for (let i = 0; i < m; i++) {
            problem.gradient?.(x[i], p, all);
            for (let c = 0; c < free.length; c++)
              out[i * free.length + c] = -all[free[c]] * (roots ? roots[i] : 1);
          }
        }
      : undefined,
  };
}

/** Settled well: a point one may believe without another try. */
function settled(o: SearchOutcome): boolean {
  return (o.code === "converged" || o.code === "rounding" || o.code === "exact") && o.condition < 1e11;
}

/** Runs the search policies and keeps the best end. */
export function searchBest(
  problem: SearchProblem,
  start: Float64Array,
  retries: boolean,
): { best: SearchOutcome; attempts: string[] } {
  const attempts: string[] = [];
  let best: SearchOutcome | undefined;
  let evaluations = 0;
  let jacobians = 0;
  let iterations = 0;
  for (const policy of retries ? policies : policies.slice(0, 1)) {
    const from = policy.linearFirst ? solveLinear(problem, start) : start;
    if (!from) continue;
    const outcome = trustRegionSearch(problem, from, policy);
    attempts.push(policy.name);
    evaluations += outcome.evaluations;
    jacobians += outcome.jacobians;
    iterations += outcome.iterations;
    if (
      !best ||
      outcome.cost < best.cost * (1 - 1e-9) ||
      (settled(outcome) && !settled(best) && outcome.cost <= best.cost * (1 + 1e-9))
    )
      best = outcome;
    if (outcome.code === "not-finite" && outcome.iterations === 0) break;
    if (settled(best)) break;
  }
  const kept = best as SearchOutcome;
  kept.evaluations = evaluations;
  kept.jacobians = jacobians;
  kept.iterations = iterations;
  return { best: kept, attempts };
}

/** Prepares the search of a residual problem. */
export function searchProblem(
  problem: ResidualProblem,
  options: LeastSquaresOptions,
  lossScale: number,
): SearchProblem {
  const { parameters } = problem;
  return {
    count: problem.count,
    residuals: problem.residuals.bind(problem) as ResidualFunction,
    jacobian: problem.jacobian?.bind(problem),
    free: parameters.flatMap((q, i) => (q.fixed ? [] : [i])),
    lower: Float64Array.from(parameters, (q) => q.lower ?? Number.NEGATIVE_INFINITY),
    upper: Float64Array.from(parameters, (q) => q.upper ?? Number.POSITIVE_INFINITY),
    typical: Float64Array.from(parameters, (q) => Math.abs(q.scale ?? q.start) || 1),
    loss: options.loss ?? "linear",
    lossScale,
    maxIterations: options.maxIterations ?? 2000,
    tolerance: options.tolerance ?? 1e-9,
  };
}

/**
 * Nonlinear least squares within bounds: values, standard errors, correlations, intervals, what the residuals look like and how
 * the search stopped.
 *
 * The search is a trust-region Levenberg-Marquardt method on QR and SVD factors with parameters scaled by their Jacobian columns
 * (Moré 1978); where it ends at a doubtful point (no influence left, iteration limit) other policies are tried from the
 * same start and the lowest end is kept. Derivatives are analytic when given, else central differences refined by extrapolation
 * near the end. Robust losses bend the cost of large residuals; their scale is found from the residuals unless given.
 *
 * A fit that fails is a result too: read `stop.converged`. Intervals assume independent residuals unless `covariance` says
 * otherwise; `diagnostics` and `warnings` say when that assumption is doubtful.
 *
 * @throws RangeError when the problem contradicts itself (arrays of different lengths, a start that is not finite, bounds crossed)
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
  const problem = asResidualProblem(given);
  const { parameters, count: m } = problem;
  const loss = options.loss ?? "linear";
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  if (options.lossScale !== undefined && !(options.lossScale > 0))
    throw new RangeError(`lossScale is ${options.lossScale}; give a positive size in residual units.`);
  const prepared = searchProblem(problem, options, options.lossScale ?? 1);
  const { free, lower, upper } = prepared;
  const n = free.length;
  const start = Float64Array.from(parameters, (q, i) => Math.min(upper[i], Math.max(lower[i], q.start)));
  const warnings: string[] = [];

  let attempts: string[] = [];
  let outcome: SearchOutcome;
  let lossScale = options.lossScale ?? 1;
  if (n === 0 || m < n) {
    const r = new Float64Array(m);
    problem.residuals(start, r);
    outcome = {
      p: start,
      r,
      columns: new Float64Array(m * n).fill(Number.NaN),
      cost: costOf(r, "linear", 1),
      code: n === 0 ? "nothing-free" : "too-few",
      iterations: 0,
      evaluations: 1,
      jacobians: 0,
      relativeOffset: n === 0 ? 0 : Number.POSITIVE_INFINITY,
      condition: Number.POSITIVE_INFINITY,
      atBound: new Array<boolean>(n).fill(false),
    };
  } else if (loss === "linear" || options.lossScale !== undefined) {
    const found = searchBest(prepared, start, options.retries ?? true);
    outcome = found.best;
    attempts = found.attempts;
  } else {
    // Scale unknown: ordinary least squares first, then the scale of its residuals and the fit in turn until they agree.
    const first = searchBest({ ...prepared, loss: "linear" }, start, options.retries ?? true);
    outcome = first.best;
    attempts = first.attempts;
    let spent = outcome.evaluations;
    let derived = outcome.jacobians;
    let steps = outcome.iterations;
    for (let round = 0; round < 20 && outcome.code !== "not-finite"; round++) {
      const deviation = robustScale(outcome.r);
      if (!(deviation > 0)) break;
      const next = lossTuning[loss] * deviation;
      const change = Math.abs(next - lossScale) / next;
      if (round > 0 && change < 1e-6) break;
      lossScale = next;
      const { best } = searchBest({ ...prepared, lossScale }, outcome.p, options.retries ?? true);
      spent += best.evaluations;
      derived += best.jacobians;
      steps += best.iterations;
      outcome = best;
    }
    outcome.evaluations = spent;
    outcome.jacobians = derived;
    outcome.iterations = steps;
  }

  const { r, columns, p } = outcome;
  const degreesOfFreedom = Math.max(0, m - n);
  let sumOfSquares = 0;
  for (let i = 0; i < m; i++) sumOfSquares += r[i] * r[i];
  const deviation = degreesOfFreedom > 0 ? Math.sqrt(sumOfSquares / degreesOfFreedom) : Number.NaN;

  // Parameters that a bound holds do not move: the covariance of the others is computed with them fixed.
  const kind = options.covariance ?? "independent";
  const moving: number[] = [];
  for (let j = 0; j < n; j++) if (!outcome.atBound[j]) moving.push(j);
  const covariance = new Float64Array(n * n).fill(Number.NaN);
  let readingDegrees = degreesOfFreedom;
  if (outcome.code !== "not-finite" && outcome.code !== "too-few" && moving.length > 0) {
    const kept = new Float64Array(m * moving.length);
    moving.forEach((j, c) => {
      kept.set(columns.subarray(j * m, (j + 1) * m), c * m);
    });
    let part: CorrelatedCovariance;
    if (kind === "independent" || loss !== "linear") {
      const { inverse } = normalInverse(kept, m, moving.length);
      const factor = robustFactor(r, loss, lossScale, degreesOfFreedom);
      const variance = options.absoluteWeights ? 1 : loss === "linear" ? deviation * deviation : factor;
      part = {
        covariance: inverse.map((v) => v * variance),
        degreesOfFreedom: options.absoluteWeights ? Number.POSITIVE_INFINITY : degreesOfFreedom,
      };
    } else if (kind === "autoregressive") part = autoregressiveCovariance(kept, r, moving.length);
    else part = neweyWestCovariance(kept, r, moving.length);
    readingDegrees = part.degreesOfFreedom;
    moving.forEach((j, a) => {
      moving.forEach((k, b) => {
        covariance[j * n + k] = part.covariance[a * moving.length + b];
      });
    });
  }
  if (loss !== "linear" && kind !== "independent")
    warnings.push("With a robust loss the covariance is that of independent residuals.");

  const t = studentT(level, readingDegrees);
  const correlation = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++)
      correlation[i * n + j] =
        i === j ? 1 : covariance[i * n + j] / Math.sqrt(covariance[i * n + i] * covariance[j * n + j]);

  const found: FitParameter[] = parameters.map((q, index) => {
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
      atBound: j >= 0 && outcome.atBound[j],
      unit: q.unit,
    };
  });

  const jacobian = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) jacobian[i * n + j] = columns[j * m + i];
  const diagnostics = residualDiagnostics(r);
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

  let curve: Pick<FitResult, "x" | "observed" | "fitted" | "bandLow" | "bandHigh"> = {};
  if (isModel(given)) {
    const x = Float64Array.from(given.x);
    const fitted = Float64Array.from(x, (v) => given.model(v, p));
    const half = bandHalfWidth(jacobian, covariance, m, n, t);
    if (given.weights) {
      for (let i = 0; i < m; i++) half[i] /= Math.sqrt(given.weights[i]);
      // A sample without weight says nothing of the band there.
      for (let i = 0; i < m; i++) if (!Number.isFinite(half[i])) half[i] = Number.NaN;
    }
    curve = {
      x,
      observed: Float64Array.from(given.y),
      fitted,
      bandLow: fitted.map((v, i) => v - half[i]),
      bandHigh: fitted.map((v, i) => v + half[i]),
    };
  }

  const { code } = outcome;
  return {
    parameters: found,
    values: p,
    free,
    covariance,
    correlation,
    covarianceKind: loss === "linear" ? kind : "independent",
    level,
    count: m,
    degreesOfFreedom,
    sumOfSquares,
    residualStandardDeviation: deviation,
    residuals: r,
    jacobian,
    ...curve,
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
    warnings,
  };
}

/** Half width of the confidence band of the fitted curve at each row of the Jacobian. */
export function bandHalfWidth(
  jacobian: Float64Array,
  covariance: Float64Array,
  m: number,
  n: number,
  t: number,
): Float64Array {
  const out = new Float64Array(m);
  // A parameter on its bound has no covariance and does not widen the band.
  const known = covariance.map((c) => (Number.isFinite(c) ? c : 0));
  for (let i = 0; i < m; i++) {
    let sum = 0;
    for (let a = 0; a < n; a++) {
      const ja = jacobian[i * n + a];
      if (ja === 0) continue;
      let inner = known[a * n + a] * ja;
      for (let b = 0; b < a; b++) inner += 2 * known[a * n + b] * jacobian[i * n + b];
      sum += ja * inner;
    }
    out[i] = sum > 0 ? t * Math.sqrt(sum) : 0;
  }
  return out;
}

/** Variance factor of a robust fit: (sum of psi²/(m-n)) / (mean of psi')², with Huber's correction (Huber 1981, 7.6). */
function robustFactor(r: Float64Array, loss: ResidualLoss, scale: number, degrees: number): number {
  if (loss === "linear" || degrees <= 0) return Number.NaN;
  const value: LossValue = { rho: 0, first: 0, second: 0 };
  const m = r.length;
  let psi2 = 0;
  let mean = 0;
  const slopes = new Float64Array(m);
  for (let i = 0; i < m; i++) {
    const z = (r[i] / scale) ** 2;
    robustLoss(loss, z, value);
    psi2 += (value.first * r[i]) ** 2;
    slopes[i] = value.first + 2 * z * value.second;
    mean += slopes[i];
  }
  mean /= m;
  let spread = 0;
  for (let i = 0; i < m; i++) spread += (slopes[i] - mean) ** 2;
  spread /= m;
  const correction = 1 + ((m - degrees) / m) * (spread / (mean * mean));
  return (correction * correction * (psi2 / degrees)) / (mean * mean);
}

type ResidualLoss = NonNullable<LeastSquaresOptions["loss"]>;
