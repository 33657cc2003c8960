import type {
  ChannelRole,
  Recording,
  Trial,
  TrialConditions,
  TrialDrive,
  TrialInput,
  TrialKind,
  TrialLoad,
  TrialShape,
} from "../types.js";
import type { CommandsAtWork } from "./commandsAtWork.js";
import { kindPriors, kindRows, usualSpeeds } from "./kindTable.js";
import { shapeOf } from "./shapeOf.js";
import { type StretchEvidence, stretchEvidence } from "./stretchEvidence.js";
import type { Motion } from "./unpoweredMotion.js";

/** A kind with its probability, and the clauses that weighed most for it. */
export interface JudgedKind {
  readonly kind: TrialKind;
  readonly probability: number;
  readonly why: readonly string[];
  readonly alternatives: readonly { readonly kind: TrialKind; readonly probability: number }[];
  /** What hangs on the shaft, where what weighed for the kind tells. */
  readonly load?: TrialLoad;
}

/**
 * The likeliest kind of a stretch without a logged command, from the table of what each kind shows.
 *
 * @param among kinds that are possible here
 */
export function likeliestKind(evidence: StretchEvidence, among: readonly TrialKind[]): JudgedKind {
  const held = kindRows.filter((row) => row.holds(evidence));
  const logs = among.map((kind) => {
    let log = Math.log(kindPriors[kind] ?? 0.01) + speedLog(kind, evidence);
    for (const row of held) log += row.logs[kind] ?? 0;
    return { kind, log };
  });
  logs.sort((a, b) => b.log - a.log);
  const top = logs[0];
  const sum = logs.reduce((total, { log }) => total + Math.exp(log - top.log), 0);
  const all = logs.map(({ kind, log }) => ({ kind, probability: Math.exp(log - top.log) / sum }));
  const rival = logs[1]?.kind;
  const why = held
    .map((row) => ({ row, gain: (row.logs[top.kind] ?? 0) - (rival ? (row.logs[rival] ?? 0) : 0) }))
    .filter(({ gain }) => gain > 0.3)
    .sort((a, b) => b.gain - a.gain)
    .slice(0, 3)
    .map(({ row }) => row);
  const load = top.kind === "motion" ? why.find((row) => row.load !== undefined)?.load : undefined;
  return {
    kind: top.kind,
    // The table is no law: certainty is never claimed from it.
    probability: Math.min(0.97, all[0].probability),
    why: why.map(({ finding }) => finding),
    ...(load === undefined ? {} : { load }),
    alternatives: all.slice(1).filter(({ probability }) => probability > 0.01),
  };
}

/** How usual the speed of the stretch is for a kind; a shaft that stays says nothing. */
function speedLog(kind: TrialKind, evidence: StretchEvidence): number {
  const usual = usualSpeeds[kind];
  if (usual === undefined || !evidence.moved || !(evidence.topSpeed > 0)) return 0;
  const z = Math.log(evidence.topSpeed / usual.middle) / usual.spread;
  return -0.5 * z * z - Math.log(usual.spread);
}

const inputOf: Readonly<Partial<Record<ChannelRole, TrialInput>>> = {
  sweepAngle: "angle",
  positionCommand: "position",
  speedCommand: "speed",
  currentCommand: "current",
  torqueCommand: "torque",
  voltageCommand: "voltage",
  voltage: "voltage",
  voltageQ: "voltage",
  duty: "duty",
};

const inputOfKind: Readonly<Partial<Record<TrialKind, TrialInput>>> = {
  torque: "current",
  voltage: "voltage",
  duty: "duty",
  speed: "speed",
  position: "position",
  held: "current",
  "alignment-sweep": "angle",
};

const driveOfKind: Readonly<Record<TrialKind, TrialDrive>> = {
  torque: "open-loop",
  voltage: "open-loop",
  duty: "open-loop",
  speed: "closed-loop",
  position: "closed-loop",
  held: "open-loop",
  motion: "unknown",
  coast: "coasting",
  driven: "from-outside",
  "hand-turn": "from-outside",
  "alignment-sweep": "open-loop",
  idle: "at-rest",
  unknown: "unknown",
};

/** Input, drive, load and shape of a trial whose kind is settled. */
export function conditionsOf(
  recording: Recording,
  trial: Pick<Trial, "kind" | "from" | "to" | "command">,
  judged: Omit<JudgedKind, "kind">,
  startsAway = false,
): TrialConditions {
  const { kind, command } = trial;
  const torqueMeasured = recording.channels.current === undefined && recording.channels.torque !== undefined;
  const input =
    command !== undefined
      ? (inputOf[command] ?? "none")
      : kind === "torque" && torqueMeasured
        ? "torque"
        : (inputOfKind[kind] ?? "none");
  const alternatives = judged.alternatives;
  return {
    input,
    drive: driveOfKind[kind],
    load: judged.load ?? loadOf(kind),
    shape: shapeOfTrial(recording, trial, startsAway),
    probability: judged.probability,
    why: judged.why,
    ...(alternatives !== undefined && alternatives.length > 0 ? { alternatives } : {}),
  };
}

function loadOf(kind: TrialKind): TrialLoad {
  return kind === "held" ? "load-cell" : kind === "driven" ? "second-motor" : "unknown";
}

function shapeOfTrial(
  recording: Recording,
  { kind, from, to, command }: Pick<Trial, "kind" | "from" | "to" | "command">,
  startsAway: boolean,
): TrialShape {
  const { channels } = recording;
  const role: ChannelRole | undefined =
    command ??
    (kind === "torque" || kind === "held"
      ? channels.current !== undefined
        ? "current"
        : "torque"
      : undefined);
  const data = role === undefined ? undefined : channels[role]?.data.subarray(from, to);
  if (data === undefined) return "free";
  const shape = shapeOf(data);
  return shape === "constant" && startsAway ? "step" : shape;
}

/** Kinds that a stretch can be in which no current, speed or position was commanded. */
export function possibleKinds(
  recording: Recording,
  evidence: StretchEvidence,
  powered: boolean,
): readonly TrialKind[] {
  const { current, currentBus, torque } = recording.channels;
  if (!evidence.motionKnown) return ["unknown", "torque", ...driveKinds(evidence)];
  const out: TrialKind[] = ["motion", "driven", "coast", "hand-turn"];
  if (!evidence.moved) out.push("idle");
  if (powered) out.push(...driveKinds(evidence));
  if (powered && (current ?? currentBus ?? torque) !== undefined) out.push("torque", "held");
  return out;
}

const driveKinds = ({ drive }: StretchEvidence): TrialKind[] =>
  drive === undefined ? [] : [drive === "duty" ? "duty" : "voltage"];

/** What was tried in a stretch without a logged command. */
export function judgeStretch(
  recording: Recording,
  from: number,
  to: number,
  motion: Motion | undefined,
  atWork: CommandsAtWork,
): { readonly judged: JudgedKind; readonly evidence: StretchEvidence } {
  const evidence = stretchEvidence(recording, from, to, motion, atWork.drive);
  return { judged: likeliestKind(evidence, possibleKinds(recording, evidence, true)), evidence };
}
