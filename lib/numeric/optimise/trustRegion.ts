import { householderQr, jacobiSvd } from "../linear/orthogonal.js";
import type { ResidualFunction } from "./numericJacobian.js";
import { numericJacobian } from "./numericJacobian.js";
import { type LossValue, robustLoss } from "./robustLoss.js";
import type { LossName, StopCode } from "./types.js";

/** How steps are scaled and how boldly the search begins. */
export interface SearchPolicy {
  readonly name: string;
  /**
   * `largest`: each parameter by the largest Jacobian column norm met so far (Moré 1978);
   * `current`: by the present column norm (Marquardt 1963);
   * `size`: by the size of the parameter itself (Levenberg 1944, in relative units).
   */
  readonly scaling: "largest" | "current" | "size";
  /** First trust radius as a multiple of the scaled length of the start. */
  readonly radius: number;
  /** Solve the parameters that enter linearly before the search begins. */
  readonly linearFirst?: boolean;
}

export interface SearchProblem {
  readonly count: number;
  readonly residuals: ResidualFunction;
  /** Row-major derivatives by the free parameters. */
  readonly jacobian?: ResidualFunction;
  readonly free: readonly number[];
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  readonly typical: Float64Array;
  readonly loss: LossName;
  readonly lossScale: number;
  readonly maxIterations: number;
  readonly tolerance: number;
}

export interface SearchOutcome {
  p: Float64Array;
  /** Residuals at p (without the loss). */
  r: Float64Array;
  /** Column-major derivatives of the residuals at p (without the loss). */
  columns: Float64Array;
  /** Half the (robust) sum of squares. */
  cost: number;
  code: StopCode;
  iterations: number;
  evaluations: number;
  jacobians: number;
  relativeOffset: number;
  condition: number;
  /** Parameters held by a bound at the end. */
  atBound: boolean[];
}

function isFiniteArray(a: Float64Array): boolean {
  for (let i = 0; i < a.length; i++) if (!Number.isFinite(a[i])) return false;
  return true;
}

const scratch: LossValue = { rho: 0, first: 0, second: 0 };

/** Half the robust sum of squares. */
export function costOf(r: Float64Array, loss: LossName, scale: number): number {
  let sum = 0;
  if (loss === "linear") {
    for (let i = 0; i < r.length; i++) sum += r[i] * r[i];
    return sum / 2;
  }
  for (let i = 0; i < r.length; i++) {
    robustLoss(loss, (r[i] / scale) ** 2, scratch);
    sum += scratch.rho;
  }
  return (sum * scale * scale) / 2;
}

/** cost(a) - cost(b), without cancelling the leading digits of ordinary least squares. */
function reductionOf(a: Float64Array, b: Float64Array, loss: LossName, scale: number): number {
  if (loss !== "linear") return costOf(a, loss, scale) - costOf(b, loss, scale);
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] - b[i]) * (a[i] + b[i]);
  return sum / 2;
}

