import { chiSquare } from "../../numeric/distributions/distributions.js";
import { halving } from "../../numeric/optimise/halving.js";
import type { Estimate } from "../../units/estimate.js";
import { holm } from "../population/multiplicity.js";
import { GroupChances, type WeibullOf } from "./groupChances.js";
import { failureCount, isUndetermined, type Life, type Undetermined, unitCount } from "./lifeData.js";

/** One group's life against that of the others that do not differ. */
export interface GroupLife {
  readonly group: string;
  readonly units: number;
  readonly failures: number;
  /** Life of the group over life of the others (same temperature), those apart that differ themselves. */
  readonly ratio: Estimate;
  /** Likelihood-ratio p beside the groups that differ, with the small-sample factor of `GroupChances`, adjusted by Holm
   * over the comparisons; two groups make one comparison, seen from both sides. */
  readonly p: number;
}

/** A group in which nothing has failed: how much it has run, and what that says. */
export interface GroupWithoutFailure {
  readonly group: string;
  readonly units: number;
  /** Use of all its units together. */
  readonly use: number;
  /** Failures that the model of the others lets expect in that use (its cumulative hazard). */
  readonly expected: number;
  /** Likelihood-ratio p that it lives as the others, adjusted as for the groups with failures. */
  readonly p: number;
  /** Life of the group over life of the others: a lower bound; the upper end is open. `Undetermined` when the others
   * have no model. */
  readonly ratio: Estimate | Undetermined;
}

/** The groups of a table: each with failures against the others, those without any with their bound, and which
 * differ. */
export interface ComparedGroups {
  /** Each group with failures, most different first. */
  readonly groups: readonly GroupLife[];
  readonly withoutFailure: readonly GroupWithoutFailure[];
  /** Groups that differ, in the order in which they were found. */
  readonly differing: readonly string[];
}

/**
 * Compares the lives of groups. The one that differs most is taken out first and the others are then held against what
 * is left, so that one odd group makes no other look odd; a group in which nothing has failed takes part like any
 * other.
 *
 * @param covariates - what is taken into account beside the groups, as `weibull` has it
 * @param tables - over how many such comparisons the chances are adjusted as well; 1 when absent
 */
export function compareGroups(
  lives: readonly Life[],
  groups: readonly string[],
  weibull: WeibullOf,
  {
    level,
    covariates,
    tables = 1,
  }: {
    readonly level: number;
    readonly covariates: (life: Life) => readonly number[];
    readonly tables?: number;
  },
): ComparedGroups {
  if (groups.length < 2 || failureCount(lives) === 0)
    return { groups: [], withoutFailure: [], differing: [] };
  const law = new GroupChances(lives, groups.length, weibull, covariates);
  const differing = differingGroups(groups, law, 0.01 / tables);
  const chances = chancesOf(groups, differing, law, tables);
  return {
    groups: groups
      .flatMap((group) => againstOthers(lives, group, differing, { weibull, chances, law, level }))
      .sort((a, b) => a.p - b.p || (a.group < b.group ? -1 : 1)),
    withoutFailure: groups.flatMap((group) => {
      const own = lives.filter((life) => life.group === group);
      if (failureCount(own) > 0) return [];
      const reference = lives.filter((l) => l.group !== group && !differing.includes(l.group ?? ""));
      const rest = failureCount(reference) > 0 ? reference : lives.filter((l) => l.group !== group);
      const use = own.reduce((sum, life) => sum + (life.count ?? 1) * (life.after - (life.from ?? 0)), 0);
      const factor = law.factor(group, differing);
      const bound = boundOf(own, rest, group, { level, factor, weibull, covariates });
      return [{ group, units: unitCount(own), use, p: chances.get(group) ?? Number.NaN, ...bound }];
    }),
    differing,
  };
}

const failedIn = (lives: readonly Life[], group: string) =>
  failureCount(lives.filter((life) => life.group === group));

/** The lives that a model holds beside which some groups differ, and the groups that are its covariates: where nothing
 * has failed there is no life to fit, so such a group that differs leaves the model. */
export function modelledBeside(
  lives: readonly Life[],
  { withoutFailure, differing }: ComparedGroups,
): { readonly modelled: readonly Life[]; readonly beside: readonly string[] } {
  const lasting = withoutFailure.map((g) => g.group).filter((g) => differing.includes(g));
  return {
    modelled: lives.filter((life) => !lasting.includes(life.group ?? "")),
    beside: differing.filter((g) => !lasting.includes(g)),
  };
}

/** Groups that differ, each time the one that does so most, as long as its chance, times the number of comparisons,
 * is below `alpha`. */
