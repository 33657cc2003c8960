import type { Complex } from "./complex.js";

/** x' = a*x + b*u, y = c*x + d*u, one input and one output. */
export interface StateSpace {
  readonly a: readonly (readonly number[])[];
  readonly b: readonly number[];
  readonly c: readonly number[];
  readonly d: number;
}

/**
 * Matrix exponential by scaling and squaring with Taylor's series; made for the few states of a loop, thousands of
 * times.
 *
 * Source: C. Moler and C. Van Loan, Nineteen dubious ways to compute the exponential of a matrix, twenty-five years
 * later, SIAM Review 45 (2003), method 3.
 *
 * @throws RangeError when an entry is not finite
 */
function matrixExponential(a: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  let norm = 0;
  for (const row of a)
    norm = Math.max(
      norm,
      row.reduce((sum, v) => sum + Math.abs(v), 0),
    );
  if (!Number.isFinite(norm)) throw new RangeError("a matrix exponential needs finite numbers");
  const halvings = norm > 0.25 ? Math.ceil(Math.log2(norm)) + 2 : 0;
  const factor = 2 ** -halvings;
  const scaled = a.map((row) => row.map((v) => v * factor));
  // Horner: I + A(I + A/2(I + A/3(...))); the remainder after order 12 is below 0.25^13/13! = 2e-18.
  let result = identity(n);
  for (let k = 12; k >= 1; k--) {
    result = product(scaled, result);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) result[i][j] /= k;
      result[i][i] += 1;
    }
  }
  for (let k = 0; k < halvings; k++) result = product(result, result);
  return result;
}

const identity = (n: number): number[][] =>
  Array.from({ length: n }, (_, i) => Array.from({ length: n }, (__, j) => (i === j ? 1 : 0)));

function product(a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  const out: number[][] = [];
  for (let i = 0; i < n; i++) {
    const row = new Array<number>(n).fill(0);
    for (let k = 0; k < n; k++) {
      const v = a[i][k];
      if (v === 0) continue;
      for (let j = 0; j < n; j++) row[j] += v * b[k][j];
    }
    out.push(row);
  }
  return out;
}

/** Exact transition over `step` with the input held: x(t+step) = phi*x(t) + gamma*u. */
export function discretise(
  a: readonly (readonly number[])[],
  b: readonly number[],
  step: number,
): { readonly phi: readonly (readonly number[])[]; readonly gamma: readonly number[] } {
  const n = b.length;
  const joint = Array.from({ length: n + 1 }, (_, i) =>
    Array.from({ length: n + 1 }, (_, j) => (i === n ? 0 : step * (j === n ? b[i] : a[i][j]))),
  );
  const exponential = matrixExponential(joint);
  return {
    phi: exponential.slice(0, n).map((row) => row.slice(0, n)),
    gamma: exponential.slice(0, n).map((row) => row[n]),
  };
}

/**
 * Eigenvalues of a real matrix, balanced first, largest real part first: reduction to Hessenberg form by stabilised
 * elimination, then the double-shift QR iteration with exceptional shifts and a bound on its rounds (the library's own
 * decomposition states no such bound on its iterations).
 *
 * Source: J. H. Wilkinson and C. Reinsch, Handbook for Automatic Computation, vol. II, Linear Algebra (1971): `elmhes`
 * and `hqr`.
 *
 * @throws RangeError when an entry is not finite or the iteration does not settle
 */
export function eigenvalues(a: readonly (readonly number[])[]): Complex[] {
  if (a.some((row) => row.some((v) => !Number.isFinite(v))))
    throw new RangeError("eigenvalues need finite numbers");
  const h = hessenberg(balance(a));
  return hessenbergEigenvalues(h).sort((p, q) => q.re - p.re || q.im - p.im);
}

/** Reduction to upper Hessenberg form by elimination with pivoting; changes its argument. */
function hessenberg(a: number[][]): number[][] {
  const n = a.length;
  for (let m = 1; m < n - 1; m++) {
    let pivot = m;
    for (let j = m; j < n; j++) if (Math.abs(a[j][m - 1]) > Math.abs(a[pivot][m - 1])) pivot = j;
    if (pivot !== m) {
      for (let j = m - 1; j < n; j++) [a[pivot][j], a[m][j]] = [a[m][j], a[pivot][j]];
      for (let j = 0; j < n; j++) [a[j][pivot], a[j][m]] = [a[j][m], a[j][pivot]];
    }
    const x = a[m][m - 1];
    if (x === 0) continue;
    for (let i = m + 1; i < n; i++) {
      const y = a[i][m - 1] / x;
      a[i][m - 1] = 0;
      if (y === 0) continue;
      for (let j = m; j < n; j++) a[i][j] -= y * a[m][j];
      for (let j = 0; j < n; j++) a[j][m] += y * a[j][i];
    }
  }
  return a;
}