/** The step of a damped linear problem R d = -g within a radius, from the SVD of R. */
function stepWithin(
  svd: { u: Float64Array; s: Float64Array; v: Float64Array },
  rows: number,
  n: number,
  rhs: Float64Array,
  radius: number,
  out: Float64Array,
): number {
  const { u, s, v } = svd;
  const g = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    let dot = 0;
    for (let i = 0; i < rows; i++) dot += u[k * rows + i] * rhs[i];
    g[k] = dot;
  }
  const floor = s[0] * Number.EPSILON * n;
  const lengthOf = (lambda: number): number => {
    let sum = 0;
    for (let k = 0; k < n; k++) {
      if (s[k] <= floor) continue;
      const d = (s[k] * g[k]) / (s[k] * s[k] + lambda);
      sum += d * d;
    }
    return Math.sqrt(sum);
  };
  let lambda = 0;
  if (lengthOf(0) > radius * 1.1) {
    // |d(lambda)| falls with lambda: a bracket, then Newton on 1/|d| (Moré 1978) kept inside it.
    let low = 0;
    let high = 0;
    for (let k = 0; k < n; k++) high += (s[k] * g[k]) ** 2;
    high = Math.sqrt(high) / radius;
    lambda = Math.min(high, Math.max(1e-3 * high, s[n - 1] * s[n - 1]));
    for (let tries = 0; tries < 60; tries++) {
      const length = lengthOf(lambda);
      if (Math.abs(length - radius) <= 0.1 * radius) break;
      if (length > radius) low = lambda;
      else high = lambda;
      let slope = 0;
      for (let k = 0; k < n; k++) {
        if (s[k] <= floor) continue;
        const q = s[k] * s[k] + lambda;
        slope += (s[k] * g[k]) ** 2 / (q * q * q);
      }
      let next = lambda + ((length - radius) / radius) * ((length * length) / slope);
      if (!(next > low && next < high)) next = low > 0 ? Math.sqrt(low * high) : high * 1e-3;
      lambda = next;
    }
  }
  out.fill(0);
  for (let k = 0; k < n; k++) {
    if (s[k] <= floor) continue;
    const d = (-s[k] * g[k]) / (s[k] * s[k] + lambda);
    for (let j = 0; j < n; j++) out[j] += d * v[k * n + j];
  }
  return lambda;
}

/**
 * Trust-region Levenberg-Marquardt search for a local minimum of a (robust) sum of squares within bounds.
 *
 * Each step solves the linearised problem by QR and SVD of the column-scaled Jacobian (never by normal equations). Parameters
 * that a step would carry over a bound are put on it, and the step of the others is solved again. The search ends when the
 * Gauss-Newton step is shorter than `tolerance` standard errors (Bates and Watts, Nonlinear Regression Analysis, 2.2.3), or when
 * nothing more can be gained in double precision.
 */
