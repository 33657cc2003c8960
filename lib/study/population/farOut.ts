import { gapTest, leastForGaps } from "./gapTest.js";
import { type Layered, matchedTails } from "./matchedTails.js";
import { gapRate, tailedChances, tailsOf } from "./tailedChances.js";

/** Which values of a sample lie too far out to belong to it. */
export interface FarOut {
  /** For each value, the chance of any one as far out in a sound sample; 1 where nothing speaks against it or it is not
   * finite. */
  readonly chance: Float64Array;
  /** The value beyond which one more, single value would be called out at a chance `p`, above and below. */
  readonly cut: (p: number) => { readonly upper: number; readonly lower: number };
}

/** Fewest values for which the chance of a gap is put right by the tails they show. */
const leastForRate = 13;
/** Part of the chance of a false alarm that tails may use up; the rest is for gaps. */
const tailPart = { matched: 0.5, averaged: 0.25 };

/**
 * Values that lie too far out, by two questions that share the chance of a false alarm: is the gap behind them too wide
 * for the gaps that follow it (`gapTest`), and do they lie farther out than tails as heavy as those of all let expect
 * (from 40 to 700 values `matchedTails`, above that `tailedChances`)? How often the gap test is wrong depends a little
 * on the tails; that is put right by how heavy they look.
 *
 * @param values - about zero, in deviations; those that are not finite take no part
 * @param options - `leverage`: mean part that a value has in what was taken off it; `layered`: which effects those
 * were;
 * `rate`: false alarms of the gap test among such values, over those among independent ones; `gapsOnly`: the first
 * question alone
 */
export function farOut(
  values: ArrayLike<number>,
  options: {
    readonly leverage?: number;
    readonly layered?: Layered;
    readonly rate?: number;
    readonly gapsOnly?: boolean;
  } = {},
): FarOut {
  const { leverage = 0, rate = 1, gapsOnly = false } = options;
  const chance = new Float64Array(values.length).fill(1);
  const rows = Array.from({ length: values.length }, (_, i) => i).filter((i) => Number.isFinite(values[i]));
  if (rows.length < leastForGaps)
    return { chance, cut: () => ({ upper: Number.POSITIVE_INFINITY, lower: Number.NEGATIVE_INFINITY }) };
  rows.sort((a, b) => values[a] - values[b] || a - b);
  const sorted = Float64Array.from(rows, (i) => values[i]);
  const gaps = gapTest(sorted);
  const matched = gapsOnly ? undefined : matchedTails(sorted, options.layered);
  const tails = gapsOnly ? undefined : (matched ?? tailedChances(sorted, leverage));
  const part = tails === undefined ? 0 : matched === undefined ? tailPart.averaged : tailPart.matched;
  const own = rate * (rows.length < leastForRate ? 1 : gapRate(tailsOf(sorted, leverage)));
  const ofGaps = 1 - part;
  // A value beyond several gaps has the least of their chances.
  const least = (list: readonly { readonly p: number }[], from: number) =>
    list.slice(from).reduce((p, gap) => Math.min(p, gap.p), 1);
  const callFrom = (list: readonly { readonly p: number }[], rowAt: (k: number) => number) => {
    // Farther in, the tails let expect more.
    let far = tails === undefined ? 1 : 0;
    for (let k = 0; k < list.length || far < 1; k++) {
      const row = rowAt(k);
      if (far < 1) far = (tails?.chance(values[row]) ?? 1) / part;
      if (far > 0.5) far = 1;
      chance[row] = Math.min(1, (own * least(list, k)) / ofGaps, far);
    }
  };
  callFrom(gaps.upper, (k) => rows[rows.length - 1 - k]);
  callFrom(gaps.lower, (k) => rows[k]);
  return {
    chance,
    cut: (p) => {
      const gap = gaps.cut(Math.min(1, (p * ofGaps) / own));
      const reach = tails?.cut(p * part) ?? Number.POSITIVE_INFINITY;
      return { lower: Math.max(gap.lower, -reach), upper: Math.min(gap.upper, reach) };
    },
  };
}
