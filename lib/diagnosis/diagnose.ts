import type { Recording, Trial } from "../recording/types.js";
import { runOf } from "../run/run.js";
import { withSetScales } from "../run/setScales.js";
import { adviceFor } from "./advice.js";
import { fieldOrientedProbability } from "./driveKind.js";
import type { JudgedRecording, ReadRecording } from "./judged.js";
import { type DiagnoseOptions, type DiagnosisInput, priorsOf } from "./options.js";
import { judgeOrders } from "./orders.js";
import { readRun } from "./readRun.js";
import { inferSet } from "./setInference.js";
import { withDeadMotion } from "./setMotion.js";
import { recordingVerdict } from "./trialVerdict.js";
import type { Diagnosis, TrialVerdict } from "./types.js";

/**
 * Judges one trial by itself, without the rest of its recording or set.
 *
 * @example
 * judgeTrial(recording, trial).verdict; // => "tracking"
 */
export function judgeTrial(recording: Recording, trial: Trial, options: DiagnoseOptions = {}): TrialVerdict {
  const single: Recording =
    recording.ordering === undefined ? recording : { ...recording, ordering: undefined };
  return diagnose([{ recording: single, trials: [trial] }], options).recordings[0].trials[0];
}

/**
 * Judges recordings: every trial, every lead order, and what to do. Recordings that name the same motor are taken
 * together.
 *
 * Pure; bad data gives `undetermined`, never an exception.
 *
 * @example
 * const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
 * const { orderings, advice } = diagnose(inputs);
 * orderings.filter((order) => order.usable).map((order) => order.ordering); // => ["UVW"]
 */
export function diagnose(inputs: readonly DiagnosisInput[], options: DiagnoseOptions = {}): Diagnosis {
  return diagnoseRead(
    withSetScales(inputs.map(({ recording, trials }) => runOf(recording, trials))).map((run) => readRun(run)),
    options,
  );
}

/** The second pass: recordings that were read by themselves, each judged with what the others of its motor say. It
 * needs no columns. */
export function diagnoseRead(read: readonly ReadRecording[], options: DiagnoseOptions = {}): Diagnosis {
  const judged = judgeSets(read, options.priors);
  const groups = groupedBy(judged, ({ recording }) => recording.motor ?? "");
  const { advice, nextTest } = adviceFor(judged, options);
  return {
    schemaVersion: 2,
    version: options.version ?? "",
    recordings: judged.map((one) => recordingVerdict(one, groups.get(one.recording.motor ?? "") ?? [])),
    orderings: judgeOrders(judged),
    advice,
    nextTest,
    problems: options.problems ?? [],
  };
}

/**
 * Recordings of one motor that state their order are judged together; one without a stated order by itself, for it may
 * be of another motor or of another day.
 */
function judgeSets(read: readonly ReadRecording[], given: DiagnoseOptions["priors"]): JudgedRecording[] {
  const priors = priorsOf(given);
  const sets = groupedBy(read, (one) =>
    one.recording.ordering === undefined ? one : (one.recording.motor ?? ""),
  );
  const judged = new Map<ReadRecording, JudgedRecording>();
  for (const set of sets.values()) {
    const fieldOriented = fieldOrientedProbability(set.flatMap(({ driveSigns }) => driveSigns));
    inferSet(withDeadMotion(set), { ...priors, fieldOriented }).forEach((one, k) => {
      judged.set(set[k], one);
    });
  }
  return read.map((one) => judged.get(one) as JudgedRecording);
}

function groupedBy<Item, Key>(list: readonly Item[], keyOf: (item: Item) => Key): Map<Key, Item[]> {
  const groups = new Map<Key, Item[]>();
  for (const item of list) {
    const key = keyOf(item);
    const group = groups.get(key);
    if (group) group.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}
