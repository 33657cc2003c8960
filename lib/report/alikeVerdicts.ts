import type { TrialVerdict } from "../diagnosis/types.js";

/** A trial that is shown, and how many later ones it stands for. */
export interface ShownTrial {
  readonly trial: TrialVerdict;
  readonly more: number;
  /** The last of those. */
  readonly last?: TrialVerdict;
}

/** Most trials of a recording that are shown each by itself. */
const mostAlone = 40;

/**
 * The trials of a recording to be shown: all of them, or, of a long log, the first of those that went alike (the same
 * kind, verdict, sense, likeliest cause and forecast, and lacking the same), so that the ones that went otherwise are
 * seen.
 *
 * @example
 * shownTrials(verdict.trials).map(({ trial, more }) => `${trial.kind} and ${more} more`);
 */
export function shownTrials(trials: readonly TrialVerdict[]): readonly ShownTrial[] {
  if (trials.length <= mostAlone) return trials.map((trial) => ({ trial, more: 0 }));
  const groups = new Map<string, { trial: TrialVerdict; more: number; last?: TrialVerdict }>();
  for (const trial of trials) {
    const { kind, verdict, sense, causes, forecast, missing = [] } = trial;
    const key = [kind, verdict, sense, causes[0]?.cause, forecast?.verdict, ...missing].join("\n");
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { trial, more: 0 });
    else {
      group.more += 1;
      group.last = trial;
    }
  }
  return [...groups.values()];
}

/** What is said of those that a shown trial stands for; empty where there are none. */
export function alikeText({ more, last }: ShownTrial): string {
  if (more === 0 || last === undefined) return "";
  const at = last.clock === "rows" ? `row ${last.start}` : `${Number(last.start.toPrecision(6))} s`;
  return more === 1 ? `One more went alike, at ${at}.` : `${more} more went alike, the last at ${at}.`;
}