function differingGroups(groups: readonly string[], law: GroupChances, alpha: number): string[] {
  const comparisons = groups.length === 2 ? 1 : groups.length;
  const differing: string[] = [];
  // Of all groups one at least is what the others are held against.
  while (differing.length < groups.length - 1) {
    let [least, farthest] = [alpha / comparisons, ""];
    for (const group of groups) {
      if (differing.includes(group)) continue;
      const p = law.chance(group, differing);
      if (p < least) [least, farthest] = [p, group];
    }
    if (farthest === "") break;
    differing.push(farthest);
  }
  return differing;
}

/** Adjusted chances of all groups. */
function chancesOf(
  groups: readonly string[],
  differing: readonly string[],
  law: GroupChances,
  tables: number,
): Map<string, number> {
  const found = groups.flatMap((group): [string, number][] => {
    // What is left alone when all others differ is seen from the other side, as of two groups.
    const alone = differing.length === groups.length - 1 && !differing.includes(group);
    const p = alone && groups.length > 2 ? Number.NaN : law.chance(group, alone ? [] : differing);
    return Number.isNaN(p) ? [] : [[group, p]];
  });
  const adjusted = groups.length === 2 ? found.map(([, p]) => p) : holm(found.map(([, p]) => p));
  return new Map(found.map(([group], i) => [group, Math.min(1, tables * adjusted[i])]));
}

/** A group with failures against those that do not differ; nothing when there is no chance for it. */
function againstOthers(
  lives: readonly Life[],
  group: string,
  differing: readonly string[],
  {
    weibull,
    chances,
    law,
    level,
  }: {
    readonly weibull: WeibullOf;
    readonly chances: ReadonlyMap<string, number>;
    readonly law: GroupChances;
    readonly level: number;
  },
): GroupLife[] {
  const own = lives.filter((life) => life.group === group);
  const p = chances.get(group);
  if (failureCount(own) === 0 || p === undefined) return [];
  const alone = lives.every((life) => life.group === group || differing.includes(life.group ?? ""));
  const others = alone ? [] : differing.filter((g) => g !== group);
  const lasting = others.filter((g) => failedIn(lives, g) === 0);
  const model = weibull(
    lives.filter((life) => !lasting.includes(life.group ?? "")),
    [...others.filter((g) => !lasting.includes(g)), group],
    "last",
    // The small-sample factor of the chance widens the interval as well.
    chiSquare.cdf(chiSquare.quantile(level, 1) * law.factor(group, others), 1),
  );
  if (isUndetermined(model)) return [];
  const slope = model.coefficients[model.coefficients.length - 1];
  const ratio: Estimate = {
    ...slope,
    value: Math.exp(slope.value),
    low: Math.exp(slope.low),
    high: Math.exp(slope.high),
    level,
    method: `life of ${group} over life of the others, Weibull model, profile interval`,
  };
  return [{ group, units: unitCount(own), failures: failureCount(own), ratio, p }];
}

/** The least ratio of lives that the group's running without failure still allows, by the profile likelihood. */
function boundOf(
  own: readonly Life[],
  rest: readonly Life[],
  group: string,
  {
    level,
    factor,
    weibull,
    covariates,
  }: {
    readonly level: number;
    readonly factor: number;
    readonly weibull: WeibullOf;
    readonly covariates: (life: Life) => readonly number[];
  },
): Pick<GroupWithoutFailure, "expected" | "ratio"> {
  const others = weibull(rest, [], "none");
  if (isUndetermined(others)) return { expected: Number.NaN, ratio: others };
  // A group that never fails adds nothing to the likelihood: that is its highest value.
  const drop = (factor * chiSquare.quantile(2 * level - 1, 1)) / 2;
  const short = (ratio: number) => {
    const moved = own.map((life) => ({
      ...life,
      after: life.after / ratio,
      ...(life.from === undefined ? {} : { from: life.from / ratio }),
    }));
    const both = weibull([...rest, ...moved], [], "none");
    return isUndetermined(both) ? Number.POSITIVE_INFINITY : others.logLikelihood - both.logLikelihood;
  };
  const expected = own.reduce((sum, life) => {
    const x = covariates(life);
    const hazard = (time: number) => (time > 0 ? -Math.log(others.survivalAt(time, x)) : 0);
    return sum + (life.count ?? 1) * (hazard(life.after) - hazard(life.from ?? 0));
  }, 0);
  let [low, high] = [1e-3, 1];
  while (short(high) > drop && high < 1e4) [low, high] = [high, high * 2];
  if (high === 1) while (short(low) < drop && low > 1e-9) low /= 10;
  // Fourteen halvings of three decades leave less than a thousandth.
  const [, bound] = halving(Math.log(low), Math.log(high), (x) => short(Math.exp(x)) > drop, 14);
  return {
    expected,
    ratio: {
      value: Number.POSITIVE_INFINITY,
      low: Math.exp(bound),
      high: Number.POSITIVE_INFINITY,
      unit: "1",
      level,
      samples: unitCount(own) + unitCount(rest),
      method: `life of ${group}, of which none has failed, over life of the others: one-sided lower bound, Weibull model, profile likelihood`,
    },
  };
}
