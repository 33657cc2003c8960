/**
 * Median of the finite values; NaN when there are none. The input is not changed.
 *
 * @example
 * median(Float64Array.of(3, 1, 2)); // => 2
 */
export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}

/**
 * Median of values that are all finite and may be put in another order; NaN when there are none.
 *
 * @example
 * medianInPlace(Float64Array.of(3, 1, 2)); // 2
 */
export function medianInPlace(values: Float64Array): number {
  return quantileInPlace(values, 0.5);
}

/**
 * The middle one of the finite values in their order, the upper of the two where their number is even, so that it is
 * one of them; NaN when there are none. The input is not changed.
 *
 * @example
 * upperMedian([4, 1, 3, 2]); // 3
 */
export function upperMedian(values: ArrayLike<number>): number {
  const kept = finite(values);
  return kept.length === 0 ? Number.NaN : orderStatisticInPlace(kept, kept.length >> 1);
}

/**
 * Quantile of the finite values by linear interpolation between order statistics (type 7 of Hyndman and Fan,
 * "Sample quantiles in statistical packages", The American Statistician 50, 1996); NaN when there are none.
 *
 * @param values in any order
 * @param share 0 to 1; 0.5 for the median
 * @example
 * quantile([1, 2, 3, 4], 0.25); // => 1.75
 */
export function quantile(values: ArrayLike<number>, share: number): number {
  return quantileInPlace(finite(values), share);
}

/** The same of finite values that may be put in another order. */
function quantileInPlace(kept: Float64Array, share: number): number {
  const n = kept.length;
  if (n === 0) return Number.NaN;
  const at = Math.min(Math.max(share, 0), 1) * (n - 1);
  const low = Math.floor(at);
  const first = orderStatisticInPlace(kept, low);
  if (low + 1 >= n || at === low) return first;
  let second = Number.POSITIVE_INFINITY;
  for (let i = low + 1; i < n; i += 1) if (kept[i] < second) second = kept[i];
  return first + (at - low) * (second - first);
}

/** Standard deviation of normal values over the median of their sizes (Rousseeuw and Croux, JASA 88, 1993). */
export const deviationPerMedian = 1.4826;

/**
 * Median of the absolute distances from the median, times 1.4826, so that it estimates the standard deviation of normal
 * noise and half the data may be anything (Rousseeuw and Croux, JASA 88, 1993, for the factor).
 *
 * @param values in any order; those that are not finite are left out
 * @example
 * robustScale([1, 2, 3, 4, 1000]); // => 1.4826
 */
export function robustScale(values: ArrayLike<number>): number {
  const kept = finite(values);
  const middle = medianInPlace(kept);
  for (let i = 0; i < kept.length; i += 1) kept[i] = Math.abs(kept[i] - middle);
  return deviationPerMedian * medianInPlace(kept);
}

/** Room that is used again and again: new memory for every median of a long column would cost more than the median. */
let room = new Float64Array(1024);
const mostRoom = 2 ** 20;

/** The finite values, in room that the next call uses again. */
function finite(values: ArrayLike<number>): Float64Array {
  let kept = room;
  if (values.length > room.length) {
    kept = new Float64Array(
      values.length <= mostRoom ? Math.min(mostRoom, 2 * values.length) : values.length,
    );
    if (values.length <= mostRoom) room = kept;
  }
  let n = 0;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v === 0) kept[n++] = v;
  }
  return kept.subarray(0, n);
}

/**
 * The value that would stand at index `k` if the values, all of them finite, were in rising order; puts them in another
 * order, after which no value behind `k` is smaller: the selection of Floyd and Rivest (Algorithm 489, Communications
 * of the ACM 18, 1975), which narrows a long list down by what it finds in a small part of it.
 *
 * @example
 * orderStatisticInPlace(Float64Array.of(3, 1, 2), 0); // => 1
 */
export function orderStatisticInPlace(values: Float64Array, k: number): number {
  select(values, k, 0, values.length - 1);
  return values[k];
}

/** Values from which on a part is looked at first. */
const longList = 600;

function select(values: Float64Array, k: number, from: number, to: number): void {
  let low = from;
  let high = to;
  while (low < high) {
    if (high - low > longList) {
      const n = high - low + 1;
      const at = k - low + 1;
      const log = Math.log(n);
      const part = 0.5 * Math.exp((2 * log) / 3);
      const aside = 0.5 * Math.sqrt((log * part * (n - part)) / n) * (at < n / 2 ? -1 : 1);
      const least = Math.max(low, Math.floor(k - (at * part) / n + aside));
      const most = Math.min(high, Math.floor(k + ((n - at) * part) / n + aside));
      select(values, k, least, most);
    }
    const pivot = values[k];
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i] < pivot) i += 1;
      while (values[j] > pivot) j -= 1;
      if (i <= j) {
        const t = values[i];
        values[i] = values[j];
        values[j] = t;
        i += 1;
        j -= 1;
      }
    }
    if (k <= j) high = j;
    else if (k >= i) low = i;
    else break;
  }
}
