import { EigenvalueDecomposition, Matrix, QrDecomposition } from "ml-matrix";
import { cholesky } from "./cholesky.js";
import { plusTransposed, product, productWithTransposed, timesColumn } from "./square.js";
import { orthonormalOf, type ThinQr, thinQr } from "./thinQr.js";

/** Variance of linear combinations of the coefficients of a regression, from blocks of neighbouring rows. */
export interface BlockCovariance {
  readonly covariance: readonly (readonly number[])[];
  /** Degrees of freedom of the variance of a combination of the coefficients. */
  readonly degreesOf: (combination: readonly number[]) => number;
  readonly blocks: number;
}

/**
 * Covariance of regression coefficients whose rows are correlated: the bias-reduced sandwich over blocks (CR2: Bell and
 * McCaffrey, Survey Methodology 28, 2002; Pustejovsky and Tipton, Journal of Business and Economic Statistics 36, 2018,
 * for a working covariance). Residuals of a block are smaller than its errors, the more so the more the block bears on
 * the fit; what a block adds is scaled back by what the fit took of it, so that the variance is right on average when
 * the errors follow the working model: equal sizes, and a correlation `rho^k` between rows k apart. The degrees of
 * freedom are Satterthwaite's under the same model and fall to a few where a few blocks carry a coefficient (Imbens and
 * Kolesar, Review of Economics and Statistics 98, 2016, on why this covers well with few blocks). The working model
 * only decides the correction; the sandwich itself holds for other correlations within a block.
 *
 * Null when the blocks cannot tell: one of them carries a coefficient alone.
 *
 * @param columns regressors times the roots of the weights, one column each, their rows in order
 * @param residuals residuals times the roots of the weights
 * @param edges first row of each block, and the number of rows at the end
 * @param rho correlation of neighbouring rows (of one series) in the working model, 0 to 1
 * @param series which of several alternating series each row belongs to
 */
export function blockCovariance(
  columns: readonly Float64Array[],
  residuals: ArrayLike<number>,
  edges: readonly number[],
  rho = 0,
  series?: ArrayLike<number>,
): BlockCovariance | null {
  const made = blockSums(columns, residuals, edges, rho, series);
  if (made === null) return null;
  const { p, qr, sums, whole } = made;
  const inverse = inverseOf(qr);
  const blocks: Block[] = [];
  for (const { hat, noise, score } of sums) {
    const kept = keptOf(hat, noise, whole, p);
    const back = allFinite(noise) && allFinite(kept) ? backFactor(noise, kept, p) : null;
    if (back === null) return null;
    blocks.push({ score: timesColumn(back, score, p), back, hat, noise });
  }
  const each = Array.from({ length: p }, (_, j) =>
    blocks.map(({ score }) => score.reduce((sum, s, k) => sum + inverse[j * p + k] * s, 0)),
  );
  const covariance = each.map((one) => each.map((other) => one.reduce((sum, s, g) => sum + s * other[g], 0)));
  let degrees: ((c: Float64Array) => number) | undefined;
  const degreesOf = (combination: readonly number[]): number => {
    degrees ??= satterthwaite(blocks, whole, p);
    return degrees(
      Float64Array.from({ length: p }, (_, k) =>
        combination.reduce((sum, one, j) => sum + one * inverse[j * p + k], 0),
      ),
    );
  };
  return { covariance, degreesOf, blocks: blocks.length };
}

/** Whether `blockCovariance` gives one, without working it out. */
export function blocksTell(
  columns: readonly Float64Array[],
  residuals: ArrayLike<number>,
  edges: readonly number[],
  rho = 0,
  series?: ArrayLike<number>,
): boolean {
  const made = blockSums(columns, residuals, edges, rho, series);
  if (made === null) return false;
  const { p, sums, whole } = made;
  return sums.every(({ hat, noise }) => {
    const kept = keptOf(hat, noise, whole, p);
    if (!allFinite(noise) || !allFinite(kept)) return false;
    return clearlyKept(noise, kept, p) || backFactor(noise, kept, p) !== null;
  });
}

/** The sums of each block in the coordinates of Q, and of all of them; null where there is none or the columns cannot
 * be told apart. */
function blockSums(
  columns: readonly Float64Array[],
  residuals: ArrayLike<number>,
  edges: readonly number[],
  rho: number,
  series: ArrayLike<number> | undefined,
): { p: number; qr: ThinQr; sums: ReturnType<typeof sumsOf>[]; whole: Float64Array } | null {
  const p = columns.length;
  // Too few rows for a block of the length asked for.
  if (edges.length < 2 || p === 0) return null;
  const qr = thinQr(columns);
  if (qr.diagonal.some((d) => d === 0)) return null;
  const q = orthonormalOf(qr);
  const sums = edges.slice(1).map((to, g) => sumsOf(q, residuals, [edges[g], to], rho, series));
  const whole = new Float64Array(p * p);
  for (const { noise } of sums) for (let k = 0; k < whole.length; k++) whole[k] += noise[k];
  return { p, qr, sums, whole };
}

