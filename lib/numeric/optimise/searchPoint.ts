import { numericJacobian } from "./numericJacobian.js";
import { costOf, isFiniteArray, reductionOf } from "./robustCost.js";
import type { SearchProblem } from "./searchTypes.js";

/** The point where a search stands: parameters, residuals, derivatives and cost, and what they have taken so far. */
export class SearchPoint {
  readonly p: Float64Array;
  r: Float64Array;
  /** Derivatives of the residuals, column-major (without the loss). */
  readonly columns: Float64Array;
  cost = Number.POSITIVE_INFINITY;
  evaluations = 1;
  jacobians = 0;
  readonly #problem: SearchProblem;
  readonly #rowMajor?: Float64Array;
  #trial: Float64Array;

  constructor(problem: SearchProblem, start: Float64Array) {
    const { count: m, free, loss, lossScale } = problem;
    this.#problem = problem;
    this.p = start.slice();
    this.r = new Float64Array(m);
    this.#trial = new Float64Array(m);
    this.columns = new Float64Array(m * free.length);
    if (problem.jacobian) this.#rowMajor = new Float64Array(m * free.length);
    problem.residuals(this.p, this.r);
    if (isFiniteArray(this.r)) this.cost = costOf(this.r, loss, lossScale);
  }

  /** Whether the residuals where it began were finite. */
  get finite(): boolean {
    return isFiniteArray(this.r);
  }

  /** Computes the derivatives here; false where they are not finite. */
  differentiate(refined: boolean): boolean {
    const { count: m, free, jacobian } = this.#problem;
    const { p, r, columns } = this;
    const n = free.length;
    this.jacobians++;
    const rowMajor = this.#rowMajor;
    if (jacobian && rowMajor) {
      jacobian(p, rowMajor);
      for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) columns[j * m + i] = rowMajor[i * n + j];
      return isFiniteArray(columns);
    }
    const spent = numericJacobian(this.#problem, p, r, refined, columns);
    if (spent < 0) return false;
    this.evaluations += spent;
    return isFiniteArray(columns);
  }

  /** Cost gained by going to `next`; minus infinity where the residuals there are not finite. `accept` goes there. */
  gainAt(next: Float64Array): number {
    const { residuals, loss, lossScale } = this.#problem;
    residuals(next, this.#trial);
    this.evaluations++;
    if (!isFiniteArray(this.#trial)) return Number.NEGATIVE_INFINITY;
    return reductionOf(this.r, this.#trial, loss, lossScale);
  }

  /** Moves to the place that `gainAt` was asked for last. */
  accept(next: Float64Array): void {
    const { free, loss, lossScale } = this.#problem;
    for (const k of free) this.p[k] = next[k];
    [this.r, this.#trial] = [this.#trial, this.r];
    this.cost = costOf(this.r, loss, lossScale);
  }

  /** Moves to wherever `p` was set, better or worse. */
  reevaluate(): void {
    const { residuals, loss, lossScale } = this.#problem;
    residuals(this.p, this.r);
    this.evaluations++;
    this.cost = isFiniteArray(this.r) ? costOf(this.r, loss, lossScale) : Number.POSITIVE_INFINITY;
  }

  /** A copy to come back to. */
  keep(): () => void {
    const kept = { p: this.p.slice(), r: this.r.slice(), columns: this.columns.slice(), cost: this.cost };
    return () => {
      this.p.set(kept.p);
      this.r.set(kept.r);
      this.columns.set(kept.columns);
      this.cost = kept.cost;
    };
  }
}
