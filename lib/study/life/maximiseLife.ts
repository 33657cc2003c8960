import { Matrix, solve } from "ml-matrix";
import { solvePositive } from "../../numeric/linear/solvePositive.js";
import { type LifeRow, lifeLikelihood } from "./lifeLikelihood.js";
import type { LifeShape } from "./lifeShapes.js";

/** Lives, and the distribution they are fitted with; z is shifted by `shift`. */
export interface LifeProblem {
  readonly shape: LifeShape;
  readonly rows: readonly LifeRow[];
  readonly shift: number;
}

/** The parameters at which the likelihood is largest. */
export interface LifeFit {
  readonly parameters: Float64Array; // coefficients, then log(sigma)
  readonly logLikelihood: number;
  readonly iterations: number;
}

/** A first guess: mean and spread of the logarithms of what is known of each life. */
export function startOf(rows: readonly LifeRow[]): Float64Array {
  const width = rows[0].x.length;
  let sum = 0;
  let squares = 0;
  let n = 0;
  const xx = new Matrix(width, width);
  const xy = new Matrix(width, 1);
  for (const { low, high, count, x } of rows) {
    const y = high === Infinity ? low : low === -Infinity ? high - 0.7 : (low + high) / 2;
    if (!Number.isFinite(y)) continue;
    sum += count * y;
    squares += count * y * y;
    n += count;
    for (let i = 0; i < width; i++) {
      xy.set(i, 0, xy.get(i, 0) + count * x[i] * y);
      for (let j = 0; j < width; j++) xx.set(i, j, xx.get(i, j) + count * x[i] * x[j]);
    }
  }
  const mean = sum / n;
  const spread = Math.sqrt(Math.max(1e-4, squares / n - mean * mean));
  for (let i = 0; i < width; i++) xx.set(i, i, xx.get(i, i) * (1 + 1e-10));
  const start = new Float64Array(width + 1);
  const b = width > 1 ? solve(xx, xy, true).to1DArray() : [mean + 0.5 * spread];
  for (let i = 0; i < width; i++) start[i] = b[i];
  start[width] = Math.log(spread);
  return start;
}

/** Newton's method with halved steps; parameter `fixed` (or none, -1) is held. */
export function maximise(
  { shape, rows, shift }: LifeProblem,
  start: Float64Array,
  fixed: number,
): LifeFit | undefined {
  const free = Array.from(start.keys()).filter((i) => i !== fixed);
  let parameters = Float64Array.from(start);
  let now = lifeLikelihood(shape, rows, parameters, shift);
  for (let iteration = 1; iteration <= 200; iteration++) {
    if (!Number.isFinite(now.value)) return undefined;
    const gradient = new Matrix(free.map((i) => [now.gradient[i]]));
    const minus = new Matrix(free.map((i) => free.map((j) => -now.hessian[i * parameters.length + j])));
    let step = raisedSolve(minus, gradient);
    let next = now;
    let moved = parameters;
    let accepted = false;
    for (let halving = 0; halving < 40; halving++) {
      moved = Float64Array.from(parameters);
      free.forEach((i, k) => {
        moved[i] += step[k];
      });
      next = lifeLikelihood(shape, rows, moved, shift);
      if (Number.isFinite(next.value) && next.value >= now.value - 1e-12 * Math.abs(now.value)) {
        accepted = true;
        break;
      }
      step = step.map((s) => s / 2);
    }
    const gain = next.value - now.value;
    if (accepted) {
      parameters = moved;
      now = next;
    }
    if (parameters[parameters.length - 1] < -14 || parameters[parameters.length - 1] > 25) return undefined;
    const small = step.every((s, k) => Math.abs(s) <= 1e-9 * (Math.abs(parameters[free[k]]) + 1e-3));
    if (!accepted || small || (Math.abs(gain) < 1e-13 * Math.abs(now.value) && iteration > 3))
      return { parameters, logLikelihood: now.value, iterations: iteration };
  }
  return undefined;
}

/** Newton step; a matrix that is not positive gets a growing diagonal until it is. */
function raisedSolve(minus: Matrix, gradient: Matrix): number[] {
  const size = minus.rows;
  const scale = Math.max(...minus.diagonal().map(Math.abs), 1e-12);
  for (let ridge = 0; ridge < 1e8; ridge = ridge === 0 ? 1e-6 : ridge * 10) {
    const m = minus.clone();
    for (let i = 0; i < size; i++) m.set(i, i, m.get(i, i) + ridge * scale);
    const step = solvePositive(m.to2DArray(), gradient.to1DArray());
    if (step !== undefined) return step;
  }
  return gradient.to1DArray().map((g) => g / scale);
}

/** Standard error of one parameter from the curvature, 0.1 when the curvature says nothing. */
export function standardError(
  { shape, rows, shift }: LifeProblem,
  parameters: Float64Array,
  index: number,
): number {
  const { hessian } = lifeLikelihood(shape, rows, parameters, shift);
  const size = parameters.length;
  const unit = new Matrix(size, 1);
  unit.set(index, 0, 1);
  const minus = new Matrix(
    Array.from({ length: size }, (_, i) => Array.from({ length: size }, (_, j) => -hessian[i * size + j])),
  );
  const column = solvePositive(minus.to2DArray(), unit.to1DArray());
  const variance = column?.[index] ?? Number.NaN;
  return variance > 0 ? Math.sqrt(variance) : 0.1;
}