/** What the working model leaves in the residuals of a block of what was in its errors. */
function keptOf(hat: Float64Array, noise: Float64Array, whole: Float64Array, p: number): Float64Array {
  const cross = plusTransposed(product(hat, noise, p), p);
  const kept = product(product(hat, whole, p), hat, p);
  for (let k = 0; k < kept.length; k++) kept[k] += noise[k] - cross[k];
  return kept;
}

/**
 * Whether `backFactor` surely finds a factor, told without eigenvalues: `kept` less a hundredth of `noise`, and a
 * hundred-millionth of its size for directions that the block does not bear on, is positive definite. Along each axis
 * `a` of `noise^0.5*kept*noise^0.5` the share is then at least `0.01*a'*noise^2*a - 1e-8*size*a'*noise*a`, which is
 * nine times what makes it null.
 */
function clearlyKept(noise: Float64Array, kept: Float64Array, p: number): boolean {
  let size = 0;
  for (let k = 0; k < p; k++) size += noise[k * p + k];
  if (!(size > 0)) return false;
  const less = new Float64Array(p * p);
  for (let a = 0; a < p; a++)
    for (let b = 0; b <= a; b++) {
      const at = a * p + b;
      less[at] = (kept[at] + kept[b * p + a]) / 2 - 0.01 * noise[at] + (a === b ? 1e-8 * size : 0);
    }
  return cholesky(less, p);
}

/** One block: its own sums, what it adds to the estimate, and the factor by which that was scaled back. */
interface Block {
  readonly score: Float64Array;
  readonly back: Float64Array;
  readonly hat: Float64Array;
  readonly noise: Float64Array;
}

/** The inverse of R: its rows are what each coefficient is in the coordinates of Q. */
function inverseOf({ reflections, diagonal }: ThinQr): Float64Array {
  const p = diagonal.length;
  const r = Array.from({ length: p }, (_, i) =>
    Array.from({ length: p }, (_unused, j) => (i < j ? reflections[j][i] : i === j ? diagonal[i] : 0)),
  );
  return Float64Array.from(new QrDecomposition(new Matrix(r)).solve(Matrix.eye(p)).to1DArray());
}

/**
 * Degrees of freedom of the variance of a combination of the coefficients. Under the working model the contributions of
 * the blocks have covariance D + F*M*F': D of each, the rest what the common fit takes.
 *
 * @returns a function of the combination in the coordinates of Q
 */
function satterthwaite(
  blocks: readonly Block[],
  whole: Float64Array,
  p: number,
): (c: Float64Array) => number {
  const parts = blocks.map(({ back, hat, noise }) => ({
    own: product(product(back, noise, p), back, p),
    u: product(hat, back, p),
    v: product(noise, back, p),
  }));
  const wide = 2 * p;
  return (c) => {
    const inner = new Float64Array(wide * wide);
    const fm = new Float64Array(wide);
    const f = new Float64Array(wide);
    const common: number[] = [];
    let trace = 0;
    for (const { own, u, v } of parts) {
      f.set(timesColumn(u, c, p));
      f.set(timesColumn(v, c, p), p);
      let d = 0;
      for (let j = 0; j < p; j++) {
        let sum = 0;
        let turned = 0;
        for (let k = 0; k < p; k++) {
          sum += c[k] * own[k * p + j];
          turned += f[k] * whole[k * p + j];
        }
        d += sum * c[j];
        // M has `whole` in its first corner, -1 beside the diagonals of the next two, and nothing in the last.
        fm[j] = turned - f[p + j];
        fm[p + j] = -f[j];
      }
      let shared = 0;
      for (let k = 0; k < wide; k++) shared += fm[k] * f[k];
      for (let a = 0; a < wide; a++) for (let b = 0; b < wide; b++) inner[a * wide + b] += f[a] * fm[b];
      trace += d + shared;
      common.push(d * d + 2 * d * shared);
    }
    let squares = 0;
    for (let a = 0; a < wide; a++) {
      let sum = 0;
      for (let b = 0; b < wide; b++) sum += inner[a * wide + b] * inner[b * wide + a];
      squares += sum;
    }
    for (const more of common) squares += more;
    const told = squares > 0 && trace > 0 && squares < Number.POSITIVE_INFINITY;
    return told ? Math.max(1, Math.min(blocks.length, trace ** 2 / squares)) : 1;
  };
}

