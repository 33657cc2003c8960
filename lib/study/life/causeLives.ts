import type { Estimate } from "../../units/estimate.js";
import { fitBeside } from "./fitBeside.js";
import { type ComparedGroups, compareGroups, modelledBeside } from "./groupLife.js";
import { failureCount, isUndetermined, type Life, livesOfCause, type Undetermined } from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";

/** What one cause of failure does, the others beside it. */
export interface CauseLife {
  readonly cause: string;
  readonly failures: number;
  /** Weibull life with this cause alone: failures of other causes end the watching without a failure. Groups that
   * differ in it are covariates (those without a failure of it are left out), so that it holds for the other groups. */
  readonly model: LifeModel | Undetermined;
  /** Times by which shares of the units would have failed of this cause alone. */
  readonly lives: readonly Estimate[];
  /** Share of units that have failed of this cause by the end of each time, the other causes present (Aalen and
   * Johansen). */
  readonly incidence: Incidence | Undetermined;
  /** How long the groups live with this cause alone, against each other; chances are adjusted over the causes as
   * well. */
  readonly groups: ComparedGroups;
  /** Each group by itself; none for a table of one group. */
  readonly byGroup: readonly {
    readonly group: string;
    readonly failures: number;
    readonly incidence: Incidence | Undetermined;
  }[];
}

/** Share that has failed of a cause by the end of each time. */
export type Incidence = readonly { readonly time: number; readonly share: number }[];

/** Name given to failures whose cause is not stated in a table that states causes. */
const unnamedCause = "not stated";

/**
 * Competing causes of failure, each by itself: the life of each cause with the others taken as ends of watching, which
 * takes the causes to be independent (common practice; from such a table it cannot be tested, Tsiatis, A. (1975),
 * Proceedings of the National Academy of Sciences 72, 20-22), and the share that has failed of it, which does not
 * (Aalen, O. O. and Johansen, S. (1978), Scandinavian Journal of Statistics 5, 141-150).
 *
 * @returns nothing when no failure has a cause
 * @example
 * const failed = [{ after: 50, by: 50, cause: "bearing" }, { after: 90, by: 90, cause: "winding" }, { after: 100, by: Infinity }];
 * causeLives(failed).map((one) => one.cause); // => ["bearing", "winding"]
 */
export function causeLives(
  lives: readonly Life[],
  options: {
    readonly unit?: string;
    readonly level?: number;
    readonly shares?: readonly number[];
    readonly covariates?: (life: Life) => readonly number[];
    readonly at?: readonly number[];
  } = {},
): CauseLife[] {
  const { shares = [0.1, 0.5], at = [], covariates, unit, level } = options;
  const failed = lives.filter((life) => life.by !== Infinity);
  if (!failed.some((life) => life.cause !== undefined)) return [];
  const named = lives.map((life) =>
    life.by === Infinity ? life : { ...life, cause: life.cause ?? unnamedCause },
  );
  const causes = [...new Set(failed.map((life) => life.cause ?? unnamedCause))].sort();
  const groups = [...new Set(lives.flatMap(({ group }) => (group === undefined ? [] : [group])))].sort();
  const modelOf = fitBeside({
    unit,
    level,
    covariates: (life) => covariates?.(life) ?? [],
    names: at.length > 0 ? ["1/(kT)"] : [],
  });
  return causes.map((cause) => {
    const seen = livesOfCause(named, cause);
    const compared = compareGroups(seen, groups, (...asked) => modelOf("weibull", ...asked), {
      level: level ?? 0.95,
      covariates: (life) => covariates?.(life) ?? [],
      tables: causes.length,
    });
    const { modelled, beside } = modelledBeside(seen, compared);
    const model = modelOf("weibull", modelled, beside, "all");
    const middle = [...at, ...beside.map(() => 0)];
    return {
      cause,
      failures: failureCount(seen),
      model,
      lives: isUndetermined(model) ? [] : shares.map((share) => model.life(share, middle)),
      incidence: incidenceOf(named, cause),
      groups: compared,
      byGroup: (groups.length < 2 ? [] : groups).map((group) => {
        const own = named.filter((life) => life.group === group);
        return {
          group,
          failures: failureCount(livesOfCause(own, cause)),
          incidence: incidenceOf(own, cause),
        };
      }),
    };
  });
}

/** Aalen and Johansen's estimate for exact and right-censored lives. */
function incidenceOf(lives: readonly Life[], cause: string): Incidence | Undetermined {
  if (lives.some((life) => life.by !== Infinity && life.by !== life.after))
    return { undetermined: "some failures are known to an interval only" };
  const times = [...new Set(lives.filter((l) => l.by !== Infinity).map((l) => l.by))].sort((a, b) => a - b);
  let [survival, share] = [1, 0];
  return times.map((time) => {
    let [atRisk, all, own] = [0, 0, 0];
    for (const { after, by, count = 1, from = 0, cause: of } of lives) {
      if (after < time || from >= time) continue;
      atRisk += count;
      if (by !== time) continue;
      all += count;
      if (of === cause) own += count;
    }
    share += (survival * own) / atRisk;
    survival *= 1 - all / atRisk;
    return { time, share };
  });
}
