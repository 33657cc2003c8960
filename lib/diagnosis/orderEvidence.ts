import { type JudgedRecording, offsetPosterior } from "./judged.js";
import { withoutCurrent } from "./likelihood.js";
import { type LoopProbabilities, loopProbabilities } from "./loopForecast.js";
import type { Observation } from "./observe.js";
import { thresholds } from "./tables/thresholds.js";
import { factorBelow, factorQuantile } from "./torqueFactor.js";
import type { VerdictWord } from "./types.js";

/** What was seen of one order. */
export interface OrderEvidence {
  readonly torque: readonly Observation[];
  readonly speed: readonly Observation[];
  /** A speed trial was run in which no current flowed. */
  readonly idle: boolean;
  readonly mirrored: boolean;
  /** Seen turning against its command, or running away. */
  readonly against: boolean;
  readonly blocked: boolean;
  /** Median torque factor where the shaft turned with its command; 1 where nothing is known of it. */
  readonly factor: number;
  /** Probability that the offset leaves less than half the torque, where it turned with its command; 0 where nothing is
   * known of it. */
  readonly weak: number;
  readonly loop: LoopProbabilities;
  /** Some trial tells causes apart; where none does (counts without a scale), probabilities are those before any
   * log. */
  readonly weighed: boolean;
}

const observed = (judged: readonly JudgedRecording[]): Observation[] =>
  judged.flatMap(({ trials }) => trials.map(({ observation }) => observation));

/** Gathers what the recordings of one order show; `most` is the one that says most. */
export function evidenceOf(judged: readonly JudgedRecording[], most: JudgedRecording): OrderEvidence {
  const observations = observed(judged);
  const torque = observations.filter((o) => o.trial.kind === "torque");
  const turned = torque.some((o) => o.behaviour === "turns");
  // A speed trial in which no current flowed (tripped, not enabled) says nothing of the order, where its torque trial
  // was driven.
  const starved = judged.flatMap(({ trials }) =>
    trials.filter((t) => withoutCurrent(t.observation, t.measures)).map(({ observation }) => observation),
  );
  const idle = turned ? starved : [];
  const speed = observations.filter((o) => o.trial.kind === "speed" && !idle.includes(o));
  const mirrored = speed.some((o) => o.behaviour === "mirrored");
  const works = sureTorque(torque) || sureSpeed(speed);
  const offsets = offsetPosterior(most.posterior, most.offsets);
  return {
    torque,
    speed,
    idle: idle.length > 0,
    mirrored,
    against:
      observations.some((o) => o.verdict === "runaway") ||
      (!mirrored && observations.some((o) => o.sense === "against")),
    blocked: observations.some((o) => o.verdict === "blocked" && !idle.includes(o)),
    factor: works ? factorQuantile(offsets, 0.5) : 1,
    weak: works ? factorBelow(offsets, thresholds.usableTorqueFactor.value) : 0,
    loop: loopProbabilities(most.posterior, most.offsets, turned),
    weighed: judged.some(({ trials }) => trials.some(({ likelihood, hand }) => likelihood ?? hand)),
  };
}

/** It turned with its command both ways. */
const sureTorque = (torque: readonly Observation[]): boolean =>
  torque.some(
    (o) =>
      o.behaviour === "turns" &&
      o.sense === "with" &&
      o.bothSenses &&
      o.confidence > thresholds.sureOfTorqueTrial.value,
  );

/** Every speed trial tracked. */
const sureSpeed = (speed: readonly Observation[]): boolean =>
  speed.length > 0 &&
  speed.every((o) => o.verdict === "tracking" && o.confidence > thresholds.sureOfSpeedTrial.value);

/**
 * Evidence before probability: turning with its command both ways, or a speed trial that tracks, over at least half a
 * turn; and a loop that would hold. An order that has lost most of its torque to the offset may hold a speed, but is
 * not one to keep as it stands.
 */
export function isUsable(judged: readonly JudgedRecording[], evidence: OrderEvidence): boolean {
  const { torque, speed, against, mirrored, blocked, factor, weak, loop } = evidence;
  const travel = Math.max(0, ...observed(judged).flatMap((o) => o.holds.map((h) => Math.abs(h.travel))));
  return (
    factor >= thresholds.usableTorqueFactor.value &&
    weak < thresholds.weakTorque.value &&
    !against &&
    !mirrored &&
    !blocked &&
    (sureTorque(torque) || sureSpeed(speed)) &&
    loop.tracking > thresholds.usableTracking.value &&
    travel > thresholds.usableTravel.value &&
    !(speed.length > 0 && !speed.some((o) => o.verdict === "tracking"))
  );
}

/** The verdict on the order as a whole. */
export function orderVerdict(
  judged: readonly JudgedRecording[],
  evidence: OrderEvidence,
  usable: boolean,
): VerdictWord {
  const { torque, speed, against, loop, weighed } = evidence;
  if (against) return observed(judged).some((o) => o.verdict === "runaway") ? "runaway" : "reversed";
  if (usable) return "tracking";
  const seen = [...speed, ...torque].find((o) => o.verdict !== "undetermined");
  if (seen === undefined) return "undetermined";
  const holds = weighed ? loop.tracking : seen.confidence;
  return seen.verdict === "tracking" && holds < thresholds.keepsTracking.value
    ? "undetermined"
    : seen.verdict;
}