function hessenbergEigenvalues(a: number[][]): Complex[] {
  const found: Complex[] = [];
  let norm = 0;
  a.forEach((row, i) => {
    row.forEach((v, j) => {
      if (j >= i - 1) norm += Math.abs(v);
    });
  });
  let last = a.length - 1;
  let shifted = 0;
  let rounds = 0;
  while (last >= 0) {
    // A small subdiagonal element splits the matrix.
    let low = last;
    for (; low > 0; low--) {
      const around = Math.abs(a[low - 1][low - 1]) + Math.abs(a[low][low]) || norm;
      if (Math.abs(a[low][low - 1]) <= Number.EPSILON * around) {
        a[low][low - 1] = 0;
        break;
      }
    }
    let x = a[last][last];
    if (low === last) {
      found.push({ re: x + shifted, im: 0 });
      last--;
      rounds = 0;
      continue;
    }
    let y = a[last - 1][last - 1];
    let w = a[last][last - 1] * a[last - 1][last];
    if (low === last - 1) {
      const p = (y - x) / 2;
      const q = p * p + w;
      const z = Math.sqrt(Math.abs(q));
      const middle = x + shifted;
      if (q >= 0) {
        const far = p + (p >= 0 ? z : -z);
        found.push({ re: middle + far, im: 0 }, { re: far === 0 ? middle : middle - w / far, im: 0 });
      } else {
        found.push({ re: middle + p, im: z }, { re: middle + p, im: -z });
      }
      last -= 2;
      rounds = 0;
      continue;
    }
    if (rounds >= 120) throw new RangeError("the eigenvalue iteration did not settle");
    if (rounds % 10 === 9) {
      shifted += x;
      for (let i = 0; i <= last; i++) a[i][i] -= x;
      const s = Math.abs(a[last][last - 1]) + Math.abs(a[last - 1][last - 2]);
      x = 0.75 * s;
      y = x;
      w = -0.4375 * s * s;
    }
    rounds++;
    let m = last - 2;
    let p = 0;
    let q = 0;
    let r = 0;
    for (; m >= low; m--) {
      const z = a[m][m];
      const dx = x - z;
      const dy = y - z;
      p = (dx * dy - w) / a[m + 1][m] + a[m][m + 1];
      q = a[m + 1][m + 1] - z - dx - dy;
      r = a[m + 2][m + 1];
      const s = Math.abs(p) + Math.abs(q) + Math.abs(r);
      p /= s;
      q /= s;
      r /= s;
      if (m === low) break;
      const u = Math.abs(a[m][m - 1]) * (Math.abs(q) + Math.abs(r));
      const v = Math.abs(p) * (Math.abs(a[m - 1][m - 1]) + Math.abs(z) + Math.abs(a[m + 1][m + 1]));
      if (u <= Number.EPSILON * v) break;
    }
    for (let i = m + 2; i <= last; i++) {
      a[i][i - 2] = 0;
      if (i !== m + 2) a[i][i - 3] = 0;
    }
    for (let k = m; k < last; k++) {
      let scale = 1;
      if (k !== m) {
        p = a[k][k - 1];
        q = a[k + 1][k - 1];
        r = k !== last - 1 ? a[k + 2][k - 1] : 0;
        scale = Math.abs(p) + Math.abs(q) + Math.abs(r);
        if (scale !== 0) {
          p /= scale;
          q /= scale;
          r /= scale;
        }
      }
      const s = Math.hypot(p, q, r) * (p >= 0 ? 1 : -1);
      if (s === 0) continue;
      if (k === m) {
        if (low !== m) a[k][k - 1] = -a[k][k - 1];
      } else a[k][k - 1] = -s * scale;
      p += s;
      const fx = p / s;
      const fy = q / s;
      const fz = r / s;
      q /= p;
      r /= p;
      for (let j = k; j <= last; j++) {
        let t = a[k][j] + q * a[k + 1][j];
        if (k !== last - 1) {
          t += r * a[k + 2][j];
          a[k + 2][j] -= t * fz;
        }
        a[k + 1][j] -= t * fy;
        a[k][j] -= t * fx;
      }
      const end = Math.min(last, k + 3);
      for (let i = low; i <= end; i++) {
        let t = fx * a[i][k] + fy * a[i][k + 1];
        if (k !== last - 1) {
          t += fz * a[i][k + 2];
          a[i][k + 2] -= t * r;
        }
        a[i][k + 1] -= t * q;
        a[i][k] -= t;
      }
    }
  }
  return found;
}

/** Diagonal similarity by powers of two that makes rows and columns alike in size (Parlett and Reinsch, 1969). */
function balance(a: readonly (readonly number[])[]): number[][] {
  const m = a.map((row) => [...row]);
  const n = m.length;
  for (let round = 0, changed = true; changed && round < 50; round++) {
    changed = false;
    for (let i = 0; i < n; i++) {
      let row = 0;
      let column = 0;
      for (let j = 0; j < n; j++) {
        if (j === i) continue;
        row += Math.abs(m[i][j]);
        column += Math.abs(m[j][i]);
      }
      if (row === 0 || column === 0) continue;
      const factor = 2 ** Math.round(Math.log2(row / column) / 2);
      if (factor === 1 || column * factor + row / factor >= 0.95 * (column + row)) continue;
      changed = true;
      for (let j = 0; j < n; j++) {
        m[i][j] /= factor;
        m[j][i] *= factor;
      }
    }
  }
  return m;
}
