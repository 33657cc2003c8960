import { mean, medianAbsoluteDeviation, quantileSorted, sumNthPowerDeviations } from "simple-statistics";
import { deviationPerMedian, median } from "../../numeric/series/median.js";

/** The finite values, as a fresh array (safe to sort in place). */
export function finite(values: ArrayLike<number>): Float64Array {
  return Float64Array.from(Array.from(values).filter(Number.isFinite));
}

const list = (values: ArrayLike<number>): number[] => (Array.isArray(values) ? values : Array.from(values));

/** Mean; NaN of nothing. */
export function meanOf(values: ArrayLike<number>): number {
  return values.length === 0 ? Number.NaN : mean(list(values));
}

/** Sum of squares about the mean; 0 of nothing. */
export function squaresAbout(values: ArrayLike<number>): number {
  return values.length === 0 ? 0 : sumNthPowerDeviations(list(values), 2);
}

/** Median of the finite values (not sorted beforehand); NaN of nothing. */
export function medianOf(values: ArrayLike<number>): number {
  return median(values);
}

/** Quantile of sorted values by linear interpolation (type 7 of Hyndman and Fan, 1996); NaN of nothing. */
export function quantileOf(sorted: ArrayLike<number>, p: number): number {
  return sorted.length === 0 ? Number.NaN : quantileSorted(list(sorted), p);
}

/** Median absolute deviation about the median, scaled to the deviation of a normal sample. */
export function madOf(values: ArrayLike<number>): number {
  return values.length === 0 ? Number.NaN : deviationPerMedian * medianAbsoluteDeviation(list(values));
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
