import { Matrix, QrDecomposition } from "ml-matrix";
import { studentQuantile } from "../distributions/studentQuantile.js";
import { integratedAutocorrelation } from "../series/autocorrelation.js";
import { deviationPerMedian } from "../series/median.js";
import { type BlockCovariance, blockCovariance } from "./blockCovariance.js";

/** Options of `linearRegression`. */
export interface RegressionOptions {
  /** Bisquare weights against outliers (on unless false). */
  readonly robust?: boolean;
  /** Which equation each row belongs to, when rows of several alternate in time: correlation is then judged within
   * each. */
  readonly series?: ArrayLike<number>;
  /** Fewest rows of a block (of each equation); 12 when absent. */
  readonly leastBlock?: number;
  /** Prior weight of each row (inverse variance), 1 when absent. */
  readonly weights?: ArrayLike<number>;
}

/** What `linearRegression` found. */
export interface Regression {
  readonly coefficients: readonly number[];
  /** Covariance of the coefficients, heteroscedasticity and autocorrelation allowed for. */
  readonly covariance: readonly (readonly number[])[];
  readonly standardErrors: readonly number[];
  /** Degrees of freedom of each variance: how many blocks really bear on that coefficient. */
  readonly degreesOfFreedom: readonly number[];
  /** Degrees of freedom of the variance of a combination of the coefficients. */
  readonly degreesOf: (combination: readonly number[]) => number;
  /** Critical value of each 95 % interval: Student's t at those degrees of freedom. */
  readonly critical: readonly number[];
  /** Rows in a block. */
  readonly blockLength: number;
  readonly residuals: Float64Array;
  /** Robust residual scale. */
  readonly scale: number;
  /** Final weight of each row, 0 to 1. */
  readonly weights: Float64Array;
  /** Weight of each row in the normal equations: the prior one times the final one. */
  readonly influence: Float64Array;
  /** Share of the weighted sum of squares (about zero) that is explained. */
  readonly explained: number;
  /** Ratio of the largest to the smallest singular value of the scaled regressors: large means two of them cannot be
   * told apart. */
  readonly condition: number;
  readonly samples: number;
}

/**
 * Linear least squares with outlier weights (Tukey's bisquare, 95 % efficiency) and a covariance that allows for
 * unequal variances and for correlation between rows in order of time. Rows must be in that order. Residuals are scaled
 * for leverage. Returns null when there are too few rows or the regressors cannot be told apart.
 *
 * @param rows regressors, one array per row, no intercept added
 * @param response one value per row
 * @example
 * linearRegression(w.map((x) => [1, x]), torque)?.coefficients; // [Coulomb, viscous]
 */
