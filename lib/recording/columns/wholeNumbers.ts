import type { ColumnFacts } from "./columnFacts.js";
import { type Meaning, roleFacts } from "./roles.js";

/** Words of headings that say the values are counts of a converter or an encoder. */
const rawWords = new Set([
  "adc",
  "raw",
  "roh",
  "cnt",
  "cnts",
  "counts",
  "count",
  "ticks",
  "lsb",
  "zahler",
  "zaehler",
]);

/** True for a heading that says that the values are counts of a converter or an encoder. */
export function saysCounts(words: readonly string[]): boolean {
  return words.some((w) => rawWords.has(w));
}

/** Whole numbers that rest at the middle of a converter are its counts; so are those of a heading that says so. */
export function countScore({ numbers }: ColumnFacts, raw: boolean): number {
  if (numbers === undefined || numbers.count === 0) return raw ? 3 : 0;
  const middle =
    numbers.whole &&
    numbers.min >= 0 &&
    [128, 512, 2048, 8192, 32_768].some((m) => Math.abs(numbers.middle - m) < 0.1 * m && numbers.max < 2 * m);
  return (raw ? 3 : 0) + (middle ? 2.5 : 0);
}

/** Whole numbers speak for counts and whole milliseconds; fractions against counts. Commands are often whole in any
 * unit. */
export function wholeScore(column: ColumnFacts, role: Meaning, share: number): number {
  const { numbers } = column;
  if (numbers === undefined || numbers.count === 0) return 0;
  // A value that never changes may be a whole one by chance, and no count with a fraction.
  if (numbers.shape === "constant") return numbers.whole || share < 0.5 ? 0 : Math.log(1 - 0.95 * share);
  const set = numbers.shape === "held" || numbers.shape === "ramps";
  if ((roleFacts[role].side === "command" && set) || numbers.distinct < 6)
    return numbers.whole ? 0 : Math.log(1 - 0.9 * share);
  // One sample in a second or slower, in whole seconds: how rare such a step is counts elsewhere.
  if (role === "time" && numbers.whole && numbers.step >= 1 && share < 0.5) return Math.log(0.7);
  return Math.log(numbers.whole ? share : 1 - share);
}
