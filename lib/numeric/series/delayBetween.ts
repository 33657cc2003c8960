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
  const scores: number[] = [];
  for (let lag = -furthest; lag <= furthest; lag += 1) {
    const { covariance: cov, ofEarlier: vx, ofLater: vy } = laggedSums(earlier, later, lag, furthest);
    scores.push(vx > 0 && vy > 0 ? (cov * cov) / (vx * vy) : 0);
  }
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
