import { studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { shuffle } from "../../numeric/distributions/shuffle.js";
import type { Estimate } from "../../units/estimate.js";
import { kruskalWallis, welchTest } from "./anova.js";
import { benjaminiHochberg, holm } from "./multiplicity.js";
import type { TestResult } from "./normality.js";
import { finite, meanOf, squaresAbout } from "./sample.js";

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
  /** Chance of any such difference among alike groups, over all constants and groups, from exchanging the rows among
   * the groups. */
  readonly p: number;
  /** True when `p` is below the chosen level. */
  readonly different: boolean;
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
  /** Degrees of freedom of Welch's t. */
  readonly df: number;
  /** Welch's p adjusted by Holm over every group and every constant; with two groups, which give one comparison, over
   * the constants. */
  readonly holm: number;
  /** Chance of any such group among alike groups, over all groups and constants, from exchanging the rows among the
   * groups. */
  readonly chance: number;
  /** True when `chance` is below the chosen level. */
  readonly differs: boolean;
}

/** Times that the rows are exchanged: the least chance that can be told is one in 2,000. */
const exchanges = 1999;

/**
 * Compares groups in several constants at once. What differs is decided by exchanging the rows among the groups at
 * random, which holds the chance of any false alarm whatever the shape of the values and the sizes of the groups
 * (Westfall, P. H. and Young, S. S. (1993), Resampling-Based Multiple Testing), single groups against the rest and
 * constants as a whole together. Welch's test and the rank test stand beside it.
 *
 * @param constants - columns of equal length; values that are not finite are left out
 * @param groups - group of each row
 * @param alpha - chance of any false alarm in the whole table
 * @example
 * const inertia = { values: [1.0, 1.1, 0.9, 1.2, 0.8, 2.0, 2.1, 1.9, 2.2, 1.8], unit: "kg.m2" };
 * groupDifferences({ inertia }, [..."AAAAABBBBB"], 0.05)[0].different; // => true
 */
export function groupDifferences(
  constants: Readonly<Record<string, { readonly values: ArrayLike<number>; readonly unit: string }>>,
  groups: readonly string[],
  alpha = 0.01,
): ConstantDifference[] {
  const names = [...new Set(groups)].sort();
  const found = Object.entries(constants).flatMap(([constant, { values, unit }]) => {
    const split = names.map((name) =>
      Float64Array.from(
        groups.flatMap((group, i) => (group === name && Number.isFinite(values[i]) ? [values[i]] : [])),
      ),
    );
    const usable = names.map((name, i) => ({ name, values: split[i] })).filter((g) => g.values.length > 1);
    if (usable.length < 2 || usable.every((g) => squaresAbout(g.values) === 0)) return [];
    return [{ constant, unit, values, usable }];
  });
  const chances = exchanged(
    found.map((f) => f.values),
    found.map((f) => f.usable.map((g) => g.name)),
    groups,
  );
  const tables = found.map(({ constant, unit, usable }, c) => {
    const lists = usable.map((g) => g.values);
    return {
      constant,
      welch: welchTest(lists),
      ranks: kruskalWallis(lists),
      p: chances[c].whole,
      different: chances[c].whole < alpha,
      groups: usable.map(({ name, values: own }, i) => {
        const others = Float64Array.from(lists.filter((_, j) => j !== i).flatMap((list) => Array.from(list)));
        const chance = chances[c].groups[i];
        const pair = welchPair(own, others, unit);
        return {
          group: name,
          count: own.length,
          mean: meanOf(own),
          ...pair,
          chance,
          differs: chance < alpha,
        };
      }),
    };
  });
  const overall = tables.map((t) => t.welch.p);
  const [strict, discovery] = [holm(overall), benjaminiHochberg(overall)];
  // Two groups make one comparison, seen from both sides.
  const compared = tables.map((t) => (t.groups.length === 2 ? t.groups.slice(0, 1) : t.groups));
  const each = holm(compared.flatMap((list) => list.map((g) => g.p)));
  let at = 0;
  return tables.map((t, i) => {
    const adjusted = compared[i].map(() => each[at++]);
    return {
      ...t,
      holm: strict[i],
      falseDiscovery: discovery[i],
      groups: t.groups.map((g, k) => ({ ...g, holm: adjusted[Math.min(k, adjusted.length - 1)] })),
    };
  });
}

