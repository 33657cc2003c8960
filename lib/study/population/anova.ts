import { chiSquare, fRatio } from "../../numeric/distributions/distributions.js";
import type { TestResult } from "./normality.js";
import { meanOf, ranksOf, squaresAbout } from "./sample.js";

/** One-way analysis of variance. */
export interface OneWayAnova {
  readonly between: { readonly df: number; readonly squares: number; readonly meanSquare: number };
  readonly within: { readonly df: number; readonly squares: number; readonly meanSquare: number };
  readonly f: number;
  readonly p: number;
  /** Share of the squares that lies between groups. */
  readonly rSquared: number;
  /** Deviation within groups. */
  readonly residualDeviation: number;
}

/**
 * One-way analysis of variance of two or more groups.
 *
 * @param groups values of each group, all in one unit
 * @throws RangeError when there are fewer than two groups or no group has two values.
 * @example
 * const groups = [[9.8, 10.1, 10.0], [10.4, 10.6, 10.5], [10.0, 9.9, 10.2]];
 * oneWayAnova(groups).p; // => 0.0061
 */
export function oneWayAnova(groups: readonly ArrayLike<number>[]): OneWayAnova {
  const filled = groups.filter((group) => group.length > 0);
  const n = filled.reduce((sum, group) => sum + group.length, 0);
  const k = filled.length;
  if (k < 2 || n <= k)
    throw new RangeError(`an analysis of variance needs two groups with repeats, got ${k} with ${n} values`);
  // Everything is measured from one value, so that a large common offset costs no digits.
  const shift = filled[0][0];
  const means = filled.map((group) => meanOf(Array.from(group, (v) => v - shift)));
  const grand = filled.reduce((sum, group, i) => sum + group.length * means[i], 0) / n;
  let within = 0;
  let between = 0;
  filled.forEach((group, i) => {
    within += squaresAbout(Array.from(group, (v) => v - shift));
    between += group.length * (means[i] - grand) ** 2;
  });
  const df1 = k - 1;
  const df2 = n - k;
  const f = between / df1 / (within / df2);
  return {
    between: { df: df1, squares: between, meanSquare: between / df1 },
    within: { df: df2, squares: within, meanSquare: within / df2 },
    f,
    p: fRatio.upper(f, df1, df2),
    rSquared: between / (between + within),
    residualDeviation: Math.sqrt(within / df2),
  };
}

/**
 * Welch's test of equal means when the groups may spread differently (Welch, B. L. (1951), Biometrika 38, 330-336).
 * Groups of fewer than two values are left out.
 *
 * @param groups values of each group, all in one unit
 * @example
 * const groups = [[9.8, 10.1, 10.0], [10.4, 10.6, 10.5], [10.0, 9.9, 10.2]];
 * welchTest(groups).p; // => 0.0158
 */
export function welchTest(groups: readonly ArrayLike<number>[]): TestResult {
  const usable = groups.filter((group) => group.length > 1);
  const k = usable.length;
  if (k < 2) throw new RangeError("Welch's test needs two groups of two values or more");
  const means = usable.map((group) => meanOf(group));
  const weights = usable.map((group) => group.length / (squaresAbout(group) / (group.length - 1)));
  const total = weights.reduce((a, b) => a + b, 0);
  const grand = weights.reduce((sum, w, i) => sum + w * means[i], 0) / total;
  const lack = usable.reduce((sum, group, i) => sum + (1 - weights[i] / total) ** 2 / (group.length - 1), 0);
  const c = lack / (k * k - 1);
  const statistic =
    weights.reduce((sum, w, i) => sum + w * (means[i] - grand) ** 2, 0) / (k - 1) / (1 + 2 * (k - 2) * c);
  const df = [k - 1, 1 / (3 * c)];
  return { name: "Welch", statistic, p: fRatio.upper(statistic, df[0], df[1]), df };
}

/**
 * Kruskal and Wallis's rank test of equal location, corrected for ties.
 *
 * @param groups values of each group, all in one unit
 * @example
 * const groups = [[9.8, 10.1, 10.0], [10.4, 10.6, 10.5], [10.0, 9.9, 10.2]];
 * kruskalWallis(groups).p; // => 0.0628
 */
export function kruskalWallis(groups: readonly ArrayLike<number>[]): TestResult {
  const usable = groups.filter((group) => group.length > 0);
  const all = usable.flatMap((group) => Array.from(group));
  const n = all.length;
  const { ranks, ties } = ranksOf(all);
  let at = 0;
  let sum = 0;
  for (const group of usable) {
    let rankSum = 0;
    for (let i = 0; i < group.length; i++) rankSum += ranks[at++];
    sum += rankSum ** 2 / group.length;
  }
  const tie = 1 - ties.reduce((total, t) => total + (t ** 3 - t), 0) / (n ** 3 - n);
  const statistic = ((12 / (n * (n + 1))) * sum - 3 * (n + 1)) / tie;
  const df = usable.length - 1;
  return { name: "Kruskal-Wallis", statistic, p: chiSquare.upper(statistic, df), df: [df] };
}
