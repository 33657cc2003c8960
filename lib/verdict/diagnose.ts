import { type LeadOrder, leadOrders } from "../machine/facts.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import { judgeTrial } from "./judgeTrial.js";
import type { Diagnosis, OrderingVerdict, RecordingVerdict, TrialVerdict } from "./types.js";

/** One recording with the trials it was cut into. */
export interface DiagnosisInput {
  readonly recording: Recording;
  readonly trials: readonly Trial[];
}

/** What is known besides the recordings. */
export interface DiagnoseOptions {
  /** Problems met while reading; they are passed on in the diagnosis. */
  readonly problems?: readonly Finding[];
  /** Wanted sense of rotation seen from the drive end (IEC 60034-8). */
  readonly wanted?: "clockwise" | "counterclockwise";
  /** Version to write into the document. */
  readonly version?: string;
}

/**
 * Judges recordings of one motor: every trial, every lead order, and what to do.
 *
 * @example
 * const { orderings, advice } = diagnose([{ recording, trials: cutTrials(recording).trials }]);
 */
export function diagnose(inputs: readonly DiagnosisInput[], options: DiagnoseOptions = {}): Diagnosis {
  const recordings: RecordingVerdict[] = inputs.map(({ recording, trials }) => ({
    path: recording.path,
    ordering: recording.ordering ?? null,
    ...(recording.motor === undefined ? {} : { motor: recording.motor }),
    trials: trials.filter((trial) => trial.kind !== "idle").map((trial) => judgeTrial(recording, trial)),
    findings: recording.findings,
  }));
  const orderings = leadOrders.flatMap((ordering) => {
    const trials = recordings.filter((r) => r.ordering === ordering).flatMap((r) => r.trials);
    return trials.length === 0 ? [] : [judgeOrder(ordering, trials)];
  });
  return {
    version: options.version ?? "",
    recordings,
    orderings,
    advice: [],
    problems: options.problems ?? [],
  };
}

function judgeOrder(ordering: LeadOrder, trials: readonly TrialVerdict[]): OrderingVerdict {
  const speed = trials.find((trial) => trial.kind === "speed");
  const torque = trials.find((trial) => trial.kind === "torque");
  const deciding = speed ?? torque;
  const verdict = deciding?.verdict ?? "undetermined";
  const usable = speed?.verdict === "tracking" && torque?.sense !== "against";
  const reason = [torque, speed].flatMap((trial) => (trial === undefined ? [] : [trial.text])).join(" ");
  return { ordering, verdict, usable, reason };
}
