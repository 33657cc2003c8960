import type { LeadOrder } from "../machine/facts.js";
import { leadOrders } from "../machine/facts.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import { type Observation, observe } from "./observe.js";
import type { Diagnosis, OrderingVerdict, RecordingVerdict, TrialVerdict } from "./types.js";

/** One recording and the trials it was cut into. */
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

/** Judges one trial by itself. */
export function judgeTrial(recording: Recording, trial: Trial): TrialVerdict {
  return verdictOf(observe(recording, trial));
}

function verdictOf(observation: Observation): TrialVerdict {
  const { trial, verdict, confidence, sense, evidence, missing, text } = observation;
  return {
    kind: trial.kind,
    start: trial.start,
    end: trial.end,
    verdict,
    confidence,
    sense,
    evidence,
    causes: [],
    ...(missing.length > 0 ? { missing } : {}),
    text,
  };
}

/** Judges every trial and the set of lead orders. Pure. */
export function diagnose(inputs: readonly DiagnosisInput[], options: DiagnoseOptions = {}): Diagnosis {
  const observed = inputs.map(({ recording, trials }) => ({
    recording,
    observations: trials.filter((trial) => trial.kind !== "idle").map((trial) => observe(recording, trial)),
  }));
  const recordings: RecordingVerdict[] = observed.map(({ recording, observations }) => ({
    path: recording.path,
    ordering: recording.ordering ?? null,
    ...(recording.motor === undefined ? {} : { motor: recording.motor }),
    trials: observations.map(verdictOf),
    findings: recording.findings,
  }));
  const orderings: OrderingVerdict[] = [];
  for (const order of leadOrders) {
    const all = observed
      .filter(({ recording }) => recording.ordering === order)
      .flatMap((o) => o.observations);
    if (all.length > 0) orderings.push(orderVerdict(order, all));
  }
  return {
    version: options.version ?? "",
    recordings,
    orderings,
    advice: [],
    problems: options.problems ?? [],
  };
}

function orderVerdict(ordering: LeadOrder, all: readonly Observation[]): OrderingVerdict {
  const speed = all.filter((o) => o.trial.kind === "speed" && o.verdict !== "undetermined");
  const torque = all.filter((o) => o.trial.kind === "torque" && o.verdict !== "undetermined");
  const pick = (list: readonly Observation[]): Observation | undefined => list[list.length - 1];
  const judged = pick(speed) ?? pick(torque);
  if (!judged)
    return {
      ordering,
      verdict: "undetermined",
      usable: false,
      reason: "No trial of this order could be judged.",
    };
  const runaway = all.some((o) => o.verdict === "runaway" || o.sense === "against");
  const usable =
    !runaway && judged.verdict === "tracking" && judged.sense === "with" && judged.confidence > 0.98;
  return {
    ordering,
    verdict: runaway ? "runaway" : judged.verdict,
    usable,
    reason: all
      .filter((o) => o.trial.kind === "speed" || o.trial.kind === "torque")
      .map((o) => o.text)
      .join(" "),
  };
}
