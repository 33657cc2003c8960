import { chiSquare } from "../../numeric/distributions/distributions.js";
import { halving } from "../../numeric/optimise/halving.js";
import type { Estimate } from "../../units/estimate.js";
import { holm } from "../population/multiplicity.js";
import { failureCount, isUndetermined, type Life, type Undetermined, unitCount } from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";

/** One group's life against that of all others. */
export interface GroupLife {
  readonly group: string;
  readonly units: number;
  readonly failures: number;
  /** Life of the group over life of the others (same temperature). */
  readonly ratio: Estimate;
  /** Likelihood-ratio p, adjusted by Holm over the comparisons; two groups make one comparison, seen from both
   * sides. */
  readonly p: number;
}

/** A group in which nothing has failed: how much it has run, and what that says. */
export interface GroupWithoutFailure {
  readonly group: string;
  readonly units: number;
  /** Use of all its units together. */
  readonly use: number;
  /** Failures that the model of the others lets expect in that use. */
  readonly expected: number;
  /** Life of the group over life of the others: a lower bound; the upper end is open. `Undetermined` when the others
   * have no model. */
  readonly ratio: Estimate | Undetermined;
}

/** Fits a Weibull life to some lives with effects of some groups beside what is always taken into account. */
export type WeibullOf = (
  lives: readonly Life[],
  groups: readonly string[],
  intervals: "last" | "none",
) => LifeModel | Undetermined;

/** Each group that has failures against all the others, most different first. */
export function comparedGroups(
  lives: readonly Life[],
  groups: readonly string[],
  weibull: WeibullOf,
): GroupLife[] {
  const plain = weibull(lives, [], "none");
  if (groups.length < 2 || isUndetermined(plain)) return [];
  const compared = groups.flatMap((group) => {
    const own = lives.filter((life) => life.group === group);
    if (failureCount(own) === 0 || failureCount(own) === failureCount(lives)) return [];
    const model = weibull(lives, [group], "last");
    if (isUndetermined(model)) return [];
    const slope = model.coefficients[model.coefficients.length - 1];
    const ratio: Estimate = {
      ...slope,
      value: Math.exp(slope.value),
      low: Math.exp(slope.low),
      high: Math.exp(slope.high),
      method: `life of ${group} over life of the others, Weibull model, profile interval`,
    };
    const gain = Math.max(0, 2 * (model.logLikelihood - plain.logLikelihood));
    return [
      { group, units: unitCount(own), failures: failureCount(own), ratio, p: chiSquare.upper(gain, 1) },
    ];
  });
  const one = groups.length === 2 && compared.length === 2;
  const adjusted = one ? compared.map((c) => c.p) : holm(compared.map((c) => c.p));
  return compared
    .map((c, i) => ({ ...c, p: adjusted[i] }))
    .sort((a, b) => a.p - b.p || (a.group < b.group ? -1 : 1));
}

/** Groups that differ: the most different is taken out first; another counts only if it still differs then. */
export function differingGroups(
  lives: readonly Life[],
  ordered: readonly GroupLife[],
  groups: number,
  weibull: WeibullOf,
): string[] {
  const comparisons = groups === 2 ? 1 : groups;
  const differing: string[] = [];
  for (const { group, p } of ordered) {
    // Of two groups the second is the reference.
    if (p >= 0.01 || differing.length === groups - 1) break;
    const [without, withIt] = [
      weibull(lives, differing, "none"),
      weibull(lives, [...differing, group], "none"),
    ];
    if (isUndetermined(without) || isUndetermined(withIt)) continue;
    const gain = Math.max(0, 2 * (withIt.logLikelihood - without.logLikelihood));
    if (chiSquare.upper(gain, 1) * comparisons < 0.01) differing.push(group);
  }
  return differing;
}

/** Groups in which nothing has failed, each with the bound of its life against that of the others. */
export function groupsWithoutFailure(
  lives: readonly Life[],
  groups: readonly string[],
  level: number,
  weibull: WeibullOf,
): GroupWithoutFailure[] {
  return groups.flatMap((group) => {
    const own = lives.filter((life) => life.group === group);
    if (failureCount(own) > 0) return [];
    const rest = lives.filter((life) => life.group !== group);
    const use = own.reduce((sum, life) => sum + (life.count ?? 1) * (life.after - (life.from ?? 0)), 0);
    const { expected, ratio } = boundOf(own, rest, group, level, weibull);
    return [{ group, units: unitCount(own), use, expected, ratio }];
  });
}

/** The least ratio of lives that the group's running without failure still allows, by the profile likelihood. */
function boundOf(
  own: readonly Life[],
  rest: readonly Life[],
  group: string,
  level: number,
  weibull: WeibullOf,
): Pick<GroupWithoutFailure, "expected" | "ratio"> {
  const others = weibull(rest, [], "none");
  if (isUndetermined(others)) return { expected: Number.NaN, ratio: others };
  // A group that never fails adds nothing to the likelihood: that is its highest value.
  const drop = chiSquare.quantile(2 * level - 1, 1) / 2;
  const short = (ratio: number) => {
    const moved = own.map((life) => ({
      ...life,
      after: life.after / ratio,
      ...(life.from === undefined ? {} : { from: life.from / ratio }),
    }));
    const both = weibull([...rest, ...moved], [], "none");
    return isUndetermined(both) ? Number.POSITIVE_INFINITY : others.logLikelihood - both.logLikelihood;
  };
  const expected = short(1);
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
