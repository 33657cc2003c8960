import { studentT } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import { kruskalWallis, welchTest } from "./anova.js";
import { benjaminiHochberg, holm } from "./multiplicity.js";
import type { TestResult } from "./normality.js";
import { meanOf, squaresAbout } from "./sample.js";

/** Whether groups (batches, rigs, dates) differ in one constant. */
export interface ConstantDifference {
  readonly constant: string;
  /** Welch's test of equal means. */
  readonly welch: TestResult;
  /** Rank test of the same, for comparison. */
  readonly ranks: TestResult;
  /** p of Welch's test adjusted over all constants: Holm, and Benjamini-Hochberg. */
  readonly holm: number;
  readonly falseDiscovery: number;
  /** Each group against all the others. */
  readonly groups: readonly GroupAgainstRest[];
}

/** One group against all the others. */
export interface GroupAgainstRest {
  readonly group: string;
  readonly count: number;
  readonly mean: number;
  /** Mean of the group less mean of the rest, Welch interval (not adjusted). */
  readonly difference: Estimate;
  readonly p: number;
  /** Adjusted by Holm over every group and every constant. */
  readonly holm: number;
  /** True when `holm` is below the chosen level. */
  readonly differs: boolean;
}

/**
 * Compares groups in several constants at once, with multiplicity handled: Welch's test for each constant, adjusted over the
 * constants, and each group against the rest, adjusted by Holm over all of them.
 *
 * @param constants - columns of equal length; values that are not finite are left out
 * @param groups - group of each row
 * @param alpha - chance of any false alarm in the whole table
 * @example
 * const inertia = { values: [1.0, 1.1, 0.9, 2.0, 2.1, 1.9], unit: "kg.m2" };
 * groupDifferences({ inertia }, ["B01", "B01", "B01", "B02", "B02", "B02"])[0].groups[1].differs; // => true
 */
export function groupDifferences(
  constants: Readonly<Record<string, { readonly values: ArrayLike<number>; readonly unit: string }>>,
  groups: readonly string[],
  alpha = 0.01,
): ConstantDifference[] {
  const names = [...new Set(groups)].sort();
  const found: Omit<ConstantDifference, "holm" | "falseDiscovery">[] = [];
  for (const [constant, { values, unit }] of Object.entries(constants)) {
    const split = names.map((name) =>
      Float64Array.from(
        groups.flatMap((group, i) => (group === name && Number.isFinite(values[i]) ? [values[i]] : [])),
      ),
    );
    const usable = names.map((name, i) => ({ name, values: split[i] })).filter((g) => g.values.length > 1);
    if (usable.length < 2 || usable.every((g) => squaresAbout(g.values) === 0)) continue;
    const lists = usable.map((g) => g.values);
    found.push({
      constant,
      welch: welchTest(lists),
      ranks: kruskalWallis(lists),
      groups: usable.map(({ name, values: own }, i) => {
        const others = Float64Array.from(lists.filter((_, j) => j !== i).flatMap((list) => Array.from(list)));
        return { group: name, count: own.length, mean: meanOf(own), ...welchPair(own, others, unit) };
      }),
    });
  }
  const overall = found.map((f) => f.welch.p);
  const [strict, discovery] = [holm(overall), benjaminiHochberg(overall)];
  const each = holm(found.flatMap((f) => f.groups.map((g) => g.p)));
  let at = 0;
  return found.map((f, i) => ({
    ...f,
    holm: strict[i],
    falseDiscovery: discovery[i],
    groups: f.groups.map((g) => {
      const adjusted = each[at++];
      return { ...g, holm: adjusted, differs: adjusted < alpha };
    }),
  }));
}

/** Welch's two-sample t test of a against b. */
function welchPair(
  a: Float64Array,
  b: Float64Array,
  unit: string,
): { difference: Estimate; p: number; holm: number; differs: boolean } {
  const va = squaresAbout(a) / (a.length - 1) / a.length;
  const vb = squaresAbout(b) / (b.length - 1) / b.length;
  const value = meanOf(a) - meanOf(b);
  const error = Math.sqrt(va + vb);
  const df = (va + vb) ** 2 / (va ** 2 / (a.length - 1) + vb ** 2 / (b.length - 1));
  const half = studentT.quantile(0.975, df) * error;
  return {
    difference: {
      value,
      low: value - half,
      high: value + half,
      unit,
      level: 0.95,
      samples: a.length + b.length,
      method: "difference of means, Welch interval",
    },
    p: error > 0 ? 2 * studentT.upper(Math.abs(value / error), df) : 1,
    holm: 1,
    differs: false,
  };
}
