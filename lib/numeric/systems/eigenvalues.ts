import type { Complex } from "./complex.js";

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
  return new DoubleShiftQr(hessenberg(balance(a))).eigenvalues().sort((p, q) => q.re - p.re || q.im - p.im);
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

/** Rounds without an eigenvalue found after which the iteration is given up. */
const mostRounds = 120;

/** The double-shift QR iteration on an upper Hessenberg matrix, which it uses up from its last row upwards. */
class DoubleShiftQr {
  private readonly norm: number;
  private readonly found: Complex[] = [];
  /** Last row that is left. */
  private last: number;
  /** What exceptional shifts have taken from the diagonal. */
  private shifted = 0;
  private rounds = 0;
  /** First column of the shifted square of the matrix, or what a reflection has to clear; up to a factor. */
  private p = 0;
  private q = 0;
  private r = 0;

  constructor(private readonly a: number[][]) {
    let norm = 0;
    a.forEach((row, i) => {
      row.forEach((v, j) => {
        if (j >= i - 1) norm += Math.abs(v);
      });
    });
    this.norm = norm;
    this.last = a.length - 1;
  }

  eigenvalues(): Complex[] {
    while (this.last >= 0) {
      const low = this.split();
      if (low === this.last) this.takeOne();
      else if (low === this.last - 1) this.takeTwo();
      else this.sweep(low);
    }
    return this.found;
  }

  /** First row of the last block: a small subdiagonal element splits the matrix. */
  private split(): number {
    const { a, norm } = this;
    let low = this.last;
    for (; low > 0; low--) {
      const around = Math.abs(a[low - 1][low - 1]) + Math.abs(a[low][low]) || norm;
      if (Math.abs(a[low][low - 1]) <= Number.EPSILON * around) {
        a[low][low - 1] = 0;
        break;
      }
    }
    return low;
  }

  private takeOne(): void {
    this.found.push({ re: this.a[this.last][this.last] + this.shifted, im: 0 });
    this.last--;
    this.rounds = 0;
  }

  private takeTwo(): void {
    const { a, last, found } = this;
    const x = a[last][last];
    const p = (a[last - 1][last - 1] - x) / 2;
    const w = a[last][last - 1] * a[last - 1][last];
    const q = p * p + w;
    const z = Math.sqrt(Math.abs(q));
    const middle = x + this.shifted;
    if (q >= 0) {
      const far = p + (p >= 0 ? z : -z);
      found.push({ re: middle + far, im: 0 }, { re: far === 0 ? middle : middle - w / far, im: 0 });
    } else {
      found.push({ re: middle + p, im: z }, { re: middle + p, im: -z });
    }
    this.last -= 2;
    this.rounds = 0;
  }

  /** One double step over the rows from `low` to the last. */
  private sweep(low: number): void {
    const { a, last } = this;
    if (this.rounds >= mostRounds) throw new RangeError("the eigenvalue iteration did not settle");
    const first = this.startOf(low);
    this.rounds++;
    for (let i = first + 2; i <= last; i++) {
      a[i][i - 2] = 0;
      if (i !== first + 2) a[i][i - 3] = 0;
    }
    for (let k = first; k < last; k++) {
      const scale = k === first ? 1 : this.columnBelow(k);
      const s = Math.hypot(this.p, this.q, this.r) * (this.p >= 0 ? 1 : -1);
      if (s === 0) continue;
      if (k === first) {
        if (low !== first) a[k][k - 1] = -a[k][k - 1];
      } else a[k][k - 1] = -s * scale;
      this.reflect(k, low, s);
    }
  }

  /** Sum and product of the two shifts: by the last two rows, every tenth round by exceptional ones. */
  private shifts(): readonly [x: number, y: number, w: number] {
    const { a, last } = this;
    const x = a[last][last];
    if (this.rounds % 10 !== 9) return [x, a[last - 1][last - 1], a[last][last - 1] * a[last - 1][last]];
    this.shifted += x;
    for (let i = 0; i <= last; i++) a[i][i] -= x;
    const s = Math.abs(a[last][last - 1]) + Math.abs(a[last - 1][last - 2]);
    return [0.75 * s, 0.75 * s, -0.4375 * s * s];
  }

  /** The row at which the double step may start; leaves the first column to reflect in p, q and r. */
  private startOf(low: number): number {
    const { a } = this;
    const [x, y, w] = this.shifts();
    for (let m = this.last - 2; ; m--) {
      const z = a[m][m];
      const dx = x - z;
      const dy = y - z;
      const p = (dx * dy - w) / a[m + 1][m] + a[m][m + 1];
      const q = a[m + 1][m + 1] - z - dx - dy;
      const r = a[m + 2][m + 1];
      const s = Math.abs(p) + Math.abs(q) + Math.abs(r);
      this.p = p / s;
      this.q = q / s;
      this.r = r / s;
      if (m === low) return m;
      const u = Math.abs(a[m][m - 1]) * (Math.abs(this.q) + Math.abs(this.r));
      const v = Math.abs(this.p) * (Math.abs(a[m - 1][m - 1]) + Math.abs(z) + Math.abs(a[m + 1][m + 1]));
      if (u <= Number.EPSILON * v) return m;
    }
  }

  /** Takes what the last reflection left below the subdiagonal into p, q and r, and returns its size. */
  private columnBelow(k: number): number {
    const { a } = this;
    this.p = a[k][k - 1];
    this.q = a[k + 1][k - 1];
    this.r = k !== this.last - 1 ? a[k + 2][k - 1] : 0;
    const scale = Math.abs(this.p) + Math.abs(this.q) + Math.abs(this.r);
    if (scale !== 0) {
      this.p /= scale;
      this.q /= scale;
      this.r /= scale;
    }
    return scale;
  }

  /** Householder reflection of rows and columns k to k + 2 that turns p, q, r of length s into one number. */
  private reflect(k: number, low: number, s: number): void {
    const { a, last } = this;
    const p = this.p + s;
    const fx = p / s;
    const fy = this.q / s;
    const fz = this.r / s;
    const q = this.q / p;
    const r = this.r / p;
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
