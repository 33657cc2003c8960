import { chiSquare } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import { holm } from "../population/multiplicity.js";
import { inverseTemperature } from "./arrhenius.js";
import { kaplanMeier, type SurvivalCurve } from "./kaplanMeier.js";
import { failureCount, isUndetermined, type Life, type Undetermined, unitCount } from "./lifeData.js";
import { fitLife, type LifeDistribution, type LifeModel } from "./lifeModel.js";
import { type LogRankResult, logRank } from "./logRank.js";
import { type TurnbullCurve, turnbull } from "./turnbull.js";

/** One group's life against that of all others. */
export interface GroupLife {
  readonly group: string;
  readonly units: number;
  readonly failures: number;
  /** Life of the group over life of the others (same temperature). */
  readonly ratio: Estimate;
  /** Likelihood-ratio p, adjusted by Holm over the groups. */
  readonly p: number;
}

/** What a life table says. */
export interface LifeSummary {
  readonly units: number;
  readonly failures: number;
  readonly unit: string;
  /** Survival without a model: Kaplan-Meier, or Turnbull when some failures are known only to an interval. */
  readonly curve: SurvivalCurve | TurnbullCurve;
  /** Log-rank test over the groups; absent with intervals or a single group. */
  readonly logRank?: LogRankResult;
  /** The distribution with the higher likelihood, and by how much (twice the log likelihood). */
  readonly better:
    | { readonly distribution: LifeDistribution; readonly by: number; readonly text: string }
    | Undetermined;
  /**
   * The life model: temperature (where given) and the groups that differ are covariates, so that what is said holds for the
   * other groups at the reference temperature.
   */
  readonly model: LifeModel | Undetermined;
  /** Temperature, Celsius, at which `characteristic`, `b10` and `median` hold. */
  readonly referenceTemperature?: number;
  readonly characteristic?: Estimate;
  readonly b10?: Estimate;
  readonly median?: Estimate;
  /** Activation energy, eV, when there are temperatures. */
  readonly activationEnergy?: Estimate;
  /** Each group against the others, most different first. */
  readonly groups: readonly GroupLife[];
  /** Groups left out of the reference because they differ (p below 0.01). */
  readonly differing: readonly string[];
}

/**
 * Everything that a life table says: survival, the better of Weibull and log-normal, B10 and median with intervals, the effect of
 * temperature, and which groups differ.
 *
 * @param options - `unit` of the lives; `referenceTemperature` in degrees Celsius: the middle one of those in the table when absent
 * @example
 * lifeSummary(lives, { unit: "h" }).failures; // => 4
 */
