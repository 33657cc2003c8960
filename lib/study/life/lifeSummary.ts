import type { Estimate } from "../../units/estimate.js";
import { inverseTemperature } from "./arrhenius.js";
import { type CauseLife, causeLives } from "./causeLives.js";
import { lifeWithKnownShape } from "./demonstration.js";
import { fitBeside } from "./fitBeside.js";
import { type GoodnessOfFit, goodnessOfFit } from "./goodnessOfFit.js";
import { compareGroups, type GroupLife, type GroupWithoutFailure, modelledBeside } from "./groupLife.js";
import { kaplanMeier, type SurvivalCurve } from "./kaplanMeier.js";
import {
  failureCount,
  hasLateEntry,
  isUndetermined,
  type Life,
  type Undetermined,
  unitCount,
} from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";
import type { LifeDistribution } from "./lifeShapes.js";
import { type LogRankResult, logRank } from "./logRank.js";
import { type TurnbullCurve, turnbull } from "./turnbull.js";
import { type TwoModes, twoModes } from "./twoModes.js";

/** What a life table says. */
export interface LifeSummary {
  readonly units: number;
  readonly failures: number;
  /** Units that came under observation after some use (late entry). */
  readonly lateEntries: number;
  /** Motors that have several lines, each of which counts as a unit of its own. */
  readonly repeated: readonly string[];
  /** Units that still run and yet have a cause of failure, which counts for nothing. */
  readonly runningWithCause: number;
  readonly unit: string;
  /** Coverage of the intervals. */
  readonly level: number;
  /** Survival without a model: Kaplan-Meier, or Turnbull when some failures are known only to an interval. */
  readonly curve: SurvivalCurve | TurnbullCurve | Undetermined;
  /** Log-rank test over the groups; absent with intervals or a single group. */
  readonly logRank?: LogRankResult;
  /** The distribution with the higher likelihood, by how much (twice the log likelihood), and its probability, with
   * equal prior probabilities. */
  readonly better:
    | {
        readonly distribution: LifeDistribution;
        readonly by: number;
        readonly probability: number;
        readonly text: string;
      }
    | Undetermined;
  /**
   * The life model: temperature (where given) and the groups that differ are covariates, so that what is said holds for
   * the other groups at the reference temperature.
   */
  readonly model: LifeModel | Undetermined;
  /**
   * Share of all units that the model expects to be running at a time: its survival averaged over the units' own
   * temperatures and groups, to be held against `curve`. Absent without a model.
   */
  readonly expected?: (time: number) => number;
  /** The curve of the units as they would have lived at the reference temperature and in the other groups, by the
   * model: what a probability plot of a model with covariates shows. Absent without a model. */
  readonly moved?: () => LifeSummary["curve"];
  /** Whether the lives are as the model says, and whether two modes of failure show. */
  readonly fit: GoodnessOfFit | Undetermined;
  readonly modes: TwoModes | Undetermined;
  /** Temperature, Celsius, at which `characteristic`, `lives`, `b10` and `median` hold. */
  readonly referenceTemperature?: number;
  /** True when that temperature lies outside those of the failures: the Arrhenius line is followed beyond what was
   * tried. */
  readonly extrapolated?: boolean;
  /** Units without a temperature, which take no part in the model while others have one. */
  readonly withoutTemperature: number;
  /** True when temperatures were given or asked for, and the model cannot hold them: no failures at two of them. */
  readonly temperaturesUnused: boolean;
  readonly characteristic?: Estimate;
  /** Times by which the asked shares have failed. */
  readonly lives: readonly Estimate[];
  /** The same by the other distribution, where the lives do not tell the two apart (95 %). */
  readonly otherwise?: readonly Estimate[];
  readonly b10?: Estimate;
  readonly median?: Estimate;
  /** Activation energy, eV, when there are temperatures. */
  readonly activationEnergy?: Estimate;
  /** With a Weibull shape known from before: one-sided lower limits of the asked lives, also without any failure. */
  readonly knownShape?: {
    readonly shape: number;
    readonly lives: readonly Estimate[] | Undetermined;
  };
  /** Causes of failure, each by itself; none when the table names no cause. */
  readonly causes: readonly CauseLife[];
  /** Each group with failures against the others, most different first. */
  readonly groups: readonly GroupLife[];
  /** Groups in which nothing has failed, with the bound that this gives. */
  readonly withoutFailure: readonly GroupWithoutFailure[];
  /** Groups left out of the reference because they differ (p below 0.01). */
  readonly differing: readonly string[];
}

/** Options of `lifeSummary`. */
export interface LifeOptions {
  /** Unit of the lives; hours (`h`) when absent. */
  readonly unit?: string;
  /** Temperature of use, degrees Celsius: the middle one of those in the table when absent. */
  readonly referenceTemperature?: number;
  /** Coverage of the intervals; 0.95 when absent. */
  readonly level?: number;
  /** Shares of units to give the life of; 0.1 (B10) and 0.5 when absent. */
  readonly shares?: readonly number[];
  /** Weibull shape known from before. */
  readonly knownShape?: number;
}

