import type { Trial } from "../../recording/types.js";

/** Samples `from <= i < to` between two steps of a trial's command. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly trial: Trial;
  /** Command in the stretch, when the trial has steps. */
  readonly command?: number;
}

/** Cuts a trial at its steps. */
export function stretchesOf(trial: Trial): Stretch[] {
  const cuts = trial.steps.map((s) => s.at).filter((at) => at > trial.from && at < trial.to);
  const edges = [trial.from, ...cuts, trial.to];
  const stretches: Stretch[] = [];
  for (let k = 0; k + 1 < edges.length; k++) {
    if (edges[k + 1] - edges[k] < 4) continue;
    const entered = trial.steps.find((s) => s.at === edges[k]);
    const left = trial.steps.find((s) => s.at === edges[k + 1]);
    const command = entered?.to ?? left?.from;
    stretches.push({
      from: edges[k],
      to: edges[k + 1],
      trial,
      command,
    });
  }
  return stretches;
}
