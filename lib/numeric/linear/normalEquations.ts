/** Solution of normal equations, and the inverse of their matrix. */
export interface NormalSolution {
  readonly x: number[];
  readonly inverse: number[][];
}

const room = new Float64Array(2 * 16 * 16);
const scales = new Float64Array(16);

/**
 * Solves the normal equations of a few unknowns (16 at most), scaled to a unit diagonal, by elimination with pivots and
 * a small ridge term (1e-10 of the diagonal). For many small problems one
 * after another; `linearRegression` and `solveColumns` are the careful ones.
 *
 * @param matrix symmetric, at least as large as `right`
 * @returns undefined where the matrix is singular
 * @example
 * solveNormal([[2, 0], [0, 4]], [2, 8])?.x; // => [1.000, 2.000]
 */
export function solveNormal(
  matrix: readonly (readonly number[])[],
  right: readonly number[],
): NormalSolution | undefined {
  const n = right.length;
  const width = 2 * n;
  const a = room;
  for (let i = 0; i < n; i += 1) scales[i] = Math.sqrt(Math.max(matrix[i][i], 1e-300));
  for (let i = 0; i < n; i += 1)
    for (let j = 0; j < n; j += 1) {
      a[i * width + j] = matrix[i][j] / (scales[i] * scales[j]) + (i === j ? 1e-10 : 0);
      a[i * width + n + j] = i === j ? 1 : 0;
    }
  for (let i = 0; i < n; i += 1) {
    let pivot = i;
    for (let r = i + 1; r < n; r += 1)
      if (Math.abs(a[r * width + i]) > Math.abs(a[pivot * width + i])) pivot = r;
    if (!(Math.abs(a[pivot * width + i]) >= 1e-13)) return undefined;
    if (pivot !== i)
      for (let k = 0; k < width; k += 1) {
        const kept = a[i * width + k];
        a[i * width + k] = a[pivot * width + k];
        a[pivot * width + k] = kept;
      }
    const lead = a[i * width + i];
    for (let k = 0; k < width; k += 1) a[i * width + k] /= lead;
    for (let r = 0; r < n; r += 1) {
      const factor = a[r * width + i];
      if (r === i || factor === 0) continue;
      for (let k = 0; k < width; k += 1) a[r * width + k] -= factor * a[i * width + k];
    }
  }
  const inverse: number[][] = [];
  const x: number[] = [];
  for (let i = 0; i < n; i += 1) {
    const row: number[] = [];
    let sum = 0;
    for (let j = 0; j < n; j += 1) {
      const v = a[i * width + n + j] / (scales[i] * scales[j]);
      row.push(v);
      sum += v * right[j];
    }
    inverse.push(row);
    x.push(sum);
  }
  return { x, inverse };
}
