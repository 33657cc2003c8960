import { householderQr } from "../linear/orthogonal.js";

/** A local polynomial at every sample. */
export interface LocalPolynomial {
  readonly value: Float64Array;
  readonly slope: Float64Array;
  /** Standard deviation of the smoothed value per unit of noise. */
  readonly share: Float64Array;
}

/**
 * Local polynomial of the given degree over 2 half + 1 samples (fewer centred at the ends). Half 0 leaves the samples.
 */
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
  const weights = { value: new Float64Array(rows), slope: new Float64Array(rows) };
  let window: Window | undefined;
  let [made, place] = [-1, Number.NaN];
  let own = 1;
  for (let i = 0; i < m; i++) {
    const from = Math.min(Math.max(0, i - half), m - rows);
    // Evenly spaced samples share their window; at the ends it stands still.
    if (window === undefined || (from !== made && !alike(window, t, from)))
      [window, place] = [windowOf(t, from, rows, degree), Number.NaN];
    made = from;
    const u = (t[i] - t[from + half]) / window.span;
    if (u !== place) own = weigh(window, u, weights);
    place = u;
    let [v, s] = [0, 0];
    for (let k = 0; k < rows; k++) {
      v += weights.value[k] * y[from + k];
      s += weights.slope[k] * y[from + k];
    }
    value[i] = v;
    slope[i] = s;
    share[i] = own;
  }
  return { value, slope, share };
}

/** The samples of a window about its middle one, with what turns their values into the coefficients of a polynomial. */
interface Window {
  readonly span: number;
  readonly places: Float64Array;
  /** For each coefficient the weights of the samples. */
  readonly coefficients: readonly Float64Array[];
  /** Inverse of the normal matrix. */
  readonly inverse: readonly (readonly number[])[];
}

/** Whether the samples from `from` on lie about their middle as those of the window do, but for rounding. */
function alike({ span, places }: Window, t: Float64Array, from: number): boolean {
  const middle = t[from + (places.length >> 1)];
  for (let k = 0; k < places.length; k++)
    if (!(Math.abs(t[from + k] - middle - places[k]) <= 1e-9 * span)) return false;
  return true;
}

function windowOf(t: Float64Array, from: number, rows: number, degree: number): Window {
  const n = degree + 1;
  const span = Math.max(t[from + rows - 1] - t[from], 1e-300);
  const middle = t[from + (rows >> 1)];
  const places = Float64Array.from({ length: rows }, (_, k) => t[from + k] - middle);
  const powers = new Float64Array(rows * n);
  for (let k = 0; k < rows; k++) for (let j = 0; j < n; j++) powers[j * rows + k] = (places[k] / span) ** j;
  const a = powers.slice();
  householderQr(a, new Float64Array(rows), rows, n);
  // Columns of the inverse of RᵀR, one after another: forward, then back.
  const inverse = Array.from({ length: n }, (_, unit) => {
    const f = new Array<number>(n).fill(0);
    for (let j = 0; j < n; j++) {
      let sum = j === unit ? 1 : 0;
      for (let l = 0; l < j; l++) sum -= a[j * rows + l] * f[l];
      f[j] = a[j * rows + j] !== 0 ? sum / a[j * rows + j] : 0;
    }
    for (let j = n - 1; j >= 0; j--) {
      for (let l = j + 1; l < n; l++) f[j] -= a[l * rows + j] * f[l];
      f[j] = a[j * rows + j] !== 0 ? f[j] / a[j * rows + j] : 0;
    }
    return f;
  });
  const coefficients = inverse.map((f) => {
    const out = new Float64Array(rows);
    for (let j = 0; j < n; j++) for (let k = 0; k < rows; k++) out[k] += f[j] * powers[j * rows + k];
    return out;
  });
  return { span, places, coefficients, inverse };
}

/**
 * Weights of value and slope at a place of a window, in spans from its middle; returns the standard deviation of the
 * value per unit of noise.
 */
function weigh(
  { span, coefficients, inverse }: Window,
  u: number,
  into: { readonly value: Float64Array; readonly slope: Float64Array },
): number {
  const { value, slope } = into;
  value.fill(0);
  slope.fill(0);
  let variance = 0;
  coefficients.forEach((weights, j) => {
    const [power, change] = [u ** j, j === 0 ? 0 : (j * u ** (j - 1)) / span];
    for (let k = 0; k < value.length; k++) {
      value[k] += power * weights[k];
      slope[k] += change * weights[k];
    }
    inverse[j].forEach((v, l) => {
      variance += power * v * u ** l;
    });
  });
  return Math.sqrt(Math.max(0, variance));
}
