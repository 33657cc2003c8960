import { laggedSums } from "../../numeric/series/laggedSums.js";

/** Rows by which one column is moved against the other. */
const farthest = 24;
/** A better fit at another place than this is none: noise and rounding do as much. */
const clear = 2e-4;

/**
 * By how many rows the second column comes after the first: positive when the first leads, 0 where neither does, by the
 * place at which they correlate best. Undefined where there is too little to see.
 */
export function leadOf(first: Float64Array, second: Float64Array): number | undefined {
  const n = first.length;
  if (n < 6 * farthest) return undefined;
  const still = correlation(first, second, 0);
  if (Number.isNaN(still)) return undefined;
  let best = 0;
  let high = still;
  // From the nearest places on, as long as it gets better: twice beyond one that does not, since noise makes small
  // dips.
  for (const way of [1, -1]) {
    let worse = 0;
    for (let k = 1; k <= farthest && worse < 2; k += 1) {
      const r = correlation(first, second, way * k);
      if (r > high) [high, best, worse] = [r, way * k, 0];
      else worse += 1;
    }
  }
  return high - still > clear ? best : 0;
}

function correlation(first: Float64Array, second: Float64Array, lag: number): number {
  const { count, covariance, ofEarlier, ofLater } = laggedSums(second, first, -lag, farthest);
  const told = count > 4 * farthest && ofEarlier > 0 && ofLater > 0;
  return told ? covariance / Math.sqrt(ofEarlier * ofLater) : Number.NaN;
}