export function lifeSummary(
  lives: readonly Life[],
  options: { readonly unit?: string; readonly referenceTemperature?: number } = {},
): LifeSummary {
  const { unit = "h" } = options;
  const intervals = lives.some((life) => life.by !== Number.POSITIVE_INFINITY && life.by !== life.after);
  const groups = [...new Set(lives.flatMap((life) => (life.group === undefined ? [] : [life.group])))].sort();
  const temperatures = lives.map((life) => life.temperature ?? Number.NaN);
  const known = [...new Set(temperatures.filter(Number.isFinite))].sort((a, b) => a - b);
  const withHeat = known.length > 1 && temperatures.every(Number.isFinite);
  const reference = options.referenceTemperature ?? known[Math.floor((known.length - 1) / 2)];
  const heat = (life: Life): number[] =>
    withHeat ? [inverseTemperature(life.temperature as number) - inverseTemperature(reference)] : [];
  const modelOf = (
    distribution: LifeDistribution,
    odd: readonly string[],
    intervals: "all" | "last" | "none" = "none",
  ) =>
    fitLife(distribution, lives, {
      unit,
      intervals,
      covariates: (life) => [...heat(life), ...odd.map((g) => (life.group === g ? 1 : 0))],
      names: [...(withHeat ? ["1/(kT)"] : []), ...odd.map((g) => `group ${g}`)],
    });
  const plain = { weibull: modelOf("weibull", []), "log-normal": modelOf("log-normal", []) };
  // Each group against the rest under the Weibull model, temperature taken into account.
  const compared =
    groups.length < 2 || isUndetermined(plain.weibull)
      ? []
      : groups.flatMap((group) => {
          const own = lives.filter((life) => life.group === group);
          const model = modelOf("weibull", [group], "last");
          if (failureCount(own) === 0 || isUndetermined(model) || isUndetermined(plain.weibull)) return [];
          const gain = 2 * (model.logLikelihood - plain.weibull.logLikelihood);
          const slope = model.coefficients[model.coefficients.length - 1];
          const ratio: Estimate = {
            ...slope,
            value: Math.exp(slope.value),
            low: Math.exp(slope.low),
            high: Math.exp(slope.high),
            method: `life of ${group} over life of the others, Weibull model, profile interval`,
          };
          return [
            { group, units: unitCount(own), failures: failureCount(own), ratio, p: chiSquare.upper(gain, 1) },
          ];
        });
  const adjusted = holm(compared.map((c) => c.p));
  const ordered = compared
    .map((c, i) => ({ ...c, p: adjusted[i] }))
    .sort((a, b) => a.p - b.p || (a.group < b.group ? -1 : 1));
  // The most different group is taken out first; another counts only if it still differs then.
  const differing: string[] = [];
  for (const { group, p } of ordered) {
    if (p >= 0.01) break;
    const [without, withIt] = [modelOf("weibull", differing), modelOf("weibull", [...differing, group])];
    if (isUndetermined(without) || isUndetermined(withIt)) continue;
    const gain = 2 * (withIt.logLikelihood - without.logLikelihood);
    if (chiSquare.upper(gain, 1) * groups.length < 0.01) differing.push(group);
  }
  const final = { weibull: modelOf("weibull", differing), "log-normal": modelOf("log-normal", differing) };
  const better = betterOf(final.weibull, final["log-normal"]);
  const model = isUndetermined(better) ? final.weibull : modelOf(better.distribution, differing, "all");
  const at = isUndetermined(model) ? [] : new Array<number>(model.coefficients.length - 1).fill(0);
  return {
    units: unitCount(lives),
    failures: failureCount(lives),
    unit,
    curve: intervals ? turnbull(lives) : kaplanMeier(lives),
    ...(intervals || groups.length < 2 ? {} : { logRank: logRank(lives) }),
    better,
    model,
    ...(withHeat ? { referenceTemperature: reference } : {}),
    ...(isUndetermined(model)
      ? {}
      : {
          characteristic: model.life(1 - Math.exp(-1), at),
          b10: model.life(0.1, at),
          median: model.life(0.5, at),
          ...(withHeat
            ? {
                activationEnergy: {
                  ...model.coefficients[1],
                  unit: "eV",
                  method: `Arrhenius slope, ${model.coefficients[1].method}`,
                },
              }
            : {}),
        }),
    groups: ordered,
    differing,
  };
}

function betterOf(
  weibull: LifeModel | Undetermined,
  logNormal: LifeModel | Undetermined,
): LifeSummary["better"] {
  if (isUndetermined(weibull)) return weibull;
  if (isUndetermined(logNormal)) return logNormal;
  const gain = 2 * (weibull.logLikelihood - logNormal.logLikelihood);
  const distribution = gain >= 0 ? "weibull" : "log-normal";
  const name = gain >= 0 ? "Weibull" : "log-normal";
  const by = Math.abs(gain);
  const text =
    by < 2
      ? `Weibull and log-normal fit about equally well (2 log likelihood differ by ${by.toFixed(1)}); ${name} is used`
      : `${name} fits better (2 log likelihood higher by ${by.toFixed(1)})`;
  return { distribution, by, text };
}
