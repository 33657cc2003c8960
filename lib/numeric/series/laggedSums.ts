/** Sums of products about the mean of two traces, one of them shifted. */
export interface LaggedSums {
  /** Pairs without a missing value. */
  readonly count: number;
  readonly covariance: number;
  readonly ofEarlier: number;
  readonly ofLater: number;
}

/**
 * Sums of squares and products of `later` and of `earlier` shifted by `lag` samples, over the rows of `later` that lie
 * `margin` from either end: the same rows for every lag up to it, so that they compare.
 */
export function laggedSums(
  earlier: Float64Array,
  later: Float64Array,
  lag: number,
  margin: number,
): LaggedSums {
  let count = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let syy = 0;
  let sxy = 0;
  const n = Math.min(earlier.length, later.length);
  for (let i = margin; i < n - margin; i += 1) {
    const x = earlier[i - lag];
    const y = later[i];
    if (x - x !== 0 || y - y !== 0) continue;
    count += 1;
    sx += x;
    sy += y;
    sxx += x * x;
    syy += y * y;
    sxy += x * y;
  }
  return {
    count,
    covariance: sxy - (sx * sy) / count,
    ofEarlier: sxx - (sx * sx) / count,
    ofLater: syy - (sy * sy) / count,
  };
}
