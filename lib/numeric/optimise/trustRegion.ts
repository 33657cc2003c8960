import { LinearModel } from "./linearModel.js";
import { SearchPoint } from "./searchPoint.js";
import type { SearchOutcome, SearchPolicy, SearchProblem } from "./searchTypes.js";
import type { StopCode } from "./types.js";

/**
 * Trust-region Levenberg-Marquardt search for a local minimum of a (robust) sum of squares within bounds.
 *
 * Each step solves the linearised problem by QR and SVD of the column-scaled Jacobian (never by normal equations).
 * Parameters that a step would carry over a bound are put on it, and the step of the others is solved again. The search
 * ends when the Gauss-Newton step is shorter than `tolerance` standard errors (Bates and Watts, Nonlinear Regression
 * Analysis, 2.2.3), or when nothing more can be gained in double precision.
 */
export function trustRegionSearch(
  problem: SearchProblem,
  start: Float64Array,
  policy: SearchPolicy,
): SearchOutcome {
  const search = new TrustRegion(problem, start, policy);
  const code = search.run();
  const { p, r, columns, cost, evaluations, jacobians } = search.point;
  const { iterations, relativeOffset, condition, atBound } = search;
  return {
    p,
    r,
    columns,
    cost,
    code,
    iterations,
    evaluations,
    jacobians,
    relativeOffset,
    condition,
    atBound,
  };
}

class TrustRegion {
  readonly point: SearchPoint;
  iterations = 0;
  relativeOffset = Number.POSITIVE_INFINITY;
  condition = Number.POSITIVE_INFINITY;
  atBound: boolean[];
  readonly #problem: SearchProblem;
  readonly #policy: SearchPolicy;
  readonly #model: LinearModel;
  readonly #next: Float64Array;
  #radius = 0;
  /** Whether derivatives are as fine as they can be had. */
  #refined: boolean;
  /** Steps in a row that gained only rounding. */
  #stalls = 0;

  constructor(problem: SearchProblem, start: Float64Array, policy: SearchPolicy) {
    this.#problem = problem;
    this.#policy = policy;
    this.point = new SearchPoint(problem, start);
    this.#model = new LinearModel(problem, policy.scaling);
    this.#next = this.point.p.slice();
    this.#refined = problem.jacobian !== undefined;
    this.atBound = new Array<boolean>(problem.free.length).fill(false);
  }

  run(): StopCode {
    const { point } = this;
    if (!point.finite || !point.differentiate(false)) return "not-finite";
    for (;;) {
      this.#model.factor(point);
      // Distance to the minimum in standard errors, bounds respected.
      this.relativeOffset = this.#offset();
      this.condition = this.#model.condition();
      const end = this.#reached();
      if (end === "finer derivatives") continue;
      if (end !== undefined) return end;
      this.iterations++;
      if (!this.#advance() || this.#stalls >= 3) {
        if (!this.#refined && point.differentiate(true)) {
          this.#refined = true;
          this.#stalls = 0;
          this.#radius = 0;
          continue;
        }
        this.#polish();
        if (this.condition > 1e12) return "singular";
        return this.relativeOffset <= this.#problem.tolerance ? "converged" : "rounding";
      }
      if (!point.differentiate(this.#refined)) return "not-finite";
    }
  }

  #offset(): number {
    const { length, held } = this.#model.offset(this.point.p, this.point.cost);
    this.atBound = held;
    return length;
  }

  /** Why the search may end here, or that it goes on with finer derivatives; nothing where it goes on. */
  #reached(): StopCode | "finer derivatives" | undefined {
    if (this.point.cost === 0) return "exact";
    if (this.relativeOffset <= this.#problem.tolerance) {
      if (this.#refined) return this.condition > 1e12 ? "singular" : "converged";
      // Close on central differences: continue on the finer ones.
      this.#refined = true;
      return this.point.differentiate(true) ? "finer derivatives" : "rounding";
    }
    // A long run into a valley whose floor no longer depends on some combination of the parameters leads nowhere.
    if (this.iterations > 100 && this.condition > 1e10) return "singular";
    return this.iterations >= this.#problem.maxIterations ? "iterations" : undefined;
  }

  /** Shrinks the radius until a step gains what it should, and takes it; false where nothing is to be gained. */
  #advance(): boolean {
    const { point } = this;
    const { free } = this.#problem;
    if (this.#radius === 0) this.#radius = this.#firstRadius();
    for (;;) {
      const { predicted } = this.#model.bounded(point.p, this.#radius);
      let length = 0;
      let relative = 0;
      free.forEach((k, j) => {
        length += this.#model.step[j] * this.#model.step[j];
        this.#next[k] = this.#model.after(point.p, j);
        relative = Math.max(
          relative,
          Math.abs(this.#next[k] - point.p[k]) / Math.max(Math.abs(point.p[k]), 1e-300),
        );
      });
      length = Math.sqrt(length);
      if (!(length > 0) || relative <= 2 * Number.EPSILON || predicted <= 0) return false;
      const gained = point.gainAt(this.#next);
      const ratio = gained / predicted;
      if (ratio >= 1e-4 && gained > 0) {
        // A run of steps that gain only rounding ends the search.
        this.#stalls = gained <= 1e-14 * point.cost ? this.#stalls + 1 : 0;
        point.accept(this.#next);
        if (ratio > 0.75) this.#radius = Math.max(this.#radius, 2 * length);
        else if (ratio < 0.25) this.#radius = Math.min(this.#radius, length) * 0.5;
        return true;
      }
      this.#radius = Math.min(this.#radius, length) * (gained > Number.NEGATIVE_INFINITY ? 0.25 : 0.1);
      if (predicted <= 1e-15 * point.cost) return false;
    }
  }

  /** A multiple of the scaled length of the parameters. */
  #firstRadius(): number {
    let length = 0;
    this.#problem.free.forEach((k, j) => {
      length += (this.#model.scale[j] * this.point.p[k]) ** 2;
    });
    return this.#policy.radius * (Math.sqrt(length) || 1);
  }

  /** Full Gauss-Newton steps where the cost is too flat to judge by: each must bring the minimum nearer. */
  #polish(): void {
    const { point } = this;
    const { free, tolerance } = this.#problem;
    for (let round = 0; round < 30 && this.relativeOffset > tolerance; round++) {
      const before = point.cost;
      const back = point.keep();
      free.forEach((k, j) => {
        point.p[k] = this.#model.after(point.p, j);
      });
      point.reevaluate();
      let better = point.cost <= before * (1 + 1e-11) && point.differentiate(this.#refined);
      if (better) {
        this.#model.factor(point);
        const now = this.#offset();
        better = now < 0.9 * this.relativeOffset;
        if (better) this.relativeOffset = now;
      }
      if (!better) {
        back();
        this.#model.factor(point);
        this.#offset();
        return;
      }
    }
  }
}
