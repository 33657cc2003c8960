import { studentT } from "../distributions/studentT.js";
import { normalInverse } from "./covariance.js";
import { asResidualProblem, searchProblem } from "./residualProblem.js";
import { costOf } from "./robustCost.js";
import { searchBest } from "./searchBest.js";
import type { FitResult, LeastSquaresProblem } from "./types.js";

/** Which profiles are wanted, at which coverage. */
export interface ProfileOptions {
  /** Coverage; that of the fit when absent. */
  readonly level?: number;
  /** Names of the parameters wanted; all free ones when absent. */
  readonly names?: readonly string[];
}

/** Interval of one parameter by its profile: the values that the data bear when all others are fitted anew. */
export interface ProfileInterval {
  readonly name: string;
  readonly value: number;
  /** Ends of the interval; infinite, or the bound, on a side where the data set no limit. */
  readonly low: number;
  readonly high: number;
  /** Whether each end was found where the sum of squares rises by what the level asks. */
  readonly lowFound: boolean;
  readonly highFound: boolean;
}

/**
 * Intervals by profile likelihood: a parameter is held at trial values, the others are fitted again, and the ends lie
 * where the residual sum of squares has risen by t² s² (Bates and Watts, Nonlinear Regression Analysis, 6.1). Unlike
 * the linearised interval they follow a curved sum of squares and need not be symmetric. Where the fit's covariance
 * allows for correlated residuals, the rise is scaled by the ratio of that variance to the independent one.
 *
 * @example
 * const intervals = profileIntervals(problem, fitLeastSquares(problem));
 */
export function profileIntervals(
  given: LeastSquaresProblem,
  fit: FitResult,
  options: ProfileOptions = {},
): ProfileInterval[] {
  const problem = asResidualProblem(given);
  const level = options.level ?? fit.level;
  const m = fit.count;
  const n = fit.free.length;
  const scale = fit.lossScale ?? 1;
  const loss = fit.loss;
  const least = 2 * costOf(fit.residuals, loss, scale);
  const degrees = Math.max(1, fit.degreesOfFreedom);
  const quantile = studentT(level, degrees);
  const columns = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) columns[j * m + i] = fit.jacobian[i * n + j];
  const { inverse } = normalInverse(columns, m, n);
  const out: ProfileInterval[] = [];
  for (let j = 0; j < n; j++) {
    const index = fit.free[j];
    const parameter = fit.parameters[index];
    if (options.names && !options.names.includes(parameter.name)) continue;
    const variance = fit.covariance[j * n + j];
    const error = Math.sqrt(variance);
    const { value } = parameter;
    if (!(error > 0)) {
      out.push({
        name: parameter.name,
        value,
        low: parameter.lower,
        high: parameter.upper,
        lowFound: false,
        highFound: false,
      });
      continue;
    }
    // Rise of the sum of squares per unit of t²: s², or what stands for it with correlated residuals or a robust loss.
    const unit = variance / inverse[j * n + j];
    let warm: Float64Array = fit.values.slice();
    let warmAt = value;
    /** Square root of the rise in units of t, signed by the side. */
    const rise = (at: number): number => {
      const start = warm.slice();
      // The others follow along the ridge.
      for (let k = 0; k < n; k++)
        if (k !== j) {
          const c = fit.covariance[k * n + j];
          if (Number.isFinite(c)) start[fit.free[k]] += (c / variance) * (at - warmAt);
        }
      start[index] = at;
      let cost: number;
      if (n === 1) {
        const r = new Float64Array(m);
        problem.residuals(start, r);
        cost = 2 * costOf(r, loss, scale);
      } else {
        const held = {
          ...problem,
          parameters: problem.parameters.map((q, i) =>
            i === index ? { ...q, start: at, fixed: true } : { ...q, start: start[i] },
          ),
          jacobian: undefined,
          residuals: problem.residuals.bind(problem),
        };
        const prepared = searchProblem(held, { loss, tolerance: 1e-5 }, scale);
        for (const k of prepared.free)
          start[k] = Math.min(prepared.upper[k], Math.max(prepared.lower[k], start[k]));
        const { best } = searchBest(prepared, start, false);
        cost = 2 * best.cost;
        if (Number.isFinite(cost)) {
          warm = best.p;
          warmAt = at;
        }
      }
      return Math.sqrt(Math.max(0, cost - least) / unit);
    };
    const end = (side: 1 | -1): { at: number; found: boolean } => {
      warm = fit.values.slice();
      warmAt = value;
      const bound = side > 0 ? parameter.upper : parameter.lower;
      const inside = (v: number): number => (side > 0 ? Math.min(bound, v) : Math.max(bound, v));
      let near = value;
      let nearRise = 0;
      let far = inside(value + side * quantile * error);
      for (let tries = 0; tries < 40; tries++) {
        const r = rise(far);
        if (r >= quantile || !Number.isFinite(r)) {
          // Bracketed: regula falsi on a function that is nearly a straight line, bisection where it is not.
          let high = far;
          let highRise = r;
          for (let round = 0; round < 40; round++) {
            const straight =
              Number.isFinite(highRise) && highRise > nearRise
                ? near + ((quantile - nearRise) / (highRise - nearRise)) * (high - near)
                : (near + high) / 2;
            const at = round % 4 === 3 ? (near + high) / 2 : straight;
            const here = rise(at);
            if (Math.abs(here - quantile) < 1e-4 * quantile) return { at, found: true };
            if (here < quantile) {
              near = at;
              nearRise = here;
            } else {
              high = at;
              highRise = here;
            }
            if (Math.abs(high - near) <= 1e-10 * Math.abs(value - high)) return { at: high, found: true };
          }
          return { at: high, found: true };
        }
        if (far === bound) return { at: bound, found: false };
        near = far;
        nearRise = r;
        const growth = r > 0 ? Math.min(2, Math.max(1.1, (1.05 * quantile) / r)) : 2;
        far = inside(value + growth * (far - value));
      }
      return { at: side * Number.POSITIVE_INFINITY, found: false };
    };
    const low = end(-1);
    const high = end(1);
    out.push({
      name: parameter.name,
      value,
      low: low.at,
      high: high.at,
      lowFound: low.found,
      highFound: high.found,
    });
  }
  return out;
}
