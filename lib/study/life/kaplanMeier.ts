import { normal } from "../../numeric/distributions/distributions.js";
import { checkLives, type Life } from "./lifeData.js";

/** One step of a survival curve. */
export interface SurvivalStep {
  readonly time: number;
  /** Units under observation just before `time`. */
  readonly atRisk: number;
  readonly failed: number;
  readonly censored: number;
  /** Share still alive after `time`. */
  readonly survival: number;
  /** Standard error of `survival` by Greenwood's formula. */
  readonly error: number;
  /** Pointwise band. */
  readonly low: number;
  readonly high: number;
}

/** A survival curve. */
export interface SurvivalCurve {
  readonly method: string;
  readonly level: number;
  readonly band: "log-log" | "log" | "plain";
  /** Failure and censoring times, ascending. */
  readonly steps: readonly SurvivalStep[];
}

/**
 * Kaplan and Meier's estimate of survival from failure times and right-censored times, with Greenwood's error and a
 * pointwise band; a unit that came under observation late (`from`) counts among those at risk from then on (Kaplan, E.
 * L. and Meier, P. (1958), Journal of the American Statistical Association 53, 457-481). The band is by the log(-log)
 * transform, which stays between 0 and 1; `log` and `plain` are there for comparison.
 *
 * @throws RangeError for left- or interval-censored lives (see `turnbull`) and for impossible times
 * @example
 * kaplanMeier([{ after: 5, by: 5 }, { after: 8, by: Infinity }]).steps[0].survival; // => 0.5
 */
export function kaplanMeier(
  lives: readonly Life[],
  options: { readonly level?: number; readonly band?: "log-log" | "log" | "plain" } = {},
): SurvivalCurve {
  const { level = 0.95, band = "log-log" } = options;
  checkLives(lives);
  const events = new Map<number, { failed: number; censored: number }>();
  let atRisk = 0;
  // Late entries, in order: a unit is at risk after its entry.
  const late: { from: number; count: number }[] = [];
  for (const { after, by, count = 1, from = 0 } of lives) {
    if (by !== Infinity && by !== after)
      throw new RangeError(
        `a life between ${after} and ${by} is interval censored: use turnbull for such data`,
      );
    const event = events.get(after) ?? { failed: 0, censored: 0 };
    if (by === Infinity) event.censored += count;
    else event.failed += count;
    events.set(after, event);
    if (from > 0) late.push({ from, count });
    else atRisk += count;
  }
  late.sort((a, b) => a.from - b.from);
  let entered = 0;
  const z = normal.quantile((1 + level) / 2);
  const steps: SurvivalStep[] = [];
  let survival = 1;
  let greenwood = 0;
  for (const time of [...events.keys()].sort((a, b) => a - b)) {
    const { failed, censored } = events.get(time) as { failed: number; censored: number };
    for (; entered < late.length && late[entered].from < time; entered++) atRisk += late[entered].count;
    if (failed > 0) {
      survival *= 1 - failed / atRisk;
      greenwood += failed / (atRisk * (atRisk - failed));
    }
    const error = survival * Math.sqrt(greenwood);
    const [low, high] = survivalBand(survival, Math.sqrt(greenwood), z, band);
    steps.push({ time, atRisk, failed, censored, survival, error, low, high });
    atRisk -= failed + censored;
  }
  return { method: "Kaplan-Meier", level, band, steps };
}

/** Band at one point from survival and the standard error of its logarithm. */
function survivalBand(
  s: number,
  logError: number,
  z: number,
  band: "log-log" | "log" | "plain",
): [number, number] {
  if (s === 1) return [1, 1];
  if (s <= 0 || !Number.isFinite(logError)) return [Number.NaN, Number.NaN];
  if (band === "plain") return [Math.max(0, s - z * s * logError), Math.min(1, s + z * s * logError)];
  if (band === "log") return [s * Math.exp(-z * logError), Math.min(1, s * Math.exp(z * logError))];
  const spread = (z * logError) / Math.abs(Math.log(s));
  return [s ** Math.exp(spread), s ** Math.exp(-spread)];
}

/**
 * Time by which a share of the units has failed, read off the curve, with the interval read off its band; `Infinity`
 * where the curve or the band does not come down so far. Where the curve is flat at exactly that share, the middle of
 * the flat stretch.
 *
 * @param share - 0.1 for B10, 0.5 for the median
 * @example
 * timeOfShare(kaplanMeier([{ after: 5, by: 5 }, { after: 9, by: 9 }]), 0.5).value; // => 7 (in the unit of the lives)
 */
export function timeOfShare(
  curve: SurvivalCurve,
  share: number,
): { value: number; low: number; high: number } {
  const target = 1 - share;
  const reach = (of: (step: SurvivalStep) => number) => {
    const steps = curve.steps.filter((step) => step.failed > 0);
    const at = steps.findIndex((step) => of(step) <= target + 1e-12);
    if (at < 0) return Infinity;
    const flat = Math.abs(of(steps[at]) - target) < 1e-12 && at + 1 < steps.length;
    return flat ? (steps[at].time + steps[at + 1].time) / 2 : steps[at].time;
  };
  return { value: reach((s) => s.survival), low: reach((s) => s.low), high: reach((s) => s.high) };
}
