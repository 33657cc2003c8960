import { width } from "./gramLayout.js";
import type { PreparedStep } from "./preparedStep.js";
import { StepModel } from "./stepModel.js";
import type { StepShape } from "./stepShapes.js";

/** Outcome of one model's fit, in scaled units (`a`, `b` scaled by the span: multiply `a` and a dead time by it). */
export interface StepModelFit {
  readonly shape: StepShape;
  readonly drift: boolean;
  readonly a: number;
  readonly b: number;
  readonly initial: number;
  readonly slope: number;
  readonly amplitude: number;
  /** Scaled residual sum of squares. */
  readonly sumOfSquares: number;
  /** Fitted parameters in all. */
  readonly parameters: number;
  readonly converged: boolean;
  readonly iterations: number;
  /** Upper triangular factor of the Gram matrix over the columns in `use` (1, t, g, dg/da, dg/db by number), row-major
   * by six. */
  readonly factor: Float64Array;
  readonly use: readonly number[];
}

export interface StepModelOptions {
  readonly drift?: boolean;
  /** Scaled initial value held fixed (else fitted). */
  readonly heldInitial?: number;
  /** Stop when the minimum is nearer than this many standard errors, 1e-6 when absent. */
  readonly tolerance?: number;
  /** Most iterations, 60 when absent. */
  readonly most?: number;
}

/** A second order whose b is below this share of a² cannot be told from the first order, and a time constant of so many
 * records from a line. */
const collapsed = 2e-4;
const slowest = 50;

/** Parts of its value that a shape parameter goes to at once, a dead time, records, and b of a second order. */
const least = { part: 0.1, b: 1e-9 };
const most = { part: 10, deadTime: 0.9 };

/** Where a search stands: shape parameters, the factor there, and what that says of the way to the minimum. */
class ShapeSearch {
  factor = new Float64Array(width * width);
  private trial = new Float64Array(width * width);
  /** Damping of the next step. */
  private lambda = 0;
  private squares = 0;
  private amplitude = 0;
  /** Tangent parts of the residual along the shape derivatives. */
  private e1 = 0;
  private e2 = 0;
  /** Whether the dead time is held at none. */
  private heldB = false;
  /** Distance to the minimum, standard errors. */
  offset = 0;

  constructor(
    private readonly model: StepModel,
    public a: number,
    public b: number,
  ) {}

  /** Evaluates the start; false where the columns depend on each other. */
  begin(): boolean {
    return this.model.factorAt(this.a, this.b, this.factor);
  }

  /** Whether the model has become a simpler one. */
  degenerate(): boolean {
    return this.a > slowest || (this.model.shape === "second-order" && this.b < collapsed * this.a * this.a);
  }

  /** Takes the way to the minimum from the factor; false where there is no response to shape. */
  look(): boolean {
    const { model, factor } = this;
    this.squares = model.squares(factor);
    this.amplitude = model.coefficients(factor)[2];
    if (this.amplitude === 0) return false;
    this.e1 = factor[3 * width + 5];
    this.e2 = model.two ? factor[4 * width + 5] : 0;
    // A dead time of none that wants to be less is held.
    this.heldB = model.shape === "first-order-dead-time" && this.b === 0 && this.e2 * this.amplitude < 0;
    if (this.heldB) this.e2 = 0;
    this.offset = model.distance(this.e1, this.e2, this.squares);
    return true;
  }

  /** Whether the minimum is as near as is asked, or nothing is left of the residuals. */
  arrived(tolerance: number): boolean {
    return this.offset < tolerance || this.squares <= 1e-26 * this.model.record.sums[5];
  }

  /** Goes to a better point, the steps the shorter the more of them fail. */
  advance(): "moved" | "too small to see" | "stuck" {
    const { model } = this;
    for (let tries = 0; tries < 25; tries++) {
      const [stepA, stepB] = this.step();
      const a = withinFactor(this.a + stepA / this.amplitude, this.a);
      const b = model.two ? this.secondInside(this.b + stepB / this.amplitude) : 0;
      const tiny =
        Math.abs(a - this.a) <= 1e-11 * this.a &&
        (!model.two || Math.abs(b - this.b) <= 1e-11 * Math.max(this.b, 1e-3 * this.a));
      if (tiny) return "too small to see";
      if (model.factorAt(a, b, this.trial) && this.better()) {
        this.a = a;
        this.b = b;
        [this.factor, this.trial] = [this.trial, this.factor];
        this.lambda = this.lambda < 1e-4 ? 0 : this.lambda / 10;
        return "moved";
      }
      this.lambda = this.lambda === 0 ? 1e-3 : this.lambda * 8;
    }
    return "stuck";
  }

