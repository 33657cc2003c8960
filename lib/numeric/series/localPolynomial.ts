import { householderQr } from "../linear/orthogonal.js";

/** A local polynomial at every sample. */
export interface LocalPolynomial {
  readonly value: Float64Array;
  readonly slope: Float64Array;
  /** Standard deviation of the smoothed value per unit of noise. */
  readonly share: Float64Array;
}

/** Local polynomial of the given degree over 2 half + 1 samples (fewer centred at the ends). Half 0 leaves the samples. */
export function localPolynomial(
  t: Float64Array,
  y: Float64Array,
  half: number,
  degree: number,
): LocalPolynomial {
  const m = y.length;
  const value = new Float64Array(m);
  const slope = new Float64Array(m);
  const share = new Float64Array(m).fill(1);
  if (half < 1 || m < 2 * half + 1) {
    value.set(y);
    for (let i = 0; i < m; i++) {
      const a = Math.max(0, i - 1);
      const b = Math.min(m - 1, i + 1);
      slope[i] = t[b] > t[a] ? (y[b] - y[a]) / (t[b] - t[a]) : 0;
    }
    return { value, slope, share };
  }
  const rows = 2 * half + 1;
  let kernel: Kernel | undefined;
  for (let i = 0; i < m; i++) {
    const from = Math.min(Math.max(0, i - half), m - rows);
    // Evenly spaced samples share their weights.
    if (kernel === undefined || !kernel.fits(t, from, i)) kernel = kernelOf(t, from, i, rows, degree);
    let [v, s] = [0, 0];
    for (let k = 0; k < rows; k++) {
      v += kernel.value[k] * y[from + k];
      s += kernel.slope[k] * y[from + k];
    }
    value[i] = v;
    slope[i] = s;
    share[i] = kernel.share;
  }
  return { value, slope, share };
}

/** Weights that make the value and the slope of a local polynomial at one sample. */
interface Kernel {
  readonly value: Float64Array;
  readonly slope: Float64Array;
  readonly share: number;
  /** Whether the samples from `from` on lie about sample `i` as those it was made for. */
  readonly fits: (t: Float64Array, from: number, i: number) => boolean;
}

function kernelOf(t: Float64Array, first: number, at: number, rows: number, degree: number): Kernel {
  const n = degree + 1;
  const span = Math.max(t[first + rows - 1] - t[first], 1e-300);
  const places = Float64Array.from({ length: rows }, (_, k) => t[first + k] - t[at]);
  const powers = new Float64Array(rows * n);
  for (let k = 0; k < rows; k++) {
    let power = 1;
    for (let j = 0; j < n; j++) {
      powers[j * rows + k] = power;
      power *= places[k] / span;
    }
  }
  const a = powers.slice();
  householderQr(a, new Float64Array(rows), rows, n);
  const r = (i: number, j: number): number => a[j * rows + i];
  // Columns of the inverse of RᵀR, one after another: forward, then back.
  const weights = (unit: number): { weights: Float64Array; length: number } => {
    const f = new Float64Array(n);
    let length = 0;
    for (let j = 0; j < n; j++) {
      let sum = j === unit ? 1 : 0;
      for (let l = 0; l < j; l++) sum -= r(l, j) * f[l];
      f[j] = r(j, j) !== 0 ? sum / r(j, j) : 0;
      length += f[j] * f[j];
    }
    for (let j = n - 1; j >= 0; j--) {
      for (let l = j + 1; l < n; l++) f[j] -= r(j, l) * f[l];
      f[j] = r(j, j) !== 0 ? f[j] / r(j, j) : 0;
    }
    const out = new Float64Array(rows);
    for (let j = 0; j < n; j++) for (let k = 0; k < rows; k++) out[k] += f[j] * powers[j * rows + k];
    return { weights: out, length };
  };
  const value = weights(0);
  const near = 1e-9 * span;
  return {
    value: value.weights,
    slope: weights(1).weights.map((v) => v / span),
    // Variance of the value: squared length of the solution of Rᵀ w = e1.
    share: Math.sqrt(value.length),
    fits: (times, from, i) => {
      for (let k = 0; k < rows; k++)
        if (!(Math.abs(times[from + k] - times[i] - places[k]) <= near)) return false;
      return true;
    },
  };
}
