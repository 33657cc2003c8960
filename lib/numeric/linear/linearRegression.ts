import { studentQuantile } from "../distributions/studentQuantile.js";
import { integratedAutocorrelation } from "../series/autocorrelation.js";
import { deviationPerMedian, orderStatisticInPlace } from "../series/median.js";
import { blockCovariance, blocksTell } from "./blockCovariance.js";
import { householderQr } from "./orthogonal.js";
import { reweighted } from "./reweighted.js";
import { type ThinQr, thinQr } from "./thinQr.js";

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

/** What a regression found, without how well it is known. */
export interface RobustFit {
  readonly coefficients: readonly number[];
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

/** What `linearRegression` found. */
export interface Regression extends RobustFit {
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
}

/** A fit with the scaled and weighted columns it was made from. */
interface Fitted {
  readonly fit: RobustFit;
  readonly x: readonly Float64Array[];
  /** What each column was divided by. */
  readonly size: readonly number[];
  /** Least scale of the residuals that counts. */
  readonly floor: number;
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
  const fitted = fitRobustly(rows, response, options);
  if (fitted === null) return null;
  const { fit, x, size, floor } = fitted;
  const { residuals, weights, scale } = fit;
  const cut = blocksOf(x, weights, residuals, options.series, options.leastBlock ?? usualBlock);
  const blocks = cut && blockCovariance(...cut.sums);
  if (cut === null || blocks === null) return null;
  const stiffness = options.robust === false ? 1 : stiffnessOf(residuals, weights, Math.max(scale, floor));
  const covariance = blocks.covariance.map((row, a) =>
    row.map((v, b) => v / (size[a] * size[b]) / stiffness ** 2),
  );
  const degreesOf = (combination: readonly number[]): number =>
    blocks.degreesOf(combination.map((c, j) => c / size[j]));
  return new LazyRegression(degreesOf, {
    ...fit,
    covariance,
    standardErrors: errorsOf(covariance),
    blockLength: cut.blockLength,
  });
}

/** The coefficients of `linearRegression` alone: a search looks at many fits of which it keeps one. */
export function robustRegression(
  rows: readonly (readonly number[])[],
  response: ArrayLike<number>,
  options: RegressionOptions = {},
): RobustFit | null {
  return fitRobustly(rows, response, options)?.fit ?? null;
}

/** The coefficients of `linearRegression` alone, null where that is: where its blocks cannot tell how well it knows
 * them. */
export function toldRegression(
  rows: readonly (readonly number[])[],
  response: ArrayLike<number>,
  options: RegressionOptions = {},
): RobustFit | null {
  const fitted = fitRobustly(rows, response, options);
  if (fitted === null) return null;
  const { residuals, weights } = fitted.fit;
  const cut = blocksOf(fitted.x, weights, residuals, options.series, options.leastBlock ?? usualBlock);
  return cut !== null && blocksTell(...cut.sums) ? fitted.fit : null;
}

function fitRobustly(
  rows: readonly (readonly number[])[],
  response: ArrayLike<number>,
  options: RegressionOptions,
): Fitted | null {
  const n = rows.length;
  const p = rows[0]?.length ?? 0;
  if (p === 0 || n < p + 2) return null;
  const size = columnSizes(rows, p);
  if (size.some((s) => !(s > 0))) return null;
  const root = rootsOf(options.weights, n);
  const x = size.map((s, j) => scaledColumn(rows, j, s, root));
  const y = weighed(response, root);
  return fitColumns({ x, y, size, root }, options.robust !== false);
}

/** Regressors, each over its size, and response, both times the roots of the prior weights. */
interface Scaled {
  readonly x: readonly Float64Array[];
  readonly y: Float64Array;
  readonly size: readonly number[];
  readonly root: Float64Array;
}

function fitColumns({ x, y, size, root }: Scaled, robust: boolean): Fitted | null {
  const n = y.length;
  const p = x.length;
  const qr = thinQr(x);
  const condition = conditionOf(qr);
  if (!(condition < 1e7)) return null;

  const weights = new Float64Array(n).fill(1);
  let beta = solve(x, y, weights);
  if (beta === null) return null;
  const residuals = new Float64Array(n);
  rate(x, y, beta, residuals);
  const largest = y.reduce((m, v) => Math.max(m, Math.abs(v)), 0);
  const floor = 1e-13 * largest;
  let scale = robustScale(residuals, p);
  if (robust) {
    const again = reweighted(qr, y);
    for (let iteration = 0; iteration < 60; iteration++) {
      // Huber's weights first: they lead to the neighbourhood where the bisquare has one solution.
      const huber = iteration < 8;
      reweigh(weights, residuals, Math.max(scale, floor), huber);
      const next = again(weights) ?? solve(x, y, weights);
      if (next === null) break;
      let change = 0;
      for (let j = 0; j < p; j++)
        change = Math.max(change, Math.abs(next[j] - beta[j]) / (Math.abs(next[j]) + 1e-12 * largest));
      beta = next;
      rate(x, y, beta, residuals);
      if (huber || iteration < 12) scale = robustScale(residuals, p);
      if (!huber && change < 1e-10) break;
    }
  }
  let explained = 0;
  let all = 0;
  for (let i = 0; i < n; i++) {
    explained += weights[i] * residuals[i] ** 2;
    all += weights[i] * y[i] ** 2;
  }
  const fit = {
    coefficients: Array.from(beta, (b, j) => b / size[j]),
    residuals,
    scale,
    weights,
    influence: influenceOf(weights, root),
    explained: all > 0 ? 1 - explained / all : 0,
    condition,
    samples: n,
  };
  return { fit, x, size, floor };
}

/**
 * The same fit with another covariance of its coefficients.
 *
 * @param degreesOf degrees of freedom of the variance of a combination of the coefficients
 */
export function withCovariance(
  fit: Regression,
  covariance: Regression["covariance"],
  degreesOf: Regression["degreesOf"],
): Regression {
  const { coefficients, blockLength, residuals, scale, weights, influence, explained, condition, samples } =
    fit;
  const kept = { coefficients, blockLength, residuals, scale, weights, influence, explained, condition };
  return new LazyRegression(degreesOf, {
    ...kept,
    samples,
    covariance,
    standardErrors: errorsOf(covariance),
  });
}

/** A regression without the functions of its uncertainty. */
type Found = Omit<Regression, "degreesOf" | "degreesOfFreedom" | "critical">;

/**
 * What intervals are made with is worked out when first asked for: many a fit is wanted for its coefficients alone. (A
 * class: getters of object literals would be functions of their own for each fit, and the engine keeps those of a fit,
 * with all it rests on, until all memory is gone through.)
 */
class LazyRegression implements Regression {
  readonly coefficients: Regression["coefficients"];
  readonly residuals: Float64Array;
  readonly scale: number;
  readonly weights: Float64Array;
  readonly influence: Float64Array;
  readonly explained: number;
  readonly condition: number;
  readonly samples: number;
  readonly covariance: Regression["covariance"];
  readonly standardErrors: Regression["standardErrors"];
  readonly blockLength: number;
  #degrees: readonly number[] | undefined = undefined;
  #critical: readonly number[] | undefined = undefined;

