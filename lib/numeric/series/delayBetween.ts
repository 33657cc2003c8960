import { laggedSums } from "./laggedSums.js";

/** How far one trace lags behind another. */
export interface Delay {
  /** Samples by which `later` lags; negative when it leads. Fractions from a parabola through the three best lags. */
  readonly samples: number;
  /** Share of the variance of `later` that the shifted `earlier` explains, 0 to 1. */
  readonly explained: number;
  /** The same without any shift. */
  readonly unshifted: number;
}

/**
 * Delay between two traces of one quantity: the lag at which the straight-line fit of `later` on the shifted `earlier`
 * leaves the least residual. Undefined when neither varies or they have nothing in common (less than half explained).
 *
 * @param furthest largest lag tried, samples.
 * @example
 * const random = seededRandom(7);
 * const commanded = Float64Array.from({ length: 300 }, () => random.normal());
 * const logged = commanded.map((_, i) => commanded[Math.max(0, i - 4)]);
 * delayBetween(commanded, logged, 50)?.samples; // => 4.0
 */
export function delayBetween(
  earlier: Float64Array,
  later: Float64Array,
  furthest: number,
): Delay | undefined {
  const n = Math.min(earlier.length, later.length);
  if (n < 4 * furthest || n < 20) return undefined;
  const [a, b] = [centred(earlier, n), centred(later, n)];
  const scores = a && b ? scoresOf(a, b, furthest) : scoresWithGaps(earlier, later, furthest);
  let best = 0;
  for (let k = 1; k < scores.length; k += 1) if (scores[k] > scores[best]) best = k;
  if (!(scores[best] > 0.5)) return undefined;
  let shift = best - furthest;
  if (best > 0 && best < scores.length - 1) {
    const [a, b, c] = [scores[best - 1], scores[best], scores[best + 1]];
    const bend = a - 2 * b + c;
    if (bend < 0) shift += (0.5 * (a - c)) / bend;
  }
  return { samples: shift, explained: scores[best], unshifted: scores[furthest] };
}

/** Share of the variance explained at each lag from `-furthest` on, over the pairs without a missing value. */
function scoresWithGaps(earlier: Float64Array, later: Float64Array, furthest: number): Float64Array {
  return Float64Array.from({ length: 2 * furthest + 1 }, (_, k) => {
    const { covariance, ofEarlier, ofLater } = laggedSums(earlier, later, k - furthest, furthest);
    return explainedBy(covariance, ofEarlier, ofLater);
  });
}

const explainedBy = (covariance: number, ofEarlier: number, ofLater: number): number =>
  ofEarlier > 0 && ofLater > 0 ? (covariance * covariance) / (ofEarlier * ofLater) : 0;

/** The first values less their mean; undefined where one is missing. */
function centred(values: Float64Array, n: number): Float64Array | undefined {
  let sum = 0;
  for (let i = 0; i < n; i += 1) sum += values[i];
  if (sum - sum !== 0) return undefined;
  const mean = sum / n;
  const out = new Float64Array(n);
  for (let i = 0; i < n; i += 1) out[i] = values[i] - mean;
  return out;
}

/**
 * The same of traces about their means without gaps: sums and squares of the shifted rows differ from lag to lag by one
 * row at either end, and the products of four lags are summed in one pass.
 */
function scoresOf(earlier: Float64Array, later: Float64Array, furthest: number): Float64Array {
  const n = earlier.length;
  const count = n - 2 * furthest;
  const lags = 2 * furthest + 1;
  const products = new Float64Array(lags + 3);
  for (let k = 0; k < lags; k += 4) {
    let p = 0;
    let q = 0;
    let r = 0;
    let s = 0;
    // A larger lag is an earlier row; the last lags of a pass may be beyond the furthest, and are not looked at.
    const first = 2 * furthest - k;
    const back = Math.max(0, 3 - first);
    for (let i = back; i < count; i += 1) {
      const y = later[furthest + i];
      const at = first + i;
      p += y * earlier[at];
      q += y * earlier[at - 1];
      r += y * earlier[at - 2];
      s += y * earlier[at - 3];
    }
    for (let i = 0; i < back; i += 1) {
      const y = later[furthest + i];
      p += y * earlier[first + i];
      if (first + i >= 1) q += y * earlier[first + i - 1];
      if (first + i >= 2) r += y * earlier[first + i - 2];
    }
    products.set([p, q, r, s], k);
  }
  // What is carried from lag to lag is not known better than this.
  let rounding = 0;
  for (let i = 0; i < n; i += 1) rounding += 1e-12 * earlier[i] * earlier[i];
  let sy = 0;
  let syy = 0;
  let sx = 0;
  let sxx = 0;
  for (let i = furthest; i < furthest + count; i += 1) {
    sy += later[i];
    syy += later[i] * later[i];
  }
  for (let i = 2 * furthest; i < n; i += 1) {
    sx += earlier[i];
    sxx += earlier[i] * earlier[i];
  }
  const ofLater = syy - (sy * sy) / count;
  const scores = new Float64Array(lags);
  for (let k = 0; k < lags; k += 1) {
    // Rows of `earlier` at this lag begin at `from`.
    const from = 2 * furthest - k;
    if (k > 0) {
      const came = earlier[from];
      const left = earlier[from + count];
      sx += came - left;
      sxx += came * came - left * left;
    }
    const ofEarlier = sxx - (sx * sx) / count;
    if (ofEarlier > rounding) scores[k] = explainedBy(products[k] - (sx * sy) / count, ofEarlier, ofLater);
  }
  return scores;
}
