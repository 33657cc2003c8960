import { predictRunaway } from "../control/fromRun/predictRunaway.js";
import { backEmfVector } from "../identify/electrical/backEmfVector.js";
import type { Recording, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { judgeSweep } from "./alignmentSweep.js";
import { driveSignsOf } from "./driveKind.js";
import { handLikelihood } from "./handEvidence.js";
import { judgeHandTurn } from "./handTurn.js";
import { bounded, healthBounds, surest } from "./healthBounds.js";
import type { JudgedTrial, ReadRecording } from "./judged.js";
import { trialLikelihood } from "./likelihood.js";
import { measure } from "./measures.js";
import { mismatchCandidates } from "./mismatch.js";
import { observe } from "./observe.js";
import { openCommand, perhapsOuter, underOpenCommand } from "./openCommand.js";
import { judgeOpenInput } from "./openInput.js";
import { judgeUnclocked } from "./unclocked.js";
import { judgeUnscaled } from "./unscaled.js";
import { type Choose, likeness, Unlike, type Watched, watchAll, watchOfLike } from "./watched.js";

/**
 * The first pass: watches and measures all trials of one recording and reads them against the tables.
 *
 * @param foretold false where nobody asks how a runaway would grow
 */
export function readRun(run: Run, foretold = true): ReadRecording {
  const first = run.once("first pass", () => read(run, watchAll));
  if (!foretold || !trialsUsed(run).some(({ kind }) => kind === "torque")) return first;
  return run.once("first pass, and how a runaway would grow", () => {
    const runaway = predictRunaway(run);
    return runaway ? { ...first, runaway } : first;
  });
}

/**
 * The same for what the causes are weighed by alone: of many trials that went alike those are watched that are weighed,
 * and no runaway is foretold.
 */
export function readWeighed(run: Run): ReadRecording {
  if (run.chosenTrials.length === run.trials.length) return readRun(run, false);
  return run.once("first pass of what is weighed", () => {
    try {
      return read(run, watchOfLike);
    } catch (error) {
      if (error instanceof Unlike) return readRun(run, false);
      throw error;
    }
  });
}

const areDeclared = ({ trials }: Run): boolean => trials.some((trial) => trial.source === "declared");

/** Nothing is commanded at rest, nor in a coast-down beside declared trials: there is nothing to judge. */
function trialsUsed(run: Run): readonly Trial[] {
  const { trials } = run;
  const declared = areDeclared(run);
  return trials.filter(
    (trial, k) =>
      trial.kind !== "idle" &&
      !(declared && trial.kind === "coast" && trial.source === "found") &&
      !precedesItsCommand(trial, trials[k + 1]),
  );
}

function read(run: Run, choose: Choose): ReadRecording {
  const { recording } = run;
  const candidates = mismatchCandidates(recording);
  const declared = areDeclared(run);
  const used = trialsUsed(run);
  const health = healthBounds(run);
  const outer = openCommand(recording);
  const watch = (trial: Trial): Watched => {
    const seen = observe(run, trial);
    const atMost = surest(run, seen);
    const bound = bounded(seen, atMost, health);
    const open =
      outer ??
      (bound.verdict === "reversed" || bound.verdict === "runaway"
        ? openCommand(recording, perhapsOuter)
        : undefined);
    const observation = open === undefined ? bound : { ...bound, ...underOpenCommand(bound, open) };
    return { trial, observation, atMost };
  };
  // Of many trials of one kind that went alike a few say all that there is to say of the causes; whatever went
  // otherwise is a group of its own.
  const { watched, weighed } = choose(run, used, watch);
  const groups = new Set<string>();
  const judge = (one: Watched, k: number): JudgedTrial => {
    run.told?.("weighing trials", k, watched.length);
    const { trial, observation, atMost } = one;
    const swept = trial.kind === "alignment-sweep";
    const hand = swept
      ? judgeSweep(run, trial)
      : trial.kind === "hand-turn"
        ? judgeHandTurn(run, trial)
        : undefined;
    if (hand) return { observation, measures: {}, atMost, hand, likelihood: handLikelihood(hand, swept) };
    if (!weighed.has(one)) return { observation, measures: {}, atMost, alike: groups.has(likeness(one)) };
    const measures = measure(run, observation, candidates);
    const likelihood = trialLikelihood(recording, observation, measures, health);
    if (likelihood) groups.add(likeness(one));
    return { observation, measures, atMost, likelihood };
  };
  const judged = watched.map(judge);
  const apart = health.answer !== undefined;
  const decided = judged.some(({ observation }) => observation.verdict !== "undetermined");
  return {
    recording,
    health,
    ...measuredOffset(run),
    driveSigns: driveSignsOf(recording, used),
    trials: readOtherwise(recording, declared || decided || apart) ?? judged,
  };
}

const anyDecided = (trials: readonly JudgedTrial[]): boolean =>
  trials.some(({ observation }) => observation.verdict !== "undetermined");

/**
 * Trials of a recording that cannot be judged as it stands: by the order of its rows, by sign and shape, or by all that
 * its open columns may mean. Undefined where it was judged as logged.
 */
function readOtherwise(recording: Recording, judged: boolean): JudgedTrial[] | undefined {
  const byRows = judgeUnclocked(recording);
  if (byRows === undefined && judged) return undefined;
  const bare = byRows ?? judgeUnscaled(recording);
  return bare !== undefined && anyDecided(bare) ? bare : (judgeOpenInput(recording) ?? bare);
}

/** A brief stretch under current that runs on into a trial under control is the beginning of that trial: its command
 * came late into the log. */
function precedesItsCommand(trial: Trial, next: Trial | undefined): boolean {
  return (
    trial.kind === "torque" &&
    trial.source === "found" &&
    (next?.kind === "speed" || next?.kind === "position") &&
    next.from - trial.to <= 2 &&
    trial.end - trial.start < 0.1 * (next.end - next.start)
  );
}

/** Torque factor and offset error by the back-EMF, where the shaft turned, it was seen, and the position kept its
 * count. */
function measuredOffset(run: Run): Pick<ReadRecording, "measured"> {
  if (run.health.withholds("offset")) return {};
  const { offsetError, torqueGain } = backEmfVector(run) ?? {};
  return offsetError && torqueGain ? { measured: { torqueFactor: torqueGain, offsetError } } : {};
}
