/** QR decomposition of a matrix with at least as many rows as columns. */
export interface ThinQr {
  /** Columns: Householder vectors below and on the diagonal, R above it. */
  readonly reflections: readonly Float64Array[];
  /** Diagonal of R. */
  readonly diagonal: Float64Array;
}

/**
 * Householder QR with vectors scaled to a head of one more than their share (Golub and Van Loan, Matrix Computations,
 * section 5.2; the manner of LINPACK): for when R and Q themselves are wanted. `householderQr` solves.
 *
 * @param columns of one length; they stay as they are
 */
export function thinQr(columns: readonly Float64Array[]): ThinQr {
  const reflections = columns.map((column) => column.slice());
  const diagonal = new Float64Array(columns.length);
  reflections.forEach((v, k) => {
    let norm = 0;
    for (let i = k; i < v.length; i++) norm = hypotenuse(norm, v[i]);
    if (norm !== 0) {
      if (v[k] < 0) norm = -norm;
      for (let i = k; i < v.length; i++) v[i] /= norm;
      v[k] += 1;
      for (let j = k + 1; j < reflections.length; j++) reflect(v, k, reflections[j]);
    }
    diagonal[k] = -norm;
  });
  return { reflections, diagonal };
}

/** The columns of the factor that is orthonormal. */
export function orthonormalOf({ reflections }: ThinQr): Float64Array[] {
  const q = reflections.map((v) => new Float64Array(v.length));
  for (let k = q.length - 1; k >= 0; k--) {
    const v = reflections[k];
    q[k][k] = 1;
    if (v[k] !== 0) for (let j = k; j < q.length; j++) reflect(v, k, q[j]);
  }
  return q;
}

/** Applies the k-th reflection to a column. */
function reflect(v: Float64Array, k: number, target: Float64Array): void {
  let dot = 0;
  for (let i = k; i < v.length; i++) dot += v[i] * target[i];
  const share = -dot / v[k];
  for (let i = k; i < v.length; i++) target[i] += share * v[i];
}

/** Root of the sum of two squares, without overflow. */
function hypotenuse(a: number, b: number): number {
  if (Math.abs(a) > Math.abs(b)) {
    const r = b / a;
    return Math.abs(a) * Math.sqrt(1 + r * r);
  }
  if (b === 0) return 0;
  const r = a / b;
  return Math.abs(b) * Math.sqrt(1 + r * r);
}
