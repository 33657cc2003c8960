import { cholesky } from "./cholesky.js";

/**
 * Solves a system with a symmetric positive definite matrix by its Cholesky factor (Golub and Van Loan, Matrix
 * Computations, 4.2). Only the lower half of the matrix is read.
 *
 * @param matrix rows of the matrix
 * @returns undefined when the matrix is not positive definite
 * @example
 * solvePositive([[4, 2], [2, 3]], [2, 5]); // => [-0.5, 2]
 */
export function solvePositive(
  matrix: readonly ArrayLike<number>[],
  right: ArrayLike<number>,
): number[] | undefined {
  const n = matrix.length;
  const l = new Float64Array(n * n);
  for (let i = 0; i < n; i++) for (let j = 0; j <= i; j++) l[i * n + j] = matrix[i][j];
  if (!cholesky(l, n)) return undefined;
  const y = Array.from(right);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) y[i] -= l[i * n + k] * y[k];
    y[i] /= l[i * n + i];
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) y[i] -= l[k * n + i] * y[k];
    y[i] /= l[i * n + i];
  }
  return y;
}
