import { householderQr, jacobiSvd } from "../linear/orthogonal.js";
import { stepWithin } from "./dampedStep.js";
import { type LossValue, robustLoss } from "./robustLoss.js";
import type { SearchPolicy, SearchProblem } from "./searchTypes.js";

const scratch: LossValue = { rho: 0, first: 0, second: 0 };

/** Where a search stands, as the linear model needs it. */
interface Place {
  readonly p: Float64Array;
  readonly r: Float64Array;
  readonly columns: Float64Array;
}

/** The residuals near a point as a linear problem in scaled steps of the free parameters: R step = -Qᵀr. */
export class LinearModel {
  /** The step last computed, scaled. */
  readonly step: Float64Array;
  readonly scale: Float64Array;
  readonly #problem: SearchProblem;
  readonly #scaling: SearchPolicy["scaling"];
  readonly #n: number;
  readonly #rows: number;
  readonly #a: Float64Array;
  readonly #b: Float64Array;
  readonly #R: Float64Array;
  readonly #qtr: Float64Array;

  constructor(problem: SearchProblem, scaling: SearchPolicy["scaling"]) {
    const n = problem.free.length;
    this.#problem = problem;
    this.#scaling = scaling;
    this.#n = n;
    this.#rows = Math.max(problem.count, n);
    this.#a = new Float64Array(this.#rows * n);
    this.#b = new Float64Array(this.#rows);
    this.#R = new Float64Array(n * n);
    this.#qtr = new Float64Array(n);
    this.step = new Float64Array(n);
    this.scale = new Float64Array(n).fill(0);
  }

  /** Where a parameter would be after the step, within its bounds. */
  after(p: Float64Array, j: number): number {
    const { free, lower, upper } = this.#problem;
    const k = free[j];
    return Math.min(upper[k], Math.max(lower[k], p[k] + this.step[j] / this.scale[j]));
  }

  /** Scales the columns, factors them, keeps R and Qᵀr. */
  factor({ p, r, columns }: Place): void {
    const { count: m, free, typical } = this.#problem;
    const [n, rows, a, b, R, scale] = [this.#n, this.#rows, this.#a, this.#b, this.#R, this.scale];
    b.fill(0);
    for (let i = 0; i < m; i++) b[i] = r[i];
    for (let j = 0; j < n; j++) {
      let norm = 0;
      for (let i = 0; i < m; i++) {
        const v = columns[j * m + i];
        norm += v * v;
      }
      norm = Math.sqrt(norm);
      if (this.#scaling === "size") scale[j] = 1 / Math.max(Math.abs(p[free[j]]), 0.01 * typical[free[j]]);
      else if (this.#scaling === "current") scale[j] = norm > 0 ? norm : scale[j] || 1;
      else scale[j] = Math.max(scale[j], norm) || 1;
    }
    a.fill(0);
    for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) a[j * rows + i] = columns[j * m + i] / scale[j];
    this.#bendByLoss(r);
    householderQr(a, b, rows, n);
    for (let j = 0; j < n; j++) {
      for (let i = 0; i <= j; i++) R[j * n + i] = a[j * rows + i];
      for (let i = j + 1; i < n; i++) R[j * n + i] = 0;
      this.#qtr[j] = b[j];
    }
  }

  /** Triggs correction: weighted rows whose Gauss-Newton matrix is that of the robust cost. */
  #bendByLoss(r: Float64Array): void {
    const { count: m, loss, lossScale } = this.#problem;
    if (loss === "linear") return;
    for (let i = 0; i < m; i++) {
      const z = (r[i] / lossScale) ** 2;
      robustLoss(loss, z, scratch);
      const curvature = Math.max(scratch.first + 2 * scratch.second * z, 1e-8 * scratch.first);
      const root = Math.sqrt(curvature);
      for (let j = 0; j < this.#n; j++) this.#a[j * this.#rows + i] *= root;
      this.#b[i] *= scratch.first / root;
    }
  }

  /** Leaves in `step` the best one within a radius and the bounds; gives the reduction the model predicts. */
  bounded(p: Float64Array, radius: number): { predicted: number; held: boolean[] } {
    const { lower, upper, free } = this.#problem;
    const [n, R, qtr, step, scale] = [this.#n, this.#R, this.#qtr, this.step, this.scale];
    const held = new Array<boolean>(n).fill(false);
    step.fill(0);
    for (let pass = 0; pass <= n; pass++) {
      const open: number[] = [];
      for (let j = 0; j < n; j++) if (!held[j]) open.push(j);
      if (open.length > 0) this.#solveOpen(open, held, radius);
      let worst = -1;
      let excess = 0;
      for (const j of open) {
        const k = free[j];
        const to = p[k] + step[j] / scale[j];
        const over = Math.max(lower[k] - to, to - upper[k]) * scale[j];
        if (over > excess) {
          excess = over;
          worst = j;
        }
      }
      if (worst < 0) break;
      const k = free[worst];
      held[worst] = true;
      const to = p[k] + step[worst] / scale[worst];
      step[worst] = ((to > upper[k] ? upper[k] : lower[k]) - p[k]) * scale[worst];
    }
    let predicted = 0;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let j = i; j < n; j++) sum += R[j * n + i] * step[j];
      predicted -= sum * (qtr[i] + sum / 2);
    }
    return { predicted, held };
  }

  /** Solves the step of the parameters that no bound holds, with the held parts of it moved to the right side. */
  #solveOpen(open: readonly number[], held: readonly boolean[], radius: number): void {
    const [n, R, step] = [this.#n, this.#R, this.step];
    const right = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let sum = this.#qtr[i];
      for (let j = 0; j < n; j++) if (held[j]) sum += R[j * n + i] * step[j];
      right[i] = sum;
    }
    const sub = new Float64Array(n * open.length);
    open.forEach((j, c) => {
      for (let i = 0; i < n; i++) sub[c * n + i] = R[j * n + i];
    });
    const part = new Float64Array(open.length);
    stepWithin(jacobiSvd(sub, n, open.length), n, open.length, right, radius, part);
    open.forEach((j, c) => {
      step[j] = part[c];
    });
  }

  /** Leaves the Gauss-Newton step in `step`; gives its length in standard errors, and what a bound holds. */
  offset(p: Float64Array, cost: number): { length: number; held: boolean[] } {
    const [n, R, step] = [this.#n, this.#R, this.step];
    const { held } = this.bounded(p, Number.POSITIVE_INFINITY);
    if (cost === 0) return { length: 0, held };
    const degrees = Math.max(1, this.#problem.count - n);
    let tangent = 0;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let j = i; j < n; j++) sum += R[j * n + i] * step[j];
      tangent += sum * sum;
    }
    return { length: Math.sqrt(tangent / n) / Math.sqrt((2 * cost) / degrees), held };
  }

  /** Condition number of R with its columns brought to length 1. */
  condition(): number {
    const n = this.#n;
    const { s } = jacobiSvd(unitColumns(this.#R, n), n, n);
    return s[n - 1] > 0 ? s[0] / s[n - 1] : Number.POSITIVE_INFINITY;
  }
}

/** R with each column brought to length 1 (zero columns stay zero). */
function unitColumns(R: Float64Array, n: number): Float64Array {
  const out = R.slice();
  for (let j = 0; j < n; j++) {
    let norm = 0;
    for (let i = 0; i <= j; i++) norm += out[j * n + i] ** 2;
    norm = Math.sqrt(norm);
    if (norm > 0) for (let i = 0; i <= j; i++) out[j * n + i] /= norm;
  }
  return out;
}
