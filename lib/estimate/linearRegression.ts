import { Matrix, QrDecomposition } from "ml-matrix";
import { integratedAutocorrelation } from "./autocorrelation.js";
import { studentQuantile } from "./studentQuantile.js";

/** Options of `linearRegression`. */
export interface RegressionOptions {
  /** Bisquare weights against outliers (on unless false). */
  readonly robust?: boolean;
  /** Series each row belongs to: rows of different groups are taken as uncorrelated. Rows of one group are in order of time. */
  readonly groups?: ArrayLike<number>;
  /** Fewest lags of the covariance, for instance 1 when neighbouring rows overlap. */
  readonly leastLags?: number;
  /** Prior weight of each row (inverse variance), 1 when absent. */
  readonly weights?: ArrayLike<number>;
}

/** What `linearRegression` found. */
export interface Regression {
  readonly coefficients: readonly number[];
  /** Covariance of the coefficients, heteroscedasticity and autocorrelation allowed for. */
  readonly covariance: readonly (readonly number[])[];
  readonly standardErrors: readonly number[];
  /** Effective degrees of freedom: rows over their integrated autocorrelation time, less coefficients. */
  readonly degreesOfFreedom: number;
  /** Critical value of the 95 % interval: Student's t at those degrees of freedom, with the fixed-b allowance for the lags. */
  readonly critical: number;
  readonly residuals: Float64Array;
  /** Robust residual scale. */
  readonly scale: number;
  /** Final weight of each row, 0 to 1. */
  readonly weights: Float64Array;
  /** Share of the weighted sum of squares (about zero) that is explained. */
  readonly explained: number;
  /** Lags used by the covariance. */
  readonly lags: number;
  /** Ratio of the largest to the smallest singular value of the scaled regressors: large means two of them cannot be told apart. */
  readonly condition: number;
  readonly samples: number;
}

/** Critical value of the fixed-b Bartlett t test at 97.5 % relative to the normal one (Kiefer and Vogelsang, Econometric Theory 21, 2005; coefficients from memory). */
function fixedB(b: number): number {
  return (1.96 + 2.9694 * b + 0.416 * b * b - 0.5324 * b ** 3) / 1.96;
}

/**
 * Linear least squares with outlier weights (Tukey's bisquare, 95 % efficiency) and a covariance that allows for
 * unequal variances and for correlation between rows in order of time (Newey and West, Econometrica 55, 1987, Bartlett weights; lags by
 * Andrews' AR(1) rule, Econometrica 59, 1991). Residuals are scaled for leverage. Returns null when there are too few rows or the
 * regressors cannot be told apart.
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
  // Sandwich: bread from the derivative of psi, filling from the scores in order of time.
  const gram = Matrix.zeros(p, p);
  const bread = Matrix.zeros(p, p);
  const slope = new Float64Array(n).fill(1);
  for (let i = 0; i < n; i++) {
    if (options.robust !== false) {
      const u = residuals[i] / Math.max(scale, floor) / 4.685;
      slope[i] = Math.abs(u) < 1 ? (1 - u * u) * (1 - 5 * u * u) : 0;
    }
    for (let a = 0; a < p; a++)
      for (let b = a; b < p; b++) {
        const product = x.get(i, a) * x.get(i, b);
        gram.set(a, b, gram.get(a, b) + weights[i] * product);
        bread.set(a, b, bread.get(a, b) + slope[i] * product);
      }
  }
  mirror(gram);
  mirror(bread);
  const inverseGram = invert(gram);
  const inverseBread = invert(bread) ?? inverseGram;
  if (inverseGram === null || inverseBread === null) return null;
  const scores: Float64Array[] = [];
  for (let i = 0; i < n; i++) {
    const score = new Float64Array(p);
    let leverage = 0;
    for (let a = 0; a < p; a++) {
      let sum = 0;
      for (let b = 0; b < p; b++) sum += inverseGram.get(a, b) * x.get(i, b);
      leverage += sum * x.get(i, a);
    }
    leverage = Math.min(0.9, weights[i] * leverage);
    const scaled = (weights[i] * residuals[i]) / (1 - leverage) ** 0.75;
    for (let a = 0; a < p; a++) score[a] = scaled * x.get(i, a);
    scores.push(score);
  }
  const groups = options.groups;
  const lags = chooseLags(scores, groups, options.leastLags ?? 0);
  const filling = longRunCovariance(scores, groups, lags);
  const scaledCovariance = inverseBread.mmul(filling).mmul(inverseBread);
  const covariance: number[][] = [];
  for (let a = 0; a < p; a++) {
    covariance.push([]);
    for (let b = 0; b < p; b++) covariance[a].push(scaledCovariance.get(a, b) / (size[a] * size[b]));
  }
  let kept = 0;
  let explained = 0;
  let all = 0;
  for (let i = 0; i < n; i++) {
    kept += weights[i];
    explained += weights[i] * residuals[i] ** 2;
    all += weights[i] * y[i] ** 2;
  }
  let correlation = 1;
  for (let a = 0; a < p; a++)
    correlation = Math.max(correlation, integratedAutocorrelation(scores.map((s) => s[a])));
  const degreesOfFreedom = Math.max(1, kept / correlation - p);
  return {
    coefficients: Array.from(beta, (b, j) => b / size[j]),
    covariance,
    standardErrors: covariance.map((row, j) => Math.sqrt(Math.max(0, row[j]))),
    degreesOfFreedom,
    critical: studentQuantile(0.975, degreesOfFreedom) * fixedB(Math.min(1, lags / n)),
    residuals,
    scale,
    weights,
    explained: all > 0 ? 1 - explained / all : 0,
    lags,
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

function solve(x: Matrix, y: Float64Array, weights: Float64Array): number[] | null {
  const n = x.rows;
  const p = x.columns;
  const a = new Matrix(n, p);
  const b = new Matrix(n, 1);
  for (let i = 0; i < n; i++) {
    const w = Math.sqrt(weights[i]);
    for (let j = 0; j < p; j++) a.set(i, j, x.get(i, j) * w);
    b.set(i, 0, y[i] * w);
  }
  const qr = new QrDecomposition(a);
  if (!qr.isFullRank()) return null;
  const solution = qr.solve(b);
  const beta = Array.from({ length: p }, (_, j) => solution.get(j, 0));
  return beta.every(Number.isFinite) ? beta : null;
}

/** Normalised median of the absolute residuals that are not exactly fitted. */
function robustScale(residuals: Float64Array, p: number): number {
  const sizes = residuals.map(Math.abs).sort();
  const from = Math.min(p, sizes.length - 1);
  return 1.4826 * sizes[from + ((sizes.length - from) >> 1)];
}