  /** Damped Gauss-Newton step of both shape parameters, times the amplitude. */
  private step(): readonly [number, number] {
    const { factor: r, lambda, e1, e2 } = this;
    const r11 = r[3 * width + 3];
    if (!this.model.two || this.heldB) return [e1 / (r11 * (1 + lambda)), 0];
    const r12 = r[3 * width + 4];
    const r22 = r[4 * width + 4];
    const h11 = r11 * r11 * (1 + lambda);
    const h12 = r11 * r12;
    const h22 = (r12 * r12 + r22 * r22) * (1 + lambda);
    const f1 = r11 * e1;
    const f2 = r12 * e1 + r22 * e2;
    const det = h11 * h22 - h12 * h12;
    return [(h22 * f1 - h12 * f2) / det, (h11 * f2 - h12 * f1) / det];
  }

  /** The second shape parameter within its bounds. */
  private secondInside(next: number): number {
    const { b } = this;
    if (this.model.shape === "second-order") {
      if (!(next > least.part * b)) return Math.max(least.b, least.part * b);
      return next > most.part * b && b > 0 ? most.part * b : next;
    }
    if (!(next > 0)) return 0;
    return Math.min(next, most.deadTime);
  }

  /**
   * Whether the point tried is better. Close to the minimum the sum of squares is flat to the last digit and its
   * rounding would stop the search at random: there a step counts that brings the minimum clearly nearer.
   */
  private better(): boolean {
    const { model, trial, squares, offset } = this;
    const left = model.squares(trial);
    if (left <= squares * (1 + 1e-13)) return true;
    if (offset > 1e-2 || left > squares * (1 + 1e-7) + 1e-15 * model.record.sums[5]) return false;
    const e2 = model.two && !this.heldB ? trial[4 * width + 5] : 0;
    return model.distance(trial[3 * width + 5], e2, left) < 0.5 * offset;
  }
}

/** A value no more than a factor away from the one before. */
function withinFactor(next: number, before: number): number {
  if (!(next > least.part * before)) return least.part * before;
  return Math.min(next, most.part * before);
}

/**
 * Least-squares fit of one step response: the linear parameters (initial value, slope, amplitude) are eliminated
 * exactly at every step (variable projection, Golub and Pereyra 1973, in Kaufman's 1975 form) and only the one or two
 * shape parameters are searched, from the Cholesky factor of the Gram matrix of the columns. One pass over the samples
 * per trial.
 *
 * @returns undefined where the columns depend on each other (nothing to fit), where a second order collapses into the
 * first, or where the response becomes a line
 */
export function fitStepModel(
  s: PreparedStep,
  shape: StepShape,
  startA: number,
  startB: number,
  options: StepModelOptions = {},
): StepModelFit | undefined {
  const { drift = false, heldInitial, tolerance = 1e-6, most: mostIterations = 60 } = options;
  const model = new StepModel(s, shape, drift, heldInitial);
  const lowest = shape === "second-order" ? least.b : 0;
  const search = new ShapeSearch(model, startA, model.two ? Math.max(lowest, startB) : 0);
  if (!search.begin()) return undefined;
  let iterations = 0;
  let converged = false;
  for (; iterations < mostIterations; iterations++) {
    if (search.degenerate()) return undefined;
    if (!search.look()) break;
    converged = search.arrived(tolerance);
    if (converged) break;
    const outcome = search.advance();
    if (outcome === "moved") continue;
    converged = outcome === "too small to see" || search.offset < 1e-3;
    break;
  }
  const { a, b, factor } = search;
  const c = model.coefficients(factor);
  return {
    shape,
    drift,
    a,
    b,
    initial: heldInitial ?? c[0],
    slope: drift ? c[1] : 0,
    amplitude: c[2],
    sumOfSquares: model.squares(factor),
    parameters: model.parameters,
    converged,
    iterations,
    factor,
    use: model.use.slice(0, -1),
  };
}

/**
 * Covariance of the scaled parameters per unit of residual variance, in the order of `use`: initial, slope, amplitude,
 * a, b. Row-major.
 */
export function scaledCovariance(fit: StepModelFit): Float64Array {
  const { use, factor, amplitude } = fit;
  const n = use.length;
  // Inverse of the factor, columns of shape derivatives multiplied by the amplitude.
  const inverse = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    for (let i = j; i >= 0; i--) {
      let sum = i === j ? 1 : 0;
      for (let k = i + 1; k <= j; k++) sum -= factor[use[i] * width + use[k]] * inverse[k * n + j];
      inverse[i * n + j] = sum / factor[use[i] * width + use[i]];
    }
  }
  const out = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = i; k < n; k++) sum += inverse[i * n + k] * inverse[j * n + k];
      if (use[i] > 2) sum /= amplitude;
      if (use[j] > 2) sum /= amplitude;
      out[i * n + j] = sum;
      out[j * n + i] = sum;
    }
  return out;
}
