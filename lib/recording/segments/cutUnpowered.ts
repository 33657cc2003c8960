import type { Recording, Trial, TrialKind } from "../types.js";
import type { CommandsAtWork } from "./commandsAtWork.js";
import { type JudgedKind, likeliestKind, possibleKinds } from "./conditions.js";
import { stretchEvidence } from "./stretchEvidence.js";
import { withConditions } from "./trialOf.js";
import {
  decayFrom,
  type LeftOver,
  leastHandTurn,
  type Motion,
  movedBetween,
  speedAt,
  withoutCurrent,
} from "./unpoweredMotion.js";

/** What an unpowered stretch is cut by. */
export interface Unpowered {
  readonly recording: Recording;
  readonly motion: Motion | undefined;
  readonly atWork: CommandsAtWork;
}

const rested: JudgedKind = {
  kind: "idle",
  probability: 0.97,
  why: ["nothing is commanded and the shaft rests"],
  alternatives: [],
};

/**
 * Cuts a stretch in which nothing is commanded and no current is seen, by its motion:
 *
 * - **coast**: the shaft turns when the stretch begins and its speed decays from there, to rest or to the stretch's
 * end;
 * - **hand-turn**, **driven**, **motion**: the shaft is set moving, or made faster: by a hand at a hand's speeds, by
 * something faster from outside, or,
 *   where neither a current nor a command was logged, most likely by its own drive;
 * - **idle**: rest.
 *
 * A shaft that keeps its speed without a current to be seen is neither (it is driven by a current too small to show, or
 * from outside), nor is one that slows down while a current flows although none is commanded (a drive that brakes):
 * they are left over, with the reason.
 *
 * @param driven whether the stretch follows one with current; without it a decay is a coast-down only where the log
 * begins in motion
 */
export function cutUnpowered(
  scene: Unpowered,
  from: number,
  to: number,
  driven: boolean,
  trials: Trial[],
  leftOver: LeftOver[],
): void {
  const { recording, motion } = scene;
  const { time } = recording;
  const leave = (a: number, b: number, reason: string): void => {
    if (b > a) leftOver.push({ from: a, to: b, start: time[a], end: time[b - 1], reason });
  };
  const push = (kind: "idle" | "coast" | "moved", a: number, b: number): void => {
    if (b - a < 2) leave(a, b, "fewer than 2 samples");
    else if (kind !== "idle" && !withoutCurrent(recording, a, b))
      leave(a, b, "the shaft turns and a current flows although none is commanded");
    else {
      const { kind: settled, ...judged } = kind === "idle" ? rested : kindOf(scene, kind, a, b);
      trials.push(withConditions(recording, { kind: settled, from: a, to: b, source: "found" }, judged));
    }
  };
  if (motion === undefined) {
    leave(from, to, "no current, and neither speed nor position logged");
    return;
  }
  const { speed, rest } = motion;
  let at = from;
  if ((driven || from === 0) && Math.abs(speedAt(speed, from, to)) > rest) {
    const decay = decayFrom(speed, from, to, rest);
    const seen = effortKnown(recording);
    if (
      decay.kind === "coast" &&
      (driven || seen || kindOf(scene, "coast", from, decay.end).kind === "coast")
    ) {
      push("coast", from, decay.end);
      at = decay.end;
    } else if (decay.kind === "steady" && driven) {
      leave(from, decay.end, "the shaft keeps its speed without a current to be seen");
      at = decay.end;
    }
  }
  // Moving without current, when it goes on longer than noise would.
  let idle = at;
  while (at < to) {
    let start = at;
    while (start < to && !(Math.abs(speed[start]) > rest)) start += 1;
    if (start >= to) break;
    let end = start;
    let still = 0;
    const pause = Math.max(20, Math.ceil((to - from) / 10));
    for (let i = start; i < to && still < pause; i += 1) {
      if (Math.abs(speed[i]) > rest) {
        end = i + 1;
        still = 0;
      } else still += 1;
    }
    if (end - start >= 10 && movedBetween(recording, start, end) > leastHandTurn(recording)) {
      if (start > idle) push("idle", idle, start);
      push("moved", start, end);
      idle = end;
    }
    // Less is a twitch: it stays in the idle stretch.
    at = end;
  }
  if (idle < to) push("idle", idle, to);
}

function effortKnown(recording: Recording): boolean {
  const { current, currentBus, torque, currentCommand, torqueCommand } = recording.channels;
  return (current ?? currentBus ?? torque ?? currentCommand ?? torqueCommand) !== undefined;
}

/** The likeliest kind of a moving stretch; one that decays from the last powered trial is a coast-down by its place in
 * the log. */
function kindOf(scene: Unpowered, kind: "coast" | "moved", from: number, to: number): JudgedKind {
  const { recording, motion, atWork } = scene;
  const known = effortKnown(recording);
  const slows = (why: string): JudgedKind => ({
    kind: "coast",
    probability: 0.95,
    why: [why],
    alternatives: [],
  });
  if (kind === "coast" && known)
    return slows("nothing is commanded, no current flows and the shaft slows down");
  const evidence = stretchEvidence(recording, from, to, motion, atWork.drive);
  if (kind === "coast" && evidence.driveZero) return slows("no voltage is set and the shaft slows down");
  const decays = kind === "coast" ? true : evidence.decays;
  // A command that was logged and is at zero drives nothing.
  const among = possibleKinds(recording, evidence, false).filter(
    (k: TrialKind) => k !== "motion" || !commandLogged(recording),
  );
  const seen = evidence.effort === "not logged" && known ? "none" : evidence.effort;
  return likeliestKind({ ...evidence, decays, effort: seen }, among);
}

function commandLogged(recording: Recording): boolean {
  const { currentCommand, torqueCommand } = recording.channels;
  return (currentCommand ?? torqueCommand) !== undefined;
}