export function linearRegression(
  rows: readonly (readonly number[])[],
  response: ArrayLike<number>,
  options: RegressionOptions = {},
): Regression | null {
  const n = rows.length;
  const p = rows[0]?.length ?? 0;
  if (p === 0 || n < p + 2) return null;
  const size = columnSizes(rows, p);
  if (size.some((s) => !(s > 0))) return null;
  const prior = options.weights;
  const root = new Float64Array(n).fill(1);
  if (prior) for (let i = 0; i < n; i++) root[i] = Math.sqrt(Math.max(0, prior[i]));
  const x = new Matrix(n, p);
  const y = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < p; j++) x.set(i, j, (rows[i][j] / size[j]) * root[i]);
    y[i] = response[i] * root[i];
  }
  const condition = conditionOf(x, p);
  if (!(condition < 1e7)) return null;

  const weights = new Float64Array(n).fill(1);
  let beta = solve(x, y, weights);
  if (beta === null) return null;
  const residuals = new Float64Array(n);
  const rate = (): void => {
    for (let i = 0; i < n; i++) {
      let fitted = 0;
      for (let j = 0; j < p; j++) fitted += x.get(i, j) * beta![j];
      residuals[i] = y[i] - fitted;
    }
  };
  rate();
  const largest = y.reduce((m, v) => Math.max(m, Math.abs(v)), 0);
  const floor = 1e-13 * largest;
  let scale = robustScale(residuals, p);
  if (options.robust !== false) {
    for (let iteration = 0; iteration < 60; iteration++) {
      // Huber's weights first: they lead to the neighbourhood where the bisquare has one solution.
      const huber = iteration < 8;
      for (let i = 0; i < n; i++) {
        const u = Math.abs(residuals[i]) / Math.max(scale, floor);
        weights[i] = huber ? (u <= 1.345 ? 1 : 1.345 / u) : u < 4.685 ? (1 - (u / 4.685) ** 2) ** 2 : 0;
      }
      const next = solve(x, y, weights);
      if (next === null) break;
      let change = 0;
      for (let j = 0; j < p; j++)
        change = Math.max(change, Math.abs(next[j] - beta[j]) / (Math.abs(next[j]) + 1e-12 * largest));
      beta = next;
      rate();
      if (huber || iteration < 12) scale = robustScale(residuals, p);
      if (!huber && change < 1e-10) break;
    }
  }
  const blocks = fromBlocks(x, weights, residuals, options.series, options.leastBlock ?? usualBlock);
  if (blocks === null) return null;
  const stiffness = options.robust === false ? 1 : stiffnessOf(residuals, weights, Math.max(scale, floor));
  const covariance = blocks.covariance.map((row, a) =>
    row.map((v, b) => v / (size[a] * size[b]) / stiffness ** 2),
  );
  const degreesOf = (combination: readonly number[]): number =>
    blocks.degreesOf(combination.map((c, j) => c / size[j]));
  const degreesOfFreedom = size.map((_, j) => degreesOf(size.map((_unused, k) => (k === j ? 1 : 0))));
  let critical: number[] | undefined;
  let explained = 0;
  let all = 0;
  for (let i = 0; i < n; i++) {
    explained += weights[i] * residuals[i] ** 2;
    all += weights[i] * y[i] ** 2;
  }
  return {
    coefficients: Array.from(beta, (b, j) => b / size[j]),
    covariance,
    standardErrors: covariance.map((row, j) => Math.sqrt(Math.max(0, row[j]))),
    degreesOfFreedom,
    degreesOf,
    /** Worked out when first asked for: many a fit is wanted for its coefficients alone. */
    get critical() {
      critical ??= degreesOfFreedom.map((nu) => studentQuantile(0.975, nu));
      return critical;
    },
    blockLength: blocks.blockLength,
    residuals,
    scale,
    weights,
    influence: weights.map((v, i) => v * root[i] ** 2),
    explained: all > 0 ? 1 - explained / all : 0,
    condition,
    samples: n,
  };
}

function columnSizes(rows: readonly (readonly number[])[], p: number): number[] {
  const size = new Array<number>(p).fill(0);
  for (const row of rows) for (let j = 0; j < p; j++) size[j] += row[j] ** 2;
  return size.map((s) => Math.sqrt(s / rows.length));
}

function conditionOf(x: Matrix, p: number): number {
  const r = new QrDecomposition(x).upperTriangularMatrix;
  let largest = 0;
  let least = Number.POSITIVE_INFINITY;
  for (let j = 0; j < p; j++) {
    const d = Math.abs(r.get(j, j));
    largest = Math.max(largest, d);
    least = Math.min(least, d);
  }
  return largest / least;
}

/** Weighted least squares by Householder reflections (Golub and Van Loan, Matrix Computations, on the QR
 * factorisation); null when rank is lacking. */
function solve(x: Matrix, y: Float64Array, weights: Float64Array): number[] | null {
  const n = x.rows;
  const p = x.columns;
  // Columns one after another.
  const a = new Float64Array(n * p);
  const b = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const w = Math.sqrt(weights[i]);
    for (let j = 0; j < p; j++) a[j * n + i] = x.get(i, j) * w;
    b[i] = y[i] * w;
  }
  const diagonal = new Float64Array(p);
  let largest = 0;
  for (let j = 0; j < p; j++) {
    const at = j * n;
    let norm = 0;
    for (let i = j; i < n; i++) norm += a[at + i] * a[at + i];
    norm = Math.sqrt(norm);
    if (a[at + j] > 0) norm = -norm;
    diagonal[j] = norm;
    largest = Math.max(largest, Math.abs(norm));
    if (!(Math.abs(norm) > 1e-12 * largest)) return null;
    const head = a[at + j] - norm;
    a[at + j] = head;
    let square = 0;
    for (let i = j; i < n; i++) square += a[at + i] * a[at + i];
    if (!(square > 0)) return null;
    for (let k = j + 1; k <= p; k++) {
      const target = k < p ? a : b;
      const to = k < p ? k * n : 0;
      let dot = 0;
      for (let i = j; i < n; i++) dot += a[at + i] * target[to + i];
      const share = (2 * dot) / square;
      for (let i = j; i < n; i++) target[to + i] -= share * a[at + i];
    }
  }
  const beta = new Array<number>(p).fill(0);
  for (let j = p - 1; j >= 0; j--) {
    let sum = b[j];
    for (let k = j + 1; k < p; k++) sum -= a[k * n + j] * beta[k];
    beta[j] = sum / diagonal[j];
  }
  return beta.every(Number.isFinite) ? beta : null;
}

