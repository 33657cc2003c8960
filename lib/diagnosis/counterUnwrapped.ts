import { median } from "../numeric/series/median.js";

/** Counts that ran over the end of a counter, put back together: jumps of one fixed size, far beyond what lies between
 * other samples. */
export function counterUnwrapped(angle: Float64Array): { angle: Float64Array; wrap?: number } {
  const n = angle.length;
  const steps = new Float64Array(Math.max(0, n - 1));
  for (let i = 1; i < n; i += 1) steps[i - 1] = Math.abs(angle[i] - angle[i - 1]);
  const sorted = steps.slice().sort();
  // The turn itself: the largest step but for a few; a counter wraps seldom.
  const few = Math.max(1, Math.floor(n / 50));
  const usual = sorted[Math.max(0, sorted.length - 1 - few)] ?? 0;
  const big = [...steps.keys()].filter((i) => steps[i] > 20 * usual && steps[i] > 0.2);
  if (big.length === 0 || usual === 0) return { angle };
  const size = median(big.map((i) => steps[i]));
  if (big.some((i) => Math.abs(steps[i] - size) > 0.1 * size + 2 * usual)) return { angle };
  const lowest = angle.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const highest = angle.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  // A counter wraps from one end of its range to the other; a burst of noise does not.
  if (size < 0.9 * (highest - lowest)) return { angle };
  // The shaft moved on within that sample as well, about as far as in the samples beside it.
  const beside = median(
    big.flatMap((i) => [steps[i - 1], steps[i + 1]].filter((v) => v !== undefined && v < 0.5 * size)),
  );
  const whole = size + (Number.isFinite(beside) ? beside : 0);
  const turns = whole / (2 * Math.PI);
  const wrap = Math.abs(turns - Math.round(turns)) < 0.02 ? 2 * Math.PI * Math.round(turns) : whole;
  const out = angle.slice();
  let add = 0;
  for (let i = 1; i < n; i += 1) {
    if (steps[i - 1] > 20 * usual && steps[i - 1] > 0.2) add -= Math.sign(angle[i] - angle[i - 1]) * wrap;
    out[i] = angle[i] + add;
  }
  return { angle: out, wrap };
}
