import type { ChannelRole, Finding } from "../recording/types.js";
import type { Gate } from "../run/health.js";
import type { Run } from "../run/run.js";
import { unconfirmedCounts } from "../run/unconfirmedCounts.js";
import type { Observation } from "./observation.js";

/** What the health of a run's channels bounds and withholds. Plain data: it passes between processes. */
export interface HealthBounds {
  /** Findings that stand in the first lines of every output. */
  readonly attention: readonly Finding[];
  /** Everything noticed about the recording. */
  readonly findings: readonly Finding[];
  /** The finding that withholds an estimate of the offset, the evidence of the current, or the sense of an answer. */
  readonly offset?: Finding;
  readonly current?: Finding;
  readonly sense?: Finding;
  readonly verdict?: Finding;
  /** The finding for which the size of the motion is not known. */
  readonly scale?: Finding;
  /** The motion rests on counts whose scale nothing else in the log confirms. */
  readonly countsAlone?: true;
  /** The finding for which what was asked and what was done cannot be held against each other, and the channels it is
   * about. */
  readonly answer?: { readonly finding: Finding; readonly channels: Gate["channels"] };
}

/** Takes the bounds out of a run. */
export function healthBounds(run: Run): HealthBounds {
  const { health, checks } = run;
  const known = new Set<string>();
  const findings = checks.filter((finding) => {
    const key = `${finding.code} ${finding.column ?? ""} ${finding.row ?? ""} ${finding.message}`;
    return known.has(key) ? false : known.add(key);
  });
  const withheld = (what: "offset" | "current" | "sense" | "verdict" | "scale"): object => {
    const finding = health.withholds(what);
    return finding ? { [what]: finding } : {};
  };
  const answer = health.troubles.find(({ gate }) => gate.withholds?.includes("answer"));
  return {
    attention: health.headline,
    findings,
    ...withheld("offset"),
    ...withheld("current"),
    ...withheld("sense"),
    ...withheld("verdict"),
    ...withheld("scale"),
    ...(unconfirmedCounts(run) === undefined ? {} : { countsAlone: true as const }),
    ...(answer ? { answer: { finding: answer.finding, channels: answer.gate.channels } } : {}),
  };
}

/** Channels that the verdict on a trial rests on. */
function channelsOf({ signals, trial }: Observation): ChannelRole[] {
  const { motionFrom, commandRole, effortRole } = signals;
  return [...(motionFrom === "none" ? [] : [motionFrom]), commandRole ?? trial.command, effortRole].filter(
    (role): role is ChannelRole => role !== undefined,
  );
}

/**
 * Trials whose verdict rests on the sign of the answer alone: a scale that is open between two channels does not touch
 * it, and leaves this much of it (common practice, no source).
 */
const bySign = { kinds: new Set(["torque", "voltage", "duty"]), atMost: 0.85 };

/** The most that a verdict on this trial may claim, 0 to 1: it is no surer than the channels it rests on. */
export function surest(run: Run, observation: Observation): number {
  const channels = channelsOf(observation);
  const open = run.health.withholds("verdict");
  if (open === undefined || !bySign.kinds.has(observation.trial.kind)) return run.health.atMost(channels);
  const others = run.health.troubles
    .filter(({ finding }) => finding !== open)
    .filter(({ gate }) => gate.channels === "all" || gate.channels.some((role) => channels.includes(role)))
    .map(({ gate }) => gate.atMost);
  return Math.min(bySign.atMost, ...others);
}

/** The finding that keeps command and answer of this trial apart: one about its motion, or about what drives it where
 * the verdict rests on that. */
function answerOf(observation: Observation, { answer }: HealthBounds): Finding | undefined {
  if (answer === undefined) return undefined;
  const { motionFrom, effortRole } = observation.signals;
  const { kind, command } = observation.trial;
  const rests: (ChannelRole | undefined)[] = [motionFrom === "none" ? undefined : motionFrom];
  if (bySign.kinds.has(kind) || kind === "held") rests.push(command, effortRole);
  const about = rests.some((role) => role !== undefined && answer.channels.includes(role));
  return answer.channels === "all" || about ? answer.finding : undefined;
}

/** An observation no surer than its channels; where they contradict each other, none. */
export function bounded(observation: Observation, atMost: number, bounds: HealthBounds): Observation {
  const confidence = Math.min(observation.confidence, atMost);
  if (observation.verdict === "undetermined") return { ...observation, confidence };
  // Without a command logged the current stands in for it: its sign is then all there is of the sense.
  const blind = bounds.sense && observation.signals.command === undefined && observation.sense !== "none";
  // How far a loop is from its reference is a matter of scale: that it turned is seen, that it hardly did is not.
  const hardlyTurned = observation.verdict === "blocked" ? bounds.scale : undefined;
  const scale = bySign.kinds.has(observation.trial.kind) ? undefined : (bounds.verdict ?? hardlyTurned);
  const reason = answerOf(observation, bounds) ?? scale ?? (blind ? bounds.sense : undefined);
  if (!reason) return { ...observation, confidence };
  return {
    ...observation,
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: Math.min(confidence, 0.5),
    sense: "none",
    missing: [reason.meaning ?? "channels that agree with each other", ...observation.missing],
    text: `Not judged: ${reason.message}. Taken as logged it would be ${observation.verdict}.`,
  };
}