/**
 * Everything that a life table says: survival, the better of Weibull and log-normal and whether it fits, B-lives with
 * intervals, the effect of temperature, causes of failure, which groups differ, and what groups without a failure
 * bound.
 *
 * @throws RangeError for impossible lives or options
 * @example
 * lifeSummary(lives, { unit: "h" }).failures; // => 4
 */
export function lifeSummary(lives: readonly Life[], options: LifeOptions = {}): LifeSummary {
  const { unit = "h", level = 0.95, shares = [0.1, 0.5] } = options;
  checkOptions(level, shares, options.knownShape);
  const groups = [...new Set(lives.flatMap((life) => (life.group === undefined ? [] : [life.group])))].sort();
  const heat = heatOf(lives, options.referenceTemperature);
  const { used } = heat;
  const modelOf = fitBeside({
    unit,
    level,
    covariates: heat.covariates,
    names: heat.taken ? ["1/(kT)"] : [],
  });
  const found = compareGroups(used, groups, (...asked) => modelOf("weibull", ...asked), {
    level,
    covariates: heat.covariates,
  });
  const { modelled, beside: differing } = modelledBeside(used, found);
  const better = betterOf(
    modelOf("weibull", modelled, differing),
    modelOf("log-normal", modelled, differing),
  );
  const model = modelOf(isUndetermined(better) ? "weibull" : better.distribution, modelled, differing, "all");
  const second = secondOf(better);
  const other = second === undefined ? undefined : modelOf(second, modelled, differing, "all");
  const at = isUndetermined(model) ? [] : new Array<number>(model.coefficients.length - 1).fill(0);
  const covariates = (life: Life) => [
    ...heat.covariates(life),
    ...differing.map((g) => (life.group === g ? 1 : 0)),
  ];
  const compared = isUndetermined(model) ? model : goodnessOfFit(modelled, model, covariates);
  const lastingUnits = unitCount(used) - unitCount(modelled);
  return {
    units: unitCount(lives),
    failures: failureCount(lives),
    lateEntries: unitCount(lives.filter((life) => (life.from ?? 0) > 0)),
    repeated: repeatedOf(lives),
    runningWithCause: unitCount(lives.filter((life) => life.by === Infinity && life.cause !== undefined)),
    unit,
    level,
    curve: curveOf(lives),
    ...(groups.length < 2 || hasIntervals(lives) ? {} : { logRank: logRank(lives) }),
    better,
    model,
    ...(isUndetermined(model)
      ? {}
      : {
          expected: averageOf(
            model,
            modelled.map((life) => [covariates(life), life.count ?? 1]),
            lastingUnits,
          ),
          moved: () => curveOf(atReference(modelled, model, covariates)),
        }),
    fit: compared,
    modes: isUndetermined(model) ? model : twoModes(atReference(modelled, model, covariates)),
    ...(heat.taken ? { referenceTemperature: heat.reference, extrapolated: heat.extrapolated } : {}),
    withoutTemperature: unitCount(lives) - unitCount(used),
    temperaturesUnused: heat.unused,
    lives: isUndetermined(model) ? [] : shares.map((share) => model.life(share, at)),
    ...(isUndetermined(model)
      ? {}
      : {
          characteristic: model.life(1 - Math.exp(-1), at),
          b10: model.life(0.1, at),
          median: model.life(0.5, at),
          ...(other === undefined || isUndetermined(other)
            ? {}
            : { otherwise: shares.map((share) => other.life(share, at)) }),
          ...(heat.taken
            ? {
                activationEnergy: {
                  ...model.coefficients[1],
                  unit: "eV",
                  method: `Arrhenius slope, ${model.coefficients[1].method}`,
                },
              }
            : {}),
        }),
    ...(options.knownShape === undefined
      ? {}
      : {
          knownShape: {
            shape: options.knownShape,
            lives: boundsOf(lives, options.knownShape, shares, { level, unit }),
          },
        }),
    causes: causeLives(used, {
      unit,
      level,
      shares,
      ...(heat.taken ? { covariates: heat.covariates, at: [0] } : {}),
    }),
    groups: found.groups,
    withoutFailure: found.withoutFailure,
    differing: found.differing,
  };
}

/** Motors with more than one line, in order. */
function repeatedOf(lives: readonly Life[]): string[] {
  const seen = new Map<string, number>();
  for (const { motor } of lives) if (motor !== undefined) seen.set(motor, (seen.get(motor) ?? 0) + 1);
  return [...seen].flatMap(([motor, n]) => (n > 1 ? [motor] : [])).sort();
}

