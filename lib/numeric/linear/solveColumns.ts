import { householderQr } from "./orthogonal.js";
import { orthonormalOf, thinQr } from "./thinQr.js";

/**
 * Linear least squares: the combination of the columns that comes nearest to `response`, by Householder QR of the
 * columns scaled to length one. Null where the columns cannot be told apart (one of them is a combination of the others
 * to within a millionth) or are fewer rows than columns.
 *
 * @param columns one array for each coefficient, as many rows as `response`
 * @example
 * solveColumns([Float64Array.of(1, 1, 1), Float64Array.of(0, 1, 2)], Float64Array.of(1, 3, 5)); // => Float64Array [1, 2]
 */
export function solveColumns(columns: readonly Float64Array[], response: Float64Array): Float64Array | null {
  const n = columns.length;
  const m = response.length;
  if (n === 0 || m < n) return null;
  const a = new Float64Array(m * n);
  const size = columns.map((column, j) => {
    let sum = 0;
    for (let i = 0; i < m; i++) sum += column[i] * column[i];
    const length = Math.sqrt(sum);
    for (let i = 0; i < m; i++) a[j * m + i] = column[i] / length;
    return length;
  });
  if (!size.every((s) => s > 0 && Number.isFinite(s))) return null;
  const b = response.slice();
  householderQr(a, b, m, n);
  const x = new Float64Array(n);
  for (let j = n - 1; j >= 0; j--) {
    const pivot = a[j * m + j];
    if (!(Math.abs(pivot) > 1e-6)) return null;
    let sum = b[j];
    for (let i = j + 1; i < n; i++) sum -= a[i * m + j] * x[i];
    x[j] = sum / pivot;
  }
  for (let j = 0; j < n; j++) x[j] /= size[j];
  return x.every(Number.isFinite) ? x : null;
}

/**
 * `solveColumns` for many responses: the columns are factorized once. Undefined where the columns cannot be told apart
 * or are fewer rows than columns.
 */
export function columnSolver(
  columns: readonly Float64Array[],
): ((response: Float64Array) => Float64Array | null) | undefined {
  const n = columns.length;
  if (n === 0 || columns[0].length < n) return undefined;
  const size = columns.map((column) => Math.sqrt(column.reduce((sum, v) => sum + v * v, 0)));
  if (!size.every((s) => s > 0 && Number.isFinite(s))) return undefined;
  const qr = thinQr(columns.map((column, j) => column.map((v) => v / size[j])));
  if (!qr.diagonal.every((pivot) => Math.abs(pivot) > 1e-6)) return undefined;
  const q = orthonormalOf(qr);
  return (response) => {
    const x = new Float64Array(n);
    for (let j = n - 1; j >= 0; j--) {
      let sum = 0;
      for (let i = 0; i < response.length; i++) sum += q[j][i] * response[i];
      for (let k = j + 1; k < n; k++) sum -= qr.reflections[k][j] * x[k];
      x[j] = sum / qr.diagonal[j];
    }
    for (let j = 0; j < n; j++) x[j] /= size[j];
    return x.every(Number.isFinite) ? x : null;
  };
}
