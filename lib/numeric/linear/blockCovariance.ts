import { EigenvalueDecomposition, Matrix, QrDecomposition } from "ml-matrix";

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
 * @param x regressors times the roots of the weights, one row each, in order
 * @param residuals residuals times the roots of the weights
 * @param edges first row of each block, and the number of rows at the end
 * @param rho correlation of neighbouring rows (of one series) in the working model, 0 to 1
 * @param series which of several alternating series each row belongs to
 */
export function blockCovariance(
  x: Matrix,
  residuals: ArrayLike<number>,
  edges: readonly number[],
  rho = 0,
  series?: ArrayLike<number>,
): BlockCovariance | null {
  const p = x.columns;
  // Too few rows for a block of the length asked for.
  if (edges.length < 2) return null;
  const qr = new QrDecomposition(x);
  if (!qr.isFullRank()) return null;
  const q = qr.orthogonalMatrix;
  // Rows of the inverse of R: what each coefficient is in the coordinates of Q.
  const inverse = new QrDecomposition(qr.upperTriangularMatrix).solve(Matrix.eye(p));
  const sums = edges.slice(1).map((to, g) => sumsOf(q, residuals, edges[g], to, rho, series));
  const whole = sums.reduce((all, { noise }) => Matrix.add(all, noise), Matrix.zeros(p, p));
  const blocks: { score: number[]; own: Matrix; u: Matrix; v: Matrix }[] = [];
  for (const { hat, noise, score } of sums) {
    // What the working model leaves in the residuals of the block, and the factor that brings it back to what was in
    // the errors.
    const cross = hat.mmul(noise);
    const kept = Matrix.add(
      Matrix.sub(noise, Matrix.add(cross, cross.transpose())),
      hat.mmul(whole).mmul(hat),
    );
    const back = [noise, kept].every(allFinite) ? backFactor(noise, kept) : null;
    if (back === null) return null;
    blocks.push({
      score: back.mmul(Matrix.columnVector(score)).to1DArray(),
      own: back.mmul(noise).mmul(back),
      u: hat.mmul(back),
      v: noise.mmul(back),
    });
  }
  const inWhite = (combination: readonly number[]): Matrix =>
    Matrix.columnVector(
      Array.from({ length: p }, (_, k) =>
        combination.reduce((sum, one, j) => sum + one * inverse.get(j, k), 0),
      ),
    );
  const each = Array.from({ length: p }, (_, j) => {
    const c = inWhite(Array.from({ length: p }, (_unused, k) => (k === j ? 1 : 0)));
    return blocks.map(({ score }) => score.reduce((sum, s, k) => sum + c.get(k, 0) * s, 0));
  });
  const covariance = each.map((one) => each.map((other) => one.reduce((sum, s, g) => sum + s * other[g], 0)));
  const degreesOf = (combination: readonly number[]): number => {
    const c = inWhite(combination);
    // Under the working model the contributions of the blocks have covariance D + F*M*F': D of each, the rest what the
    // common fit takes.
    const d = blocks.map(({ own }) => c.transpose().mmul(own).mmul(c).get(0, 0));
    const f = new Matrix(blocks.map(({ u, v }) => [...u.mmul(c).to1DArray(), ...v.mmul(c).to1DArray()]));
    const m = Matrix.zeros(2 * p, 2 * p);
    m.setSubMatrix(whole, 0, 0);
    for (let k = 0; k < p; k++) {
      m.set(k, p + k, -1);
      m.set(p + k, k, -1);
    }
    const fm = f.mmul(m);
    const inner = f.transpose().mmul(fm);
    let trace = 0;
    let squares = inner.mmul(inner).trace();
    d.forEach((own, g) => {
      let shared = 0;
      for (let k = 0; k < 2 * p; k++) shared += fm.get(g, k) * f.get(g, k);
      trace += own + shared;
      squares += own * own + 2 * own * shared;
    });
    return squares > 0 && trace > 0 ? Math.max(1, Math.min(blocks.length, trace ** 2 / squares)) : 1;
  };
  return { covariance, degreesOf, blocks: blocks.length };
}