  constructor(
    readonly degreesOf: Regression["degreesOf"],
    found: Found,
  ) {
    this.coefficients = found.coefficients;
    this.residuals = found.residuals;
    this.scale = found.scale;
    this.weights = found.weights;
    this.influence = found.influence;
    this.explained = found.explained;
    this.condition = found.condition;
    this.samples = found.samples;
    this.covariance = found.covariance;
    this.standardErrors = found.standardErrors;
    this.blockLength = found.blockLength;
  }

  get degreesOfFreedom(): readonly number[] {
    this.#degrees ??= this.coefficients.map((_, j) =>
      this.degreesOf(this.coefficients.map((_unused, k) => (k === j ? 1 : 0))),
    );
    return this.#degrees;
  }

  get critical(): readonly number[] {
    this.#critical ??= this.degreesOfFreedom.map((nu) => studentQuantile(0.975, nu));
    return this.#critical;
  }
}

const errorsOf = (covariance: Regression["covariance"]): number[] =>
  covariance.map((row, j) => Math.sqrt(Math.max(0, row[j])));

function influenceOf(weights: Float64Array, root: Float64Array): Float64Array {
  const influence = new Float64Array(weights.length);
  for (let i = 0; i < influence.length; i++) influence[i] = weights[i] * root[i] ** 2;
  return influence;
}

/** Residuals of coefficients. */
function rate(
  x: readonly Float64Array[],
  y: Float64Array,
  beta: readonly number[],
  residuals: Float64Array,
): void {
  residuals.fill(0);
  x.forEach((column, j) => {
    const b = beta[j];
    for (let i = 0; i < column.length; i++) residuals[i] += column[i] * b;
  });
  for (let i = 0; i < residuals.length; i++) residuals[i] = y[i] - residuals[i];
}

/** Weights by Huber, or Tukey's bisquare. */
function reweigh(weights: Float64Array, residuals: Float64Array, scale: number, huber: boolean): void {
  for (let i = 0; i < weights.length; i++) {
    const u = Math.abs(residuals[i]) / scale;
    weights[i] = huber ? (u <= 1.345 ? 1 : 1.345 / u) : u < 4.685 ? (1 - (u / 4.685) ** 2) ** 2 : 0;
  }
}

function rootsOf(prior: ArrayLike<number> | undefined, n: number): Float64Array {
  const root = new Float64Array(n).fill(1);
  if (prior) for (let i = 0; i < n; i++) root[i] = Math.sqrt(Math.max(0, prior[i]));
  return root;
}

