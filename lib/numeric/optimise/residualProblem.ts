import type { ResidualFunction } from "./numericJacobian.js";
import type { SearchProblem } from "./searchTypes.js";
import type { LeastSquaresOptions, LeastSquaresProblem, ModelProblem, ResidualProblem } from "./types.js";

export function isModel(problem: LeastSquaresProblem): problem is ModelProblem {
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