function mirror(m: Matrix): void {
  for (let a = 0; a < m.rows; a++) for (let b = 0; b < a; b++) m.set(a, b, m.get(b, a));
}

function invert(m: Matrix): Matrix | null {
  const qr = new QrDecomposition(m);
  return qr.isFullRank() ? qr.solve(Matrix.eye(m.rows)) : null;
}

function chooseLags(
  scores: readonly Float64Array[],
  groups: ArrayLike<number> | undefined,
  least: number,
): number {
  const n = scores.length;
  const p = scores[0].length;
  let top = 0;
  let bottom = 0;
  for (let a = 0; a < p; a++) {
    let product = 0;
    let square = 0;
    for (let i = 1; i < n; i++) {
      if (groups && groups[i] !== groups[i - 1]) continue;
      product += scores[i][a] * scores[i - 1][a];
      square += scores[i - 1][a] ** 2;
    }
    const rho = square > 0 ? Math.max(-0.97, Math.min(0.97, product / square)) : 0;
    let variance = 0;
    for (let i = 0; i < n; i++) variance += scores[i][a] ** 2;
    variance *= 1 - rho * rho;
    if (!(variance > 0)) continue;
    top += (4 * rho * rho * variance ** 2) / ((1 - rho) ** 6 * (1 + rho) ** 2);
    bottom += variance ** 2 / (1 - rho) ** 4;
  }
  const alpha = bottom > 0 ? top / bottom : 0;
  const lags = Math.ceil(1.1447 * (alpha * n) ** (1 / 3));
  return Math.max(least, Math.min(lags, Math.floor(n / 3)));
}

function longRunCovariance(
  scores: readonly Float64Array[],
  groups: ArrayLike<number> | undefined,
  lags: number,
): Matrix {
  const n = scores.length;
  const p = scores[0].length;
  const s = Matrix.zeros(p, p);
  for (let lag = 0; lag <= lags; lag++) {
    const weight = 1 - lag / (lags + 1);
    for (let i = lag; i < n; i++) {
      if (groups && groups[i] !== groups[i - lag]) continue;
      const now = scores[i];
      const then = scores[i - lag];
      for (let a = 0; a < p; a++)
        for (let b = 0; b < p; b++) {
          const product = lag === 0 ? now[a] * now[b] : now[a] * then[b] + then[a] * now[b];
          s.set(a, b, s.get(a, b) + weight * product);
        }
    }
  }
  return s;
}
