import { predictRunaway } from "../control/fromRun/predictRunaway.js";
import { backEmfVector } from "../identify/electrical/backEmfVector.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { driveSignsOf } from "./driveKind.js";
import { handLikelihood } from "./handEvidence.js";
import { judgeHandTurn, judgeSweep } from "./handTrials.js";
import { bounded, healthBounds, surest } from "./healthBounds.js";
import type { JudgedTrial, ReadRecording } from "./judged.js";
import { trialLikelihood } from "./likelihood.js";
import { measure } from "./measures.js";
import { mismatchCandidates } from "./mismatch.js";
import { observe } from "./observe.js";
import { openCommand, underOpenCommand } from "./openCommand.js";
import { judgeUnclocked } from "./unclocked.js";
import { judgeUnscaled } from "./unscaled.js";

/** The first pass: watches and measures all trials of one recording and reads them against the tables. */
export function readRun(run: Run): ReadRecording {
  return run.once("first pass", () => read(run));
}

function read(run: Run): ReadRecording {
  const { recording, trials } = run;
  const candidates = mismatchCandidates(recording);
  // Nothing is commanded at rest, nor in a coast-down beside declared trials: there is nothing to judge.
  const declared = trials.some((trial) => trial.source === "declared");
  const used = trials.filter(
    (trial, k) =>
      trial.kind !== "idle" &&
      !(declared && trial.kind === "coast" && trial.source === "found") &&
      !precedesItsCommand(trial, trials[k + 1]),
  );
  const runaway = used.some((trial) => trial.kind === "torque") ? predictRunaway(run) : undefined;
  const health = healthBounds(run);
  const outer = openCommand(recording);
  const judged = used.map((trial): JudgedTrial => {
    const seen = observe(run, trial);
    const atMost = surest(run, seen);
    const bound = bounded(seen, atMost, health);
    const observation = outer === undefined ? bound : { ...bound, ...underOpenCommand(bound, outer) };
    const swept = trial.kind === "alignment-sweep";
    const hand = swept
      ? judgeSweep(run, trial)
      : trial.kind === "hand-turn"
        ? judgeHandTurn(run, trial)
        : undefined;
    if (hand) return { observation, measures: {}, atMost, hand, likelihood: handLikelihood(hand, swept) };
    const measures = measure(run, observation, candidates);
    const likelihood = trialLikelihood(recording, observation, measures, health);
    return { observation, measures, atMost, ...(likelihood ? { likelihood } : {}) };
  });
  const decided = judged.some(({ observation }) => observation.verdict !== "undetermined");
  return {
    recording,
    health,
    ...measuredOffset(run),
    ...(runaway ? { runaway } : {}),
    driveSigns: driveSignsOf(recording, used),
    trials:
      judgeUnclocked(recording) ?? (declared || decided ? undefined : judgeUnscaled(recording)) ?? judged,
  };
}

/** A brief stretch under current that runs on into a trial under control is the beginning of that trial: its command came late into the log. */
function precedesItsCommand(trial: Trial, next: Trial | undefined): boolean {
  return (
    trial.kind === "torque" &&
    trial.source === "found" &&
    (next?.kind === "speed" || next?.kind === "position") &&
    next.from - trial.to <= 2 &&
    trial.end - trial.start < 0.1 * (next.end - next.start)
  );
}

/** Torque factor and offset error by the back-EMF, where the shaft turned, it was seen, and the position kept its count. */
function measuredOffset(run: Run): Pick<ReadRecording, "measured"> {
  if (run.health.withholds("offset")) return {};
  const { offsetError, torqueGain } = backEmfVector(run) ?? {};
  return offsetError && torqueGain ? { measured: { torqueFactor: torqueGain, offsetError } } : {};
}