function checkOptions(level: number, shares: readonly number[], shape: number | undefined): void {
  if (!(level > 0 && level < 1))
    throw new RangeError(`the level of confidence lies between 0 and 1, not ${level}`);
  for (const share of shares)
    if (!(share > 0 && share < 1))
      throw new RangeError(`a share of failed units lies between 0 and 1, not ${share}`);
  if (shape !== undefined && !(shape > 0 && shape < 100))
    throw new RangeError(`a Weibull shape is positive (usual: 0.5 to 10), not ${shape}`);
}

const hasIntervals = (lives: readonly Life[]) =>
  lives.some((life) => life.by !== Number.POSITIVE_INFINITY && life.by !== life.after);

function curveOf(lives: readonly Life[]): LifeSummary["curve"] {
  if (!hasIntervals(lives)) return kaplanMeier(lives);
  return hasLateEntry(lives)
    ? { undetermined: "no curve without a model for failures known to an interval together with late entry" }
    : turnbull(lives);
}

/** Temperature as covariate: taken when units with a temperature were run at more than one. Units without one are left
 * out then. */
function heatOf(
  lives: readonly Life[],
  asked: number | undefined,
): {
  readonly taken: boolean;
  readonly used: readonly Life[];
  readonly reference: number;
  readonly extrapolated: boolean;
  readonly unused: boolean;
  readonly covariates: (life: Life) => number[];
} {
  const has = (life: Life) => Number.isFinite(life.temperature ?? Number.NaN);
  const known = [...new Set(lives.filter(has).map((life) => life.temperature as number))].sort(
    (a, b) => a - b,
  );
  const failedAt = lives
    .filter((life) => has(life) && life.by !== Infinity)
    .map((l) => l.temperature as number);
  const taken = new Set(failedAt).size > 1;
  const reference = asked ?? known[Math.floor((known.length - 1) / 2)];
  const [low, high] = [
    failedAt.reduce((a, b) => Math.min(a, b), Infinity),
    failedAt.reduce((a, b) => Math.max(a, b), -Infinity),
  ];
  return {
    taken,
    used: taken ? lives.filter(has) : lives,
    reference,
    extrapolated: reference < low || reference > high,
    unused: !taken && (known.length > 1 || (asked !== undefined && asked !== known[0])),
    covariates: (life) =>
      taken ? [inverseTemperature(life.temperature as number) - inverseTemperature(reference)] : [],
  };
}

/** Survival of a mixed population: the mean over its units, those with the same covariates taken together; `lasting`
 * units are of groups that live on. */
function averageOf(
  model: LifeModel,
  units: readonly (readonly [covariates: readonly number[], count: number])[],
  lasting: number,
): (time: number) => number {
  const kinds = new Map<string, { readonly x: readonly number[]; count: number }>();
  for (const [x, count] of units) {
    const key = x.join(" ");
    const kind = kinds.get(key);
    if (kind) kind.count += count;
    else kinds.set(key, { x, count });
  }
  const all = [...kinds.values()];
  const total = all.reduce((sum, { count }) => sum + count, lasting);
  return (time) =>
    all.reduce((sum, { x, count }) => sum + count * model.survivalAt(time, x), lasting) / total;
}

/** Lives as they would have been without the covariates: times divided by what the model says of them. */
function atReference(
  lives: readonly Life[],
  model: LifeModel,
  covariates: (life: Life) => readonly number[],
): Life[] {
  return lives.map((life) => {
    const factor = Math.exp(
      covariates(life).reduce((sum, x, j) => sum + x * model.coefficients[j + 1].value, 0),
    );
    const { from, ...rest } = life;
    return {
      ...rest,
      after: life.after / factor,
      by: life.by / factor,
      ...(from === undefined ? {} : { from: from / factor }),
    };
  });
}

/** One-sided lower limits of lives with a known shape. */
function boundsOf(
  lives: readonly Life[],
  shape: number,
  shares: readonly number[],
  { level, unit }: { readonly level: number; readonly unit: string },
): readonly Estimate[] | Undetermined {
  if (hasIntervals(lives))
    return {
      undetermined:
        "some failures are known to an interval only: the bound with a known shape needs their times",
    };
  return shares.map((share) => lifeWithKnownShape(lives, { shape, share, confidence: level, unit }));
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
  const probability = 1 / (1 + Math.exp(-by / 2));
  const than = gain >= 0 ? "log-normal" : "Weibull";
  const sure = `probability ${probability > 0.999 ? "above 99.9" : Number((100 * probability).toPrecision(3))} %, equal prior probabilities`;
  const text =
    probability < surely
      ? `whether ${name} or ${than} the lives cannot tell (${name}: ${sure}); ${name} is used`
      : `${name} fits better than ${than} (${sure})`;
  return { distribution, by, probability, text };
}

/** From this probability on the other distribution is not spoken of. */
const surely = 0.95;

/** The other distribution, where the lives leave it open. */
function secondOf(better: LifeSummary["better"]): LifeDistribution | undefined {
  if (isUndetermined(better) || better.probability >= surely) return undefined;
  return better.distribution === "weibull" ? "log-normal" : "weibull";
}