/**
 * How much less an estimate by bisquare weights gives way to its data than one whose weights would stay as they are:
 * mean derivative of the influence function over mean weight, 0.83 for normal residuals. The covariance from blocks
 * holds the weights fixed, so its errors are divided by this (Huber, Robust Statistics, 1981, section 7.6: the
 * covariance of an M-estimate has the mean derivative in its denominator).
 */
function stiffnessOf(residuals: Float64Array, weights: Float64Array, scale: number): number {
  let derivative = 0;
  let weight = 0;
  for (let i = 0; i < residuals.length; i++) {
    const v = (residuals[i] / scale / 4.685) ** 2;
    if (v < 1) derivative += (1 - v) * (1 - 5 * v);
    weight += weights[i];
  }
  // Residuals so heavy-tailed that the mean derivative nearly vanishes: the estimate then rests on its starting point,
  // not on this.
  return weight > 0 ? Math.max(0.4, derivative / weight) : 1;
}

/** Normalised median of the absolute residuals that are not exactly fitted. */
function robustScale(residuals: Float64Array, p: number): number {
  const sizes = residuals.map(Math.abs).sort();
  const from = Math.min(p, sizes.length - 1);
  return deviationPerMedian * sizes[from + ((sizes.length - from) >> 1)];
}

/** Fewest rows in a block, unless told otherwise, and how many correlation times it is long. */
const usualBlock = 12;
const blockTimes = 5;

/** Correlation of neighbouring residuals of one series, 0 to 0.9; what a fit of p coefficients takes from it is added
 * back to first order. */
function neighbourCorrelation(
  residuals: Float64Array,
  series: ArrayLike<number> | undefined,
  p: number,
): number {
  const last = new Map<number, number>();
  let products = 0;
  let squares = 0;
  residuals.forEach((r, i) => {
    const one = series === undefined ? 0 : series[i];
    products += r * (last.get(one) ?? 0);
    squares += r * r;
    last.set(one, r);
  });
  return squares > 0 ? Math.max(0, Math.min(0.9, products / squares + p / residuals.length)) : 0;
}

/** Covariance of the coefficients from blocks of neighbouring rows, several correlation times long. */
function fromBlocks(
  x: Matrix,
  weights: Float64Array,
  residuals: Float64Array,
  series: ArrayLike<number> | undefined,
  leastBlock: number,
): (BlockCovariance & { readonly blockLength: number }) | null {
  const p = x.columns;
  const used: number[] = [];
  for (let i = 0; i < x.rows; i++) if (weights[i] > 0) used.push(i);
  // Several alternating equations: the longest correlation of one, times how many of its rows lie between.
  let time = 1;
  const kinds = new Set(series === undefined ? [0] : used.map((i) => series[i]));
  for (const one of kinds) {
    const own = used.filter((i) => series === undefined || series[i] === one);
    const whitened = own.map((i) => Math.sqrt(weights[i]) * residuals[i]);
    time = Math.max(time, (integratedAutocorrelation(whitened) * used.length) / Math.max(1, own.length));
  }
  const blockLength = Math.max(
    2,
    Math.min(Math.max(leastBlock * kinds.size, Math.ceil(blockTimes * time)), Math.floor(used.length / 8)),
  );
  const count = Math.floor(used.length / blockLength);
  if (count < Math.max(4, Math.min(p + 1, 6))) return null;
  const weighted = new Matrix(used.length, p);
  const left = new Float64Array(used.length);
  used.forEach((i, k) => {
    const root = Math.sqrt(weights[i]);
    for (let j = 0; j < p; j++) weighted.set(k, j, root * x.get(i, j));
    left[k] = root * residuals[i];
  });
  const edges = Array.from({ length: count + 1 }, (_, g) => Math.floor((g * used.length) / count));
  const own = series === undefined ? undefined : used.map((i) => series[i]);
  const found = blockCovariance(weighted, left, edges, neighbourCorrelation(left, own, p), own);
  return found === null ? null : { ...found, blockLength };
}