/** Sums over one block: products of the rows, the same through the working correlation, and with the residuals. */
function sumsOf(
  q: readonly Float64Array[],
  residuals: ArrayLike<number>,
  [from, to]: readonly [from: number, to: number],
  rho: number,
  series: ArrayLike<number> | undefined,
): { hat: Float64Array; noise: Float64Array; score: Float64Array } {
  const p = q.length;
  const hat = new Float64Array(p * p);
  const across = new Float64Array(p * p);
  const score = new Float64Array(p);
  const row = new Float64Array(p);
  // What the earlier rows of each series still put into the present one.
  const past = new Map<number, Float64Array>();
  for (let i = from; i < to; i++) {
    const one = series === undefined ? 0 : series[i];
    let before = past.get(one);
    if (before === undefined) {
      before = new Float64Array(p);
      past.set(one, before);
    }
    for (let a = 0; a < p; a++) row[a] = q[a][i];
    for (let a = 0, at = 0; a < p; a++, at += p) {
      const qa = row[a];
      score[a] += qa * residuals[i];
      for (let b = 0; b <= a; b++) hat[at + b] += qa * row[b];
      for (let b = 0; b < p; b++) across[at + b] += qa * before[b];
    }
    for (let a = 0; a < p; a++) before[a] = rho * (before[a] + row[a]);
  }
  for (let a = 0; a < p; a++) for (let b = 0; b < a; b++) hat[b * p + a] = hat[a * p + b];
  const noise = plusTransposed(across, p);
  for (let k = 0; k < noise.length; k++) noise[k] += hat[k];
  return { hat, noise, score };
}

/** The symmetric factor T that brings what is left in the residuals of a block back to what was in its errors, with
 * `T*kept*T = noise`; null when nothing is kept of something that was there. */
function backFactor(noise: Float64Array, kept: Float64Array, p: number): Float64Array | null {
  const root = power(symmetric(noise, p), 0.5, 0);
  const middle = symmetric(product(product(root, kept, p), root, p), p);
  let trace = 0;
  for (let k = 0; k < p; k++) trace += noise[k * p + k];
  const size = Math.max(1e-300, trace);
  // Directions that the block hardly bears on stay out (rounding rules them); one that it decides to a thousandth is
  // null.
  const { values: shares, axes } = middle;
  for (let k = 0; k < p; k++) {
    let had = 0;
    for (let j = 0; j < p; j++) {
      let sum = 0;
      for (let i = 0; i < p; i++) sum += axes[i * p + k] * noise[i * p + j];
      had += sum * axes[j * p + k];
    }
    if (had > 1e-5 * size && shares[k] < 1e-3 * had * had) return null;
  }
  return product(product(root, power(middle, -0.5, 1e-13 * size * size), p), root, p);
}

const allFinite = (m: Float64Array): boolean => m.every(Number.isFinite);

/** A symmetric matrix by its eigenvalues and axes (columns). */
interface Symmetric {
  readonly values: readonly number[];
  readonly axes: Float64Array;
}

/**
 * Eigenvalues and axes of a symmetric matrix. It is brought to size 1 first, and what is nothing beside that becomes
 * zero: among numbers whose squares are beyond the range of a double the decomposition runs out of its own arrays.
 */
function symmetric(m: Float64Array, p: number): Symmetric {
  const even = plusTransposed(m, p);
  let size = 0;
  for (let k = 0; k < even.length; k++) {
    even[k] /= 2;
    size = Math.max(size, Math.abs(even[k]));
  }
  if (!(size > 0))
    return { values: new Array<number>(p).fill(0), axes: Float64Array.from(Matrix.eye(p).to1DArray()) };
  const scaled = new Matrix(p, p);
  for (let k = 0; k < even.length; k++) {
    const v = even[k] / size;
    scaled.set(Math.floor(k / p), k % p, Math.abs(v) < 1e-100 ? 0 : v);
  }
  const found = new EigenvalueDecomposition(scaled, { assumeSymmetric: true });
  return {
    values: found.realEigenvalues.map((s) => s * size),
    axes: Float64Array.from(found.eigenvectorMatrix.to1DArray()),
  };
}

function power({ values, axes }: Symmetric, exponent: number, floor: number): Float64Array {
  const p = values.length;
  const stretched = new Float64Array(p * p);
  const factors = values.map((s) => (s > floor ? s ** exponent : 0));
  for (let k = 0; k < stretched.length; k++) stretched[k] = axes[k] * factors[k % p];
  return productWithTransposed(stretched, axes, p);
}
