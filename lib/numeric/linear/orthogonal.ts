/**
 * Small dense factorizations for least-squares steps. Columns are stored one after another (column-major).
 */

/**
 * Householder QR of an m by n matrix (column-major, overwritten) applied to a right-hand side (overwritten), where
 * there is one: on return the upper triangle of the first n rows of `a` is R, and the first n entries of `b` are the
 * first n of Qᵀb.
 *
 * Golub and Van Loan, Matrix Computations, section 5.2.
 */
export function householderQr(a: Float64Array, b: Float64Array | undefined, m: number, n: number): void {
  const steps = Math.min(m, n);
  for (let k = 0; k < steps; k++) {
    const ck = k * m;
    let largest = 0;
    for (let i = k; i < m; i++) {
      const v = Math.abs(a[ck + i]);
      if (v > largest) largest = v;
    }
    if (largest === 0) continue;
    let sum = 0;
    for (let i = k; i < m; i++) {
      const v = a[ck + i] / largest;
      sum += v * v;
    }
    const norm = largest * Math.sqrt(sum);
    const head = a[ck + k];
    const alpha = head > 0 ? -norm : norm;
    // v = x - alpha e1, stored in place; beta = 2/(vᵀv) = -1/(alpha*(head-alpha))
    const v0 = head - alpha;
    const beta = -1 / (alpha * v0);
    a[ck + k] = v0;
    for (let j = k + 1; j < n; j++) {
      const cj = j * m;
      let dot = 0;
      for (let i = k; i < m; i++) dot += a[ck + i] * a[cj + i];
      dot *= beta;
      if (dot !== 0) for (let i = k; i < m; i++) a[cj + i] -= dot * a[ck + i];
    }
    if (b !== undefined) {
      let dot = 0;
      for (let i = k; i < m; i++) dot += a[ck + i] * b[i];
      dot *= beta;
      if (dot !== 0) for (let i = k; i < m; i++) b[i] -= dot * a[ck + i];
    }
    a[ck + k] = alpha;
  }
}

/** Singular value decomposition of a small matrix. `u` and `v` are column-major; `s` is in descending order. */
export interface SmallSvd {
  readonly u: Float64Array;
  readonly s: Float64Array;
  readonly v: Float64Array;
}

/**
 * One-sided Jacobi SVD of a rows by n matrix (column-major, rows >= n, not changed): a = u diag(s) vᵀ. Small singular
 * values come out to high relative accuracy, which bidiagonalization does not promise.
 *
 * Golub and Van Loan, Matrix Computations, section 8.6.3.
 */
export function jacobiSvd(a: Float64Array, rows: number, n: number): SmallSvd {
  const w = a.slice(0, rows * n);
  const v = new Float64Array(n * n);
  for (let j = 0; j < n; j++) v[j * n + j] = 1;
  for (let sweep = 0; sweep < 60; sweep++) {
    let rotated = false;
    for (let p = 0; p < n - 1; p++) {
      for (let q = p + 1; q < n; q++) {
        let alpha = 0;
        let beta = 0;
        let gamma = 0;
        for (let i = 0; i < rows; i++) {
          const x = w[p * rows + i];
          const y = w[q * rows + i];
          alpha += x * x;
          beta += y * y;
          gamma += x * y;
        }
        if (gamma === 0 || Math.abs(gamma) <= 1e-16 * Math.sqrt(alpha) * Math.sqrt(beta)) continue;
        rotated = true;
        const zeta = (beta - alpha) / (2 * gamma);
        const t = Math.sign(zeta || 1) / (Math.abs(zeta) + Math.hypot(1, zeta));
        const c = 1 / Math.hypot(1, t);
        const s = c * t;
        for (let i = 0; i < rows; i++) {
          const x = w[p * rows + i];
          const y = w[q * rows + i];
          w[p * rows + i] = c * x - s * y;
          w[q * rows + i] = s * x + c * y;
        }
        for (let i = 0; i < n; i++) {
          const x = v[p * n + i];
          const y = v[q * n + i];
          v[p * n + i] = c * x - s * y;
          v[q * n + i] = s * x + c * y;
        }
      }
    }
    if (!rotated) break;
  }
  const norms = new Float64Array(n);
  for (let j = 0; j < n; j++) {
    let sum = 0;
    for (let i = 0; i < rows; i++) sum += w[j * rows + i] ** 2;
    norms[j] = Math.sqrt(sum);
  }
  const order = Array.from(norms.keys()).sort((x, y) => norms[y] - norms[x]);
  const u = new Float64Array(rows * n);
  const s = new Float64Array(n);
  const vs = new Float64Array(n * n);
  order.forEach((from, to) => {
    s[to] = norms[from];
    for (let i = 0; i < rows; i++) u[to * rows + i] = norms[from] > 0 ? w[from * rows + i] / norms[from] : 0;
    for (let i = 0; i < n; i++) vs[to * n + i] = v[from * n + i];
  });
  return { u, s, v: vs };
}
