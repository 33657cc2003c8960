/**
 * Lower Cholesky factor of a symmetric positive definite matrix, in its place (Golub and Van Loan, Matrix Computations,
 * 4.2). Only the lower half is read and written.
 *
 * @param matrix row by row, `width` times `width`
 * @param least smallest square of a pivot; a smaller one, as of a matrix that is singular within rounding, is raised to
 * it
 * @returns false when a pivot is not above zero and no least one was given; the matrix is then spoilt
 *
 * @example
 * const m = Float64Array.of(4, 2, 2, 3);
 * cholesky(m, 2); // => true
 */
export function cholesky(matrix: Float64Array, width: number, least?: number): boolean {
  for (let i = 0; i < width; i++)
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * width + j];
      for (let k = 0; k < j; k++) sum -= matrix[i * width + k] * matrix[j * width + k];
      if (i > j) matrix[i * width + j] = sum / matrix[j * width + j];
      else if (least !== undefined) matrix[i * width + i] = Math.sqrt(Math.max(sum, least));
      else if (sum > 0) matrix[i * width + i] = Math.sqrt(sum);
      else return false;
    }
  return true;
}
