import { orthonormalOf, type ThinQr } from "./thinQr.js";

/** Least square of a pivot, beside columns of length one, at which the normal equations still keep ten digits. */
const leastPivot = 1e-4;

/**
 * Weighted least squares again and again, for the same columns and response and other weights: by the normal equations
 * of the orthonormal factor of the columns, which are as well conditioned as the weights leave them, at a quarter of
 * the cost of another factorization. Undefined where the weights leave too little of a direction; the columns
 * themselves are to be factorized then.
 *
 * @param qr of the columns
 */
export function reweighted(
  qr: ThinQr,
  response: Float64Array,
): (weights: Float64Array) => number[] | undefined {
  const q = orthonormalOf(qr);
  const p = q.length;
  const normal = new Float64Array(p * p);
  const z = new Float64Array(p);
  const weighted = new Float64Array(response.length);
  return (weights) => {
    for (let a = 0; a < p; a++) {
      const column = q[a];
      for (let i = 0; i < weighted.length; i++) weighted[i] = weights[i] * column[i];
      let b = 0;
      for (; b + 3 <= a; b += 4) fourProducts(weighted, q, b, normal, a * p + b);
      for (; b <= a; b++) normal[a * p + b] = productOf(weighted, q[b]);
      z[a] = productOf(weighted, response);
    }
    if (!solvedInPlace(normal, z, p)) return undefined;
    // From the coordinates of Q to those of the columns: R*beta = z.
    const beta = new Array<number>(p).fill(0);
    for (let j = p - 1; j >= 0; j--) {
      let sum = z[j];
      for (let k = j + 1; k < p; k++) sum -= qr.reflections[k][j] * beta[k];
      beta[j] = sum / qr.diagonal[j];
    }
    return beta.every(Number.isFinite) ? beta : undefined;
  };
}

function productOf(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

/** Products of one column with four others at once: no addition waits for that of another. */
function fourProducts(
  column: Float64Array,
  others: readonly Float64Array[],
  from: number,
  sums: Float64Array,
  at: number,
): void {
  const a = others[from];
  const b = others[from + 1];
  const c = others[from + 2];
  const d = others[from + 3];
  let ofA = 0;
  let ofB = 0;
  let ofC = 0;
  let ofD = 0;
  for (let i = 0; i < column.length; i++) {
    const v = column[i];
    ofA += v * a[i];
    ofB += v * b[i];
    ofC += v * c[i];
    ofD += v * d[i];
  }
  sums[at] = ofA;
  sums[at + 1] = ofB;
  sums[at + 2] = ofC;
  sums[at + 3] = ofD;
}

/** Cholesky's solution of a symmetric system (Golub and Van Loan, Matrix Computations, section 4.2), lower triangle
 * and right-hand side overwritten; false at a pivot too small. */
function solvedInPlace(m: Float64Array, z: Float64Array, p: number): boolean {
  for (let a = 0; a < p; a++) {
    for (let b = 0; b <= a; b++) {
      let sum = m[a * p + b];
      for (let k = 0; k < b; k++) sum -= m[a * p + k] * m[b * p + k];
      if (b < a) m[a * p + b] = sum / m[b * p + b];
      else if (sum > leastPivot) m[a * p + a] = Math.sqrt(sum);
      else return false;
    }
    let right = z[a];
    for (let k = 0; k < a; k++) right -= m[a * p + k] * z[k];
    z[a] = right / m[a * p + a];
  }
  for (let a = p - 1; a >= 0; a--) {
    let sum = z[a];
    for (let k = a + 1; k < p; k++) sum -= m[k * p + a] * z[k];
    z[a] = sum / m[a * p + a];
  }
  return true;
}