/**
 * For each constant and group the chance of any such finding when the rows are exchanged among the groups: the least
 * chance of all constants and groups, found again in every exchange.
 */
function exchanged(
  columns: readonly ArrayLike<number>[],
  usable: readonly (readonly string[])[],
  groups: readonly string[],
): { whole: number; groups: Float64Array }[] {
  const names = [...new Set(groups)].sort();
  const codes = Int32Array.from(groups, (g) => names.indexOf(g));
  const counted = usable.map((list) => Int32Array.from(list, (name) => names.indexOf(name)));
  const scaled = columns.map((values) => {
    const kept = finite(values);
    const middle = meanOf(kept);
    const size = Math.sqrt(squaresAbout(kept) / (kept.length - 1)) || 1;
    return Float64Array.from({ length: groups.length }, (_, i) => (values[i] - middle) / size);
  });
  const lookAt = scaled.map((z, c) => statisticsOf(z, codes, names.length, counted[c]));
  const statistics = () => lookAt.map((look) => look());
  const seen = statistics();
  const random = seededRandom(1);
  // The farthest single group over all constants, and each constant as a whole: as found, then in every exchange.
  const farthest = new Float64Array(exchanges + 1);
  const wholes = seen.map(() => new Float64Array(exchanges + 1));
  const note = (k: number, drawn: ReturnType<typeof statistics>) => {
    farthest[k] = drawn.reduce((m, s) => s.groups.reduce((x, t) => Math.max(x, t), m), 0);
    drawn.forEach((s, c) => {
      wholes[c][k] = s.whole;
    });
  };
  note(0, seen);
  for (let k = 1; k <= exchanges; k++) {
    shuffle(codes, random);
    note(k, statistics());
  }
  const ofFarthest = chanceIn(farthest);
  const ofWholes = wholes.map(chanceIn);
  const least = Float64Array.from(farthest, (t, k) =>
    ofWholes.reduce((p, chance, c) => Math.min(p, chance(wholes[c][k])), ofFarthest(t)),
  );
  const ofLeast = chanceIn(least.map((p) => -p));
  return seen.map((s, c) => ({
    whole: ofLeast(-ofWholes[c](s.whole)),
    groups: s.groups.map((t) => ofLeast(-ofFarthest(t))),
  }));
}

/** Part of the drawn values that are as large as one, or larger. */
function chanceIn(drawn: Float64Array): (value: number) => number {
  const sorted = drawn.slice().sort();
  return (value) => {
    const edge = value - 1e-9 * Math.abs(value);
    let [low, high] = [0, sorted.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (sorted[middle] < edge) low = middle + 1;
      else high = middle;
    }
    return Math.max(1, sorted.length - low) / sorted.length;
  };
}

/** Looks at groups of rows however these are exchanged among them: squares between the groups, and how far each group
 * lies from the rest, of values of mean 0 and deviation 1. */
function statisticsOf(
  z: Float64Array,
  codes: Int32Array,
  size: number,
  counted: Int32Array,
): () => { whole: number; groups: Float64Array } {
  // Rows without a value count with their group, but not for it.
  const missing = Int32Array.from(Array.from(z.keys()).filter((i) => Number.isNaN(z[i])));
  const values = z.map((v) => (Number.isNaN(v) ? 0 : v));
  const all = new Float64Array(size);
  for (const code of codes) all[code]++;
  const total = values.reduce((a, b) => a + b, 0);
  const n = z.length - missing.length;
  const sum = new Float64Array(size);
  const count = new Float64Array(size);
  return () => {
    sum.fill(0);
    for (let i = 0; i < values.length; i++) sum[codes[i]] += values[i];
    count.set(all);
    for (let k = 0; k < missing.length; k++) count[codes[missing[k]]]--;
    let whole = -(total * total) / n;
    const groups = new Float64Array(counted.length);
    for (let k = 0; k < counted.length; k++) {
      const g = counted[k];
      const rest = n - count[g];
      if (count[g] === 0 || rest === 0) continue;
      whole += (sum[g] * sum[g]) / count[g];
      groups[k] = Math.abs(sum[g] / count[g] - (total - sum[g]) / rest) / Math.sqrt(1 / count[g] + 1 / rest);
    }
    return { whole, groups };
  };
}

/** Welch's two-sample t test of a against b. */
function welchPair(
  a: Float64Array,
  b: Float64Array,
  unit: string,
): { difference: Estimate; p: number; df: number } {
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
    df,
  };
}
