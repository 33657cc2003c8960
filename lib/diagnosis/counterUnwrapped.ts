import { median } from "../numeric/series/median.js";

/** Counts that ran over the end of a counter, put back together: jumps of one fixed size, far beyond what lies between
 * other samples. */
export function counterUnwrapped(angle: Float64Array): { angle: Float64Array; wrap?: number } {
  const steps = angle.subarray(1).map((v, i) => Math.abs(v - angle[i]));
  // The turn itself: the largest step but for a few; a counter wraps seldom.
  const few = Math.max(1, Math.floor(angle.length / 50));
  const usual = steps.toSorted().at(-1 - few) ?? 0;
  const isBig = (step: number): boolean => step > 20 * usual && step > 0.2;
  const big = [...steps.keys()].filter((i) => isBig(steps[i]));
  if (big.length === 0 || usual === 0) return { angle };
  const size = median(big.map((i) => steps[i]));
  if (big.some((i) => Math.abs(steps[i] - size) > 0.1 * size + 2 * usual)) return { angle };
  const lowest = angle.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const highest = angle.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  // A counter wraps from one end of its range to the other; a burst of noise does not.
  if (size < 0.9 * (highest - lowest)) return { angle };
  // The shaft moved on within that sample as well, about as far as in the samples beside it; there is none before the
  // first step nor behind the last.
  const beside = median(big.flatMap((i) => [steps[i - 1], steps[i + 1]]).filter((v) => v < 0.5 * size));
  const whole = size + (beside || 0);
  const turns = whole / (2 * Math.PI);
  const wrap = Math.abs(turns - Math.round(turns)) < 0.02 ? 2 * Math.PI * Math.round(turns) : whole;
  let add = 0;
  const out = angle.map((v, i) => {
    if (isBig(steps[i - 1])) add -= Math.sign(v - angle[i - 1]) * wrap;
    return v + add;
  });
  return { angle: out, wrap };
}