export function trustRegionSearch(
  problem: SearchProblem,
  start: Float64Array,
  policy: SearchPolicy,
): SearchOutcome {
  const { count: m, residuals, free, lower, upper, loss, lossScale } = problem;
  const n = free.length;
  const p = start.slice();
  let r = new Float64Array(m);
  let trial = new Float64Array(m);
  const columns = new Float64Array(m * n);
  const rowMajor = problem.jacobian ? new Float64Array(m * n) : undefined;
  const outcome: SearchOutcome = {
    p,
    r,
    columns,
    cost: Number.POSITIVE_INFINITY,
    code: "not-finite",
    iterations: 0,
    evaluations: 1,
    jacobians: 0,
    relativeOffset: Number.POSITIVE_INFINITY,
    condition: Number.POSITIVE_INFINITY,
    atBound: new Array<boolean>(n).fill(false),
  };
  residuals(p, r);
  if (!isFiniteArray(r)) return outcome;
  let cost = costOf(r, loss, lossScale);
  outcome.cost = cost;

  const differentiate = (refined: boolean): boolean => {
    outcome.jacobians++;
    if (problem.jacobian && rowMajor) {
      problem.jacobian(p, rowMajor);
      for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) columns[j * m + i] = rowMajor[i * n + j];
      return isFiniteArray(columns);
    }
    const spent = numericJacobian(residuals, p, r, free, problem.typical, lower, upper, refined, columns);
    if (spent < 0) return false;
    outcome.evaluations += spent;
    return isFiniteArray(columns);
  };
  if (!differentiate(false)) return outcome;

  const rows = Math.max(m, n);
  const a = new Float64Array(rows * n);
  const b = new Float64Array(rows);
  const scale = new Float64Array(n).fill(0);
  const R = new Float64Array(n * n);
  const qtr = new Float64Array(n);
  const step = new Float64Array(n);
  const w = new Float64Array(n);
  const next = p.slice();
  let radius = 0;
  let refined = problem.jacobian !== undefined;

  /** Scales the columns, factors them, leaves R and Qᵀr. */
  const factor = (): void => {
    b.fill(0);
    for (let i = 0; i < m; i++) b[i] = r[i];
    for (let j = 0; j < n; j++) {
      let norm = 0;
      for (let i = 0; i < m; i++) {
        const v = columns[j * m + i];
        norm += v * v;
      }
      norm = Math.sqrt(norm);
      if (policy.scaling === "size")
        scale[j] = 1 / Math.max(Math.abs(p[free[j]]), 0.01 * problem.typical[free[j]]);
      else if (policy.scaling === "current") scale[j] = norm > 0 ? norm : scale[j] || 1;
      else scale[j] = Math.max(scale[j], norm) || 1;
    }
    a.fill(0);
    for (let j = 0; j < n; j++) for (let i = 0; i < m; i++) a[j * rows + i] = columns[j * m + i] / scale[j];
    if (loss !== "linear") {
      // Triggs correction: weighted rows whose Gauss-Newton matrix is that of the robust cost.
      for (let i = 0; i < m; i++) {
        const z = (r[i] / lossScale) ** 2;
        robustLoss(loss, z, scratch);
        const curvature = Math.max(scratch.first + 2 * scratch.second * z, 1e-8 * scratch.first);
        const root = Math.sqrt(curvature);
        for (let j = 0; j < n; j++) a[j * rows + i] *= root;
        b[i] *= scratch.first / root;
      }
    }
    householderQr(a, b, rows, n);
    for (let j = 0; j < n; j++) {
      for (let i = 0; i <= j; i++) R[j * n + i] = a[j * rows + i];
      for (let i = j + 1; i < n; i++) R[j * n + i] = 0;
      qtr[j] = b[j];
    }
  };

  /** Step within the radius and the bounds; returns the reduction the linear model predicts. */
  const bounded = (limit: number): { predicted: number; held: boolean[] } => {
    const held = new Array<boolean>(n).fill(false);
    step.fill(0);
    for (let pass = 0; pass <= n; pass++) {
      const open: number[] = [];
      for (let j = 0; j < n; j++) if (!held[j]) open.push(j);
      if (open.length > 0) {
        // Right side with the held parts of the step moved over.
        for (let i = 0; i < n; i++) {
          let sum = qtr[i];
          for (let j = 0; j < n; j++) if (held[j]) sum += R[j * n + i] * step[j];
          w[i] = sum;
        }
        const sub = new Float64Array(n * open.length);
        open.forEach((j, c) => {
          for (let i = 0; i < n; i++) sub[c * n + i] = R[j * n + i];
        });
        const part = new Float64Array(open.length);
        stepWithin(jacobiSvd(sub, n, open.length), n, open.length, w, limit, part);
        open.forEach((j, c) => {
          step[j] = part[c];
        });
      }
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
  };

  const degrees = Math.max(1, m - n);
  /** Leaves the Gauss-Newton step in `step`; returns its length in standard errors. */
  const offset = (): number => {
    outcome.atBound = bounded(Number.POSITIVE_INFINITY).held;
    if (cost === 0) return 0;
    let tangent = 0;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let j = i; j < n; j++) sum += R[j * n + i] * step[j];
      tangent += sum * sum;
    }
    return Math.sqrt(tangent / n) / Math.sqrt((2 * cost) / degrees);
  };
  /** Full Gauss-Newton steps where the cost is too flat to judge by: each must bring the minimum nearer. */
  const polish = (): void => {
    for (let round = 0; round < 30 && outcome.relativeOffset > problem.tolerance; round++) {
      const kept = { p: p.slice(), r: r.slice(), columns: columns.slice(), cost };
      for (let j = 0; j < n; j++) {
        const k = free[j];
        p[k] = Math.min(upper[k], Math.max(lower[k], p[k] + step[j] / scale[j]));
      }
      residuals(p, r);
      outcome.evaluations++;
      cost = isFiniteArray(r) ? costOf(r, loss, lossScale) : Number.POSITIVE_INFINITY;
      let better = cost <= kept.cost * (1 + 1e-11) && differentiate(refined);
      if (better) {
        factor();
        const now = offset();
        better = now < 0.9 * outcome.relativeOffset;
        if (better) outcome.relativeOffset = now;
      }
      if (!better) {
        p.set(kept.p);
        r.set(kept.r);
        columns.set(kept.columns);
        cost = kept.cost;
        factor();
        offset();
        return;
      }
    }
  };
  let stalls = 0;
  for (;;) {
    factor();
    // Distance to the minimum in standard errors, bounds respected.
    outcome.relativeOffset = offset();
    const singular = jacobiSvd(unitColumns(R, n), n, n).s;
    outcome.condition = singular[n - 1] > 0 ? singular[0] / singular[n - 1] : Number.POSITIVE_INFINITY;
    if (cost === 0) {
      outcome.code = "exact";
      break;
    }
    if (outcome.relativeOffset <= problem.tolerance) {
      if (!refined) {
        // Close on central differences: continue on the finer ones.
        refined = true;
        if (!differentiate(true)) {
          outcome.code = "rounding";
          break;
        }
        continue;
      }
      outcome.code = outcome.condition > 1e12 ? "singular" : "converged";
      break;
    }
    // A long run into a valley whose floor no longer depends on some combination of the parameters leads nowhere.
    if (outcome.iterations > 100 && outcome.condition > 1e10) {
      outcome.code = "singular";
      break;
    }
    if (outcome.iterations >= problem.maxIterations) {
      outcome.code = "iterations";
      break;
    }
    outcome.iterations++;
    if (radius === 0) {
      let length = 0;
      for (let j = 0; j < n; j++) length += (scale[j] * p[free[j]]) ** 2;
      radius = policy.radius * (Math.sqrt(length) || 1);
    }
    let accepted = false;
    let exhausted = false;
    while (!accepted && !exhausted) {
      const { predicted } = bounded(radius);
      let length = 0;
      let relative = 0;
      for (let j = 0; j < n; j++) {
        length += step[j] * step[j];
        const k = free[j];
        next[k] = Math.min(upper[k], Math.max(lower[k], p[k] + step[j] / scale[j]));
        relative = Math.max(relative, Math.abs(next[k] - p[k]) / Math.max(Math.abs(p[k]), 1e-300));
      }
      length = Math.sqrt(length);
      if (!(length > 0) || relative <= 2 * Number.EPSILON || predicted <= 0) {
        exhausted = true;
        break;
      }
      residuals(next, trial);
      outcome.evaluations++;
      const finite = isFiniteArray(trial);
      const gained = finite ? reductionOf(r, trial, loss, lossScale) : Number.NEGATIVE_INFINITY;
      const ratio = gained / predicted;
      if (ratio >= 1e-4 && gained > 0) {
        accepted = true;
        // A run of steps that gain only rounding ends the search.
        stalls = gained <= 1e-14 * cost ? stalls + 1 : 0;
        for (const k of free) p[k] = next[k];
        [r, trial] = [trial, r];
        cost = costOf(r, loss, lossScale);
        if (ratio > 0.75) radius = Math.max(radius, 2 * length);
        else if (ratio < 0.25) radius = Math.min(radius, length) * 0.5;
      } else {
        radius = Math.min(radius, length) * (finite ? 0.25 : 0.1);
        if (predicted <= 1e-15 * cost) exhausted = true;
      }
    }
    if (exhausted || stalls >= 3) {
      if (!refined && differentiate(true)) {
        refined = true;
        stalls = 0;
        radius = 0;
        continue;
      }
      polish();
      if (outcome.condition > 1e12) outcome.code = "singular";
      else outcome.code = outcome.relativeOffset <= problem.tolerance ? "converged" : "rounding";
      break;
    }
    if (!differentiate(refined)) {
      outcome.code = "not-finite";
      break;
    }
  }
  outcome.p = p;
  outcome.r = r;
  outcome.cost = cost;
  return outcome;
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