function scaledColumn(
  rows: readonly (readonly number[])[],
  j: number,
  size: number,
  root: Float64Array,
): Float64Array {
  const column = new Float64Array(rows.length);
  for (let i = 0; i < column.length; i++) column[i] = (rows[i][j] / size) * root[i];
  return column;
}

function weighed(response: ArrayLike<number>, root: Float64Array): Float64Array {
  const y = new Float64Array(root.length);
  for (let i = 0; i < y.length; i++) y[i] = response[i] * root[i];
  return y;
}

function columnSizes(rows: readonly (readonly number[])[], p: number): number[] {
  const size = new Array<number>(p).fill(0);
  for (const row of rows) for (let j = 0; j < p; j++) size[j] += row[j] ** 2;
  return size.map((s) => Math.sqrt(s / rows.length));
}

function conditionOf({ diagonal }: ThinQr): number {
  const sizes = diagonal.map(Math.abs);
  return Math.max(...sizes) / Math.min(...sizes);
}

/** Weighted least squares by Householder reflections; null when rank is lacking. */
function solve(x: readonly Float64Array[], y: Float64Array, weights: Float64Array): number[] | null {
  const n = y.length;
  const p = x.length;
  // Columns one after another.
  const a = new Float64Array(n * p);
  const b = new Float64Array(n);
  const root = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    root[i] = Math.sqrt(weights[i]);
    b[i] = y[i] * root[i];
  }
  x.forEach((column, j) => {
    for (let i = 0; i < n; i++) a[j * n + i] = column[i] * root[i];
  });
  householderQr(a, b, n, p);
  let largest = 0;
  for (let j = 0; j < p; j++) {
    const pivot = Math.abs(a[j * n + j]);
    largest = Math.max(largest, pivot);
    if (!(pivot > 1e-12 * largest)) return null;
  }
  const beta = new Array<number>(p).fill(0);
  for (let j = p - 1; j >= 0; j--) {
    let sum = b[j];
    for (let k = j + 1; k < p; k++) sum -= a[k * n + j] * beta[k];
    beta[j] = sum / a[j * n + j];
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
  const sizes = new Float64Array(residuals.length);
  for (let i = 0; i < sizes.length; i++) sizes[i] = Math.abs(residuals[i]);
  const from = Math.min(p, sizes.length - 1);
  return deviationPerMedian * orderStatisticInPlace(sizes, from + ((sizes.length - from) >> 1));
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

/** Blocks of neighbouring rows, several correlation times long, and what their sums are made from; null where there are
 * too few. */
function blocksOf(
  x: readonly Float64Array[],
  weights: Float64Array,
  residuals: Float64Array,
  series: ArrayLike<number> | undefined,
  leastBlock: number,
): { readonly blockLength: number; readonly sums: Parameters<typeof blockCovariance> } | null {
  const p = x.length;
  const used = indicesOf(weights, (w) => w > 0);
  const root = new Float64Array(used.length);
  for (let k = 0; k < used.length; k++) root[k] = Math.sqrt(weights[used[k]]);
  const weigh = (column: Float64Array): Float64Array => {
    const weighted = new Float64Array(used.length);
    for (let k = 0; k < used.length; k++) weighted[k] = root[k] * column[used[k]];
    return weighted;
  };
  const left = weigh(residuals);
  const own = series === undefined ? undefined : new Float64Array(used.length);
  if (own && series) for (let k = 0; k < used.length; k++) own[k] = series[used[k]];
  // Several alternating equations: the longest correlation of one, times how many of its rows lie between.
  let time = 1;
  const kinds = own === undefined ? undefined : new Set(own);
  for (const one of kinds ?? [0]) {
    const whitened = own === undefined ? left : partOf(left, own, one);
    time = Math.max(time, (integratedAutocorrelation(whitened) * used.length) / Math.max(1, whitened.length));
  }
  const blockLength = Math.max(
    2,
    Math.min(
      Math.max(leastBlock * (kinds?.size ?? 1), Math.ceil(blockTimes * time)),
      Math.floor(used.length / 8),
    ),
  );
  const count = Math.floor(used.length / blockLength);
  if (count < Math.max(4, Math.min(p + 1, 6))) return null;
  const edges = Array.from({ length: count + 1 }, (_, g) => Math.floor((g * used.length) / count));
  return { blockLength, sums: [x.map(weigh), left, edges, neighbourCorrelation(left, own, p), own] };
}

/** The values of one of several series. */
function partOf(values: Float64Array, series: Float64Array, one: number): Float64Array {
  const part = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i++) if (series[i] === one) part[n++] = values[i];
  return part.subarray(0, n);
}

/** Where a condition holds. */
function indicesOf(values: Float64Array, holds: (value: number) => boolean): Int32Array {
  const found = new Int32Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) if (holds(values[i])) found[count++] = i;
  return found.subarray(0, count);
}