/** Sums over one block: products of the rows, the same through the working correlation, and with the residuals. */
function sumsOf(
  q: Matrix,
  residuals: ArrayLike<number>,
  from: number,
  to: number,
  rho: number,
  series: ArrayLike<number> | undefined,
): { hat: Matrix; noise: Matrix; score: number[] } {
  const p = q.columns;
  const hat = Matrix.zeros(p, p);
  const across = Matrix.zeros(p, p);
  const score = new Array<number>(p).fill(0);
  // What the earlier rows of each series still put into the present one.
  const past = new Map<number, Float64Array>();
  for (let i = from; i < to; i++) {
    const one = series === undefined ? 0 : series[i];
    const before = past.get(one) ?? new Float64Array(p);
    for (let a = 0; a < p; a++) {
      const qa = q.get(i, a);
      score[a] += qa * residuals[i];
      for (let b = 0; b < p; b++) {
        hat.set(a, b, hat.get(a, b) + qa * q.get(i, b));
        across.set(a, b, across.get(a, b) + qa * before[b]);
      }
    }
    for (let a = 0; a < p; a++) before[a] = rho * (before[a] + q.get(i, a));
    past.set(one, before);
  }
  return { hat, noise: Matrix.add(hat, Matrix.add(across, across.transpose())), score };
}

/** The symmetric factor T with `T*kept*T = noise`; null when nothing is kept of something that was there. */
function backFactor(noise: Matrix, kept: Matrix): Matrix | null {
  const root = power(noise, 0.5, 0);
  const middle = root.mmul(kept).mmul(root);
  const size = Math.max(1e-300, noise.trace());
  // Directions that the block hardly bears on stay out (rounding rules them); one that it decides to a thousandth is
  // null.
  const { realEigenvalues: shares, eigenvectorMatrix: axes } = symmetric(middle);
  const there = axes.transpose().mmul(noise).mmul(axes);
  for (let k = 0; k < shares.length; k++) {
    const had = there.get(k, k);
    if (had > 1e-5 * size && shares[k] < 1e-3 * had * had) return null;
  }
  return root.mmul(power(middle, -0.5, 1e-13 * size * size)).mmul(root);
}

const allFinite = (m: Matrix): boolean => m.to1DArray().every(Number.isFinite);

/**
 * Eigenvalues and axes of a symmetric matrix. It is brought to size 1 first, and what is nothing beside that becomes
 * zero: among numbers whose squares are beyond the range of a double the decomposition runs out of its own arrays.
 */
function symmetric(m: Matrix): Pick<EigenvalueDecomposition, "realEigenvalues" | "eigenvectorMatrix"> {
  const even = Matrix.add(m, m.transpose()).div(2);
  const size = Math.max(Math.abs(even.max()), Math.abs(even.min()));
  const p = m.rows;
  if (!(size > 0)) return { realEigenvalues: new Array<number>(p).fill(0), eigenvectorMatrix: Matrix.eye(p) };
  even.div(size);
  for (let i = 0; i < p; i++)
    for (let j = 0; j < p; j++) if (Math.abs(even.get(i, j)) < 1e-100) even.set(i, j, 0);
  const found = new EigenvalueDecomposition(even, { assumeSymmetric: true });
  return {
    realEigenvalues: found.realEigenvalues.map((s) => s * size),
    eigenvectorMatrix: found.eigenvectorMatrix,
  };
}

function power(m: Matrix, exponent: number, floor: number): Matrix {
  const { realEigenvalues, eigenvectorMatrix: v } = symmetric(m);
  return v.mmul(Matrix.diag(realEigenvalues.map((s) => (s > floor ? s ** exponent : 0)))).mmul(v.transpose());
}
