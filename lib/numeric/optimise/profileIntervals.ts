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
  const quantile = studentT(level, Math.max(1, fit.degreesOfFreedom));
  const independent = independentVariances(fit);
  return fit.free.flatMap((index, j) => {
    const { name, value, lower, upper } = fit.parameters[index];
    if (options.names && !options.names.includes(name)) return [];
    const variance = fit.covariance[j * fit.free.length + j];
    if (!(Math.sqrt(variance) > 0))
      return [{ name, value, low: lower, high: upper, lowFound: false, highFound: false }];
    // Rise of the sum of squares per unit of t²: s², or what stands for it with correlated residuals or a robust loss.
    const profile = new Profile(problem, fit, j, variance / independent[j]);
    const low = profile.end(-1, quantile);
    const high = profile.end(1, quantile);
    return [{ name, value, low: low.at, high: high.at, lowFound: low.found, highFound: high.found }];
  });
}

/** Variances of the free parameters for residuals that are independent and of variance one. */
function independentVariances(fit: FitResult): number[] {
  const m = fit.count;
  const n = fit.free.length;
  const columns = new Float64Array(m * n);
  for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) columns[j * m + i] = fit.jacobian[i * n + j];
  const { inverse } = normalInverse(columns, m, n);
  return fit.free.map((_, j) => inverse[j * n + j]);
}

/** The least sum of squares as a function of one parameter, all others fitted anew. */
class Profile {
  private readonly index: number;
  private readonly variance: number;
  private readonly scale: number;
  /** The least sum of squares of all. */
  private readonly least: number;
  /** The last fit, from which the next one starts, and the value it was made at. */
  private warm: Float64Array;
  private warmAt: number;

  /**
   * @param j number of the parameter among the free ones
   * @param unit rise of the sum of squares for each unit of t²
   */
  constructor(
    private readonly problem: ReturnType<typeof asResidualProblem>,
    private readonly fit: FitResult,
    private readonly j: number,
    private readonly unit: number,
  ) {
    this.index = fit.free[j];
    this.variance = fit.covariance[j * fit.free.length + j];
    this.scale = fit.lossScale ?? 1;
    this.least = 2 * costOf(fit.residuals, fit.loss, this.scale);
    this.warm = fit.values.slice();
    this.warmAt = fit.parameters[this.index].value;
  }

  /** Square root of the rise of the sum of squares at a value, in units of t. */
  private rise(at: number): number {
    const start = this.alongRidge(at);
    const cost = this.fit.free.length === 1 ? this.costAt(start) : this.costOfOthers(start, at);
    return Math.sqrt(Math.max(0, cost - this.least) / this.unit);
  }

  /** All parameters with this one at a value; the others follow along the ridge. */
  private alongRidge(at: number): Float64Array {
    const { fit, j } = this;
    const n = fit.free.length;
    const start = this.warm.slice();
    for (let k = 0; k < n; k++)
      if (k !== j) {
        const c = fit.covariance[k * n + j];
        if (Number.isFinite(c)) start[fit.free[k]] += (c / this.variance) * (at - this.warmAt);
      }
    start[this.index] = at;
    return start;
  }

  private costAt(values: Float64Array): number {
    const r = new Float64Array(this.fit.count);
    this.problem.residuals(values, r);
    return 2 * costOf(r, this.fit.loss, this.scale);
  }

  /** The least cost with this parameter held. */
  private costOfOthers(start: Float64Array, at: number): number {
    const { problem, fit, index } = this;
    const held = {
      ...problem,
      parameters: problem.parameters.map((q, i) =>
        i === index ? { ...q, start: at, fixed: true } : { ...q, start: start[i] },
      ),
      jacobian: undefined,
      residuals: problem.residuals.bind(problem),
    };
    const prepared = searchProblem(held, { loss: fit.loss, tolerance: 1e-5 }, this.scale);
    for (const k of prepared.free)
      start[k] = Math.min(prepared.upper[k], Math.max(prepared.lower[k], start[k]));
    const { best } = searchBest(prepared, start, false);
    const cost = 2 * best.cost;
    if (Number.isFinite(cost)) {
      this.warm = best.p;
      this.warmAt = at;
    }
    return cost;
  }

  /** Where the rise reaches a quantile on one side; the parameter's bound, or infinity, where it does not. */
  end(side: 1 | -1, quantile: number): { readonly at: number; readonly found: boolean } {
    const { fit, index } = this;
    const { value, lower, upper } = fit.parameters[index];
    this.warm = fit.values.slice();
    this.warmAt = value;
    const bound = side > 0 ? upper : lower;
    const inside = (v: number): number => (side > 0 ? Math.min(bound, v) : Math.max(bound, v));
    let near: Point = { at: value, rise: 0 };
    let far = inside(value + side * quantile * Math.sqrt(this.variance));
    for (let tries = 0; tries < 40; tries++) {
      const rise = this.rise(far);
      if (rise >= quantile || !Number.isFinite(rise))
        return { at: this.between(near, { at: far, rise }, quantile), found: true };
      if (far === bound) return { at: bound, found: false };
      near = { at: far, rise };
      const growth = rise > 0 ? Math.min(2, Math.max(1.1, (1.05 * quantile) / rise)) : 2;
      far = inside(value + growth * (far - value));
    }
    return { at: side * Number.POSITIVE_INFINITY, found: false };
  }

  /** Between two points: regula falsi on a function that is nearly a straight line, bisection where it is not. */
  private between(near: Point, far: Point, quantile: number): number {
    const { value } = this.fit.parameters[this.index];
    let low = near;
    let high = far;
    for (let round = 0; round < 40; round++) {
      const middle = (low.at + high.at) / 2;
      const straight =
        Number.isFinite(high.rise) && high.rise > low.rise
          ? low.at + ((quantile - low.rise) / (high.rise - low.rise)) * (high.at - low.at)
          : middle;
      const at = round % 4 === 3 ? middle : straight;
      const rise = this.rise(at);
      if (Math.abs(rise - quantile) < 1e-4 * quantile) return at;
      if (rise < quantile) low = { at, rise };
      else high = { at, rise };
      if (Math.abs(high.at - low.at) <= 1e-10 * Math.abs(value - high.at)) return high.at;
    }
    return high.at;
  }
}

/** A value and the rise there. */
interface Point {
  readonly at: number;
  readonly rise: number;
}
