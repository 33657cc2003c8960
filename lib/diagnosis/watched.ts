import type { Trial } from "../recording/types.js";
import { chosenFrom } from "../run/chosenTrials.js";
import type { Run } from "../run/run.js";
import { looksLike, picturesOf, type TrialPicture } from "./likePicture.js";
import type { Observation } from "./observe.js";

/** A trial that was watched, before it is weighed. */
export interface Watched {
  readonly trial: Trial;
  readonly observation: Observation;
  readonly atMost: number;
}

/** The trials that were watched, in their order, and those of them that the causes are weighed by. */
export interface WatchedTrials {
  readonly watched: readonly Watched[];
  readonly weighed: ReadonlySet<Watched>;
}

/** Says which trials of a run are watched, and which of them are weighed. */
export type Choose = (run: Run, trials: readonly Trial[], watch: (trial: Trial) => Watched) => WatchedTrials;

/** Trials of one kind in which the shaft did the same, with the same sense and the same verdict. */
export const likeness = ({ observation: { trial, behaviour, verdict, sense } }: Watched): string =>
  `${trial.kind} ${behaviour} ${verdict} ${sense}`;

/** Watches every trial. */
export const watchAll: Choose = (run, trials, watch) => {
  const watched = trials.map((trial, k) => {
    run.told?.("watching trials", k, trials.length);
    return watch(trial);
  });
  return { watched, weighed: new Set(chosenFrom(watched, likeness)) };
};

/** Two trials whose pictures are alike went otherwise: the pictures do not tell. */
export class Unlike extends Error {}

/** Kinds that are judged by more than the course of their channels. */
const byThemselves: ReadonlySet<Trial["kind"]> = new Set(["alignment-sweep", "hand-turn"]);

/**
 * Watches the trials that are weighed, and one of all whose channels did the same: the others are taken to have gone
 * like it.
 *
 * @throws Unlike where one that is weighed did not
 */
export const watchOfLike: Choose = (run, trials, watch) => {
  const picture = picturesOf(run.recording, trials);
  const seen = new Map<Trial, Watched>();
  const watchOnce = (trial: Trial): Watched => {
    const known = seen.get(trial) ?? watch(trial);
    seen.set(trial, known);
    return known;
  };
  const models: { readonly kind: string; readonly picture: TrialPicture; readonly likeness: string }[] = [];
  const taken = trials.map((trial, k) => {
    run.told?.("watching trials", k, trials.length);
    const own = byThemselves.has(trial.kind) ? undefined : picture(trial);
    const kind = `${trial.kind} ${trial.command} ${trial.source}`;
    const model = own && models.find((m) => m.kind === kind && looksLike(m.picture, own));
    const like = model?.likeness ?? likeness(watchOnce(trial));
    if (own && !model && models.length < mostModels) models.push({ kind, picture: own, likeness: like });
    return { trial, like };
  });
  const weighed = chosenFrom(taken, ({ like }) => like).map(({ trial, like }) => {
    const watched = watchOnce(trial);
    if (likeness(watched) !== like) throw new Unlike();
    return watched;
  });
  const watched = trials.flatMap((trial) => seen.get(trial) ?? []);
  return { watched, weighed: new Set(weighed) };
};

/** Pictures that a trial is held against at most (judgement: a log in which more are needed does not repeat itself). */
const mostModels = 64;
