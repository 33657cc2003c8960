import type { Estimate } from "../../units/estimate.js";
import { failureCount, isUndetermined, type Life, livesOfCause, type Undetermined } from "./lifeData.js";
import { fitLife, type LifeModel } from "./lifeModel.js";

/** What one cause of failure does, the others beside it. */
export interface CauseLife {
  readonly cause: string;
  readonly failures: number;
  /** Weibull life with this cause alone: failures of other causes end the watching without a failure. */
  readonly model: LifeModel | Undetermined;
  /** Times by which shares of the units would have failed of this cause alone. */
  readonly lives: readonly Estimate[];
  /** Share of units that have failed of this cause by the end of each time, the other causes present (Aalen and
   * Johansen). */
  readonly incidence: readonly { readonly time: number; readonly share: number }[] | Undetermined;
}

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
  return causes.map((cause) => {
    const seen = livesOfCause(named, cause);
    const model = fitLife("weibull", seen, {
      unit,
      level,
      covariates,
      ...(at.length > 0 ? { names: ["1/(kT)"] } : {}),
    });
    return {
      cause,
      failures: failureCount(seen),
      model,
      lives: isUndetermined(model) ? [] : shares.map((share) => model.life(share, at)),
      incidence: incidenceOf(named, cause),
    };
  });
}

/** Aalen and Johansen's estimate for exact and right-censored lives. */
function incidenceOf(lives: readonly Life[], cause: string): CauseLife["incidence"] {
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
