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
  const window = roomFor(rows, degree + 1);
  const weights = { value: new Float64Array(rows), slope: new Float64Array(rows) };
  let made = -1;
  let place = Number.NaN;
  let own = 1;
  for (let i = 0; i < m; i++) {
    const from = Math.min(Math.max(0, i - half), m - rows);
    // Evenly spaced samples share their window; at the ends it stands still.
    if (made < 0 || (from !== made && !alike(window, t, from))) {
      fillWindow(window, t, from);
      place = Number.NaN;
    }
    made = from;
    const u = (t[i] - t[from + half]) / window.span;
    if (u !== place) own = weigh(window, u, weights);
    place = u;
    let v = 0;
    let s = 0;
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
  span: number;
  readonly places: Float64Array;
  /** For each coefficient the weights of the samples. */
  readonly coefficients: readonly Float64Array[];
  /** Inverse of the normal matrix. */
  readonly inverse: readonly Float64Array[];
  /** Powers of the places, and room to factor them, column by column. */
  readonly powers: Float64Array;
  readonly factored: Float64Array;
}

/** A window of so many samples and coefficients, to be filled again and again: beside a gap every sample has its
 * own. */
function roomFor(rows: number, n: number): Window {
  return {
    span: 1,
    places: new Float64Array(rows),
    coefficients: Array.from({ length: n }, () => new Float64Array(rows)),
    inverse: Array.from({ length: n }, () => new Float64Array(n)),
    powers: new Float64Array(rows * n),
    factored: new Float64Array(rows * n),
  };
}

/** Whether the samples from `from` on lie about their middle as those of the window do, but for rounding. */
function alike({ span, places }: Window, t: Float64Array, from: number): boolean {
  const middle = t[from + (places.length >> 1)];
  for (let k = 0; k < places.length; k++)
    if (!(Math.abs(t[from + k] - middle - places[k]) <= 1e-9 * span)) return false;
  return true;
}

function fillWindow(window: Window, t: Float64Array, from: number): void {
  const { places, powers, factored: a, inverse, coefficients } = window;
  const [rows, n] = [places.length, inverse.length];
  const span = Math.max(t[from + rows - 1] - t[from], 1e-300);
  window.span = span;
  const middle = t[from + (rows >> 1)];
  for (let k = 0; k < rows; k++) {
    places[k] = t[from + k] - middle;
    for (let j = 0; j < n; j++) powers[j * rows + k] = power(places[k] / span, j);
  }
  a.set(powers);
  householderQr(a, undefined, rows, n);
  // Columns of the inverse of RᵀR, one after another: forward, then back.
  for (let unit = 0; unit < n; unit++) {
    const f = inverse[unit];
    for (let j = 0; j < n; j++) {
      let sum = j === unit ? 1 : 0;
      for (let l = 0; l < j; l++) sum -= a[j * rows + l] * f[l];
      f[j] = a[j * rows + j] !== 0 ? sum / a[j * rows + j] : 0;
    }
    for (let j = n - 1; j >= 0; j--) {
      for (let l = j + 1; l < n; l++) f[j] -= a[l * rows + j] * f[l];
      f[j] = a[j * rows + j] !== 0 ? f[j] / a[j * rows + j] : 0;
    }
    const out = coefficients[unit].fill(0);
    for (let j = 0; j < n; j++) {
      const [factor, first] = [f[j], j * rows];
      for (let k = 0; k < rows; k++) out[k] += factor * powers[first + k];
    }
  }
}

/** The low powers without the general function, which is slow. */
function power(x: number, j: number): number {
  if (j === 0) return 1;
  if (j === 1) return x;
  return j === 2 ? x * x : x ** j;
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
  const [count, rows] = [coefficients.length, value.length];
  for (let j = 0; j < count; j++) {
    const weights = coefficients[j];
    const [raised, change] = [power(u, j), j === 0 ? 0 : (j * power(u, j - 1)) / span];
    for (let k = 0; k < rows; k++) {
      value[k] += raised * weights[k];
      slope[k] += change * weights[k];
    }
    for (let l = 0; l < count; l++) variance += raised * inverse[j][l] * power(u, l);
  }
  return Math.sqrt(Math.max(0, variance));
}
