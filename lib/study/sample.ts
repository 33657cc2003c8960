/** The finite values, as a fresh array (safe to sort in place). */
export function finite(values: ArrayLike<number>): Float64Array {
  return Float64Array.from(Array.from(values).filter(Number.isFinite));
}

/** Mean, by a shifted sum that keeps the digits of values far from zero. */
export function meanOf(values: ArrayLike<number>): number {
  const n = values.length;
  if (n === 0) return Number.NaN;
  const shift = values[0];
  let sum = 0;
  for (let i = 0; i < n; i++) sum += values[i] - shift;
  return shift + sum / n;
}

/** Sum of squares about the mean, two passes with the rounding of the mean taken out. */
export function squaresAbout(values: ArrayLike<number>, mean = meanOf(values)): number {
  let sum = 0;
  let drift = 0;
  for (let i = 0; i < values.length; i++) {
    const d = values[i] - mean;
    sum += d * d;
    drift += d;
  }
  return sum - (drift * drift) / values.length;
}

/** Median of values (not sorted beforehand). */
export function medianOf(values: ArrayLike<number>): number {
  return quantileOf(finite(values).sort(), 0.5);
}

/** Quantile of sorted values by linear interpolation (type 7 of Hyndman and Fan, 1996). */
export function quantileOf(sorted: ArrayLike<number>, p: number): number {
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  const at = (n - 1) * p;
  const below = Math.floor(at);
  const above = Math.min(n - 1, below + 1);
  return sorted[below] + (at - below) * (sorted[above] - sorted[below]);
}

/** Median absolute deviation about the median, scaled to the deviation of a normal sample. */
export function madOf(values: ArrayLike<number>): number {
  const middle = medianOf(values);
  return 1.482602218505602 * medianOf(Array.from(values, (v) => Math.abs(v - middle)));
}

/** Mid-ranks (1 for the smallest; ties share the mean of their ranks) and the sizes of the tied sets. */
export function ranksOf(values: ArrayLike<number>): { ranks: Float64Array; ties: number[] } {
  const n = values.length;
  const order = Array.from({ length: n }, (_, i) => i).sort((a, b) => values[a] - values[b]);
  const ranks = new Float64Array(n);
  const ties: number[] = [];
  for (let i = 0; i < n; ) {
    let j = i;
    while (j + 1 < n && values[order[j + 1]] === values[order[i]]) j++;
    for (let k = i; k <= j; k++) ranks[order[k]] = (i + j) / 2 + 1;
    if (j > i) ties.push(j - i + 1);
    i = j + 1;
  }
  return { ranks, ties };
}
