import { range } from "../numeric/series/range.js";
import { degrees, type Seen, short, unseen } from "./observation.js";
import type { TorqueTrial } from "./torqueTrial.js";
import { lawSureness } from "./torqueVotes.js";
import type { Evidence } from "./types.js";

/**
 * A command that moves all the time (a sine, a chirp, ramps) has no holds to judge by: the equation of motion alone
 * tells whether the acceleration goes with the command. A shaft that does not move is blocked as under any command.
 */
export function waves({ signals, law }: TorqueTrial, evidence: Evidence[]): Seen {
  if (range(signals.angle) <= 4 * signals.angleStep)
    return {
      behaviour: "still",
      verdict: "blocked",
      confidence: 0.9,
      sense: "none",
      evidence,
      missing: [],
      text: "Blocked: the shaft did not move under a torque that changed all the time.",
      bothSenses: true,
    };
  const z = lawSureness(law);
  if (law === undefined || law.unexplained > 0.4 || Math.abs(z) < 8)
    return unseen(
      ["a command that is held for a while, both ways"],
      "The command changes all the time, and the acceleration does not follow it closely enough to say more.",
      evidence,
    );
  const sure = 0.97 - 0.5 * law.unexplained;
  return {
    behaviour: "turns",
    verdict: z > 0 ? "tracking" : "reversed",
    confidence: sure,
    sense: z > 0 ? "with" : "against",
    evidence,
    missing: [],
    text:
      z > 0
        ? "Moves with its command, which changes all the time: the acceleration follows it."
        : "TURNS AGAINST ITS COMMAND, which changes all the time: the acceleration has the opposite sign.",
    bothSenses: true,
  };
}

/** How much of its command a current held, in words. */
function currentWords(share: number): string {
  if (share > 1.05) return `${short(share)} times its command`;
  return share < 0.95 ? `${short(share * 100)} % of its command` : "its command";
}

/** A shaft that nothing turned: how far it moved, whether it rang, and what the current did. */
export function blocked(
  { signals, driven, longest, swing, stillLimit }: TorqueTrial,
  evidence: Evidence[],
): Seen {
  const moved = swing > stillLimit;
  const ringing = moved && longest.endSwing > Math.max(stillLimit, 0.1 * swing);
  const both = driven.some((h) => h.sense > 0) && driven.some((h) => h.sense < 0);
  evidence.push({
    quantity: "speed at the end of the longest command",
    value: longest.endSpeed,
    unit: "rad/s",
    limit: Math.max(3 * signals.speedNoise, (4 * signals.angleStep) / longest.length),
    limitSource: "noise: three standard deviations of the speed, or four counts over the hold",
    meaning: ringing ? "rings about a rest angle" : "at rest although torque was commanded",
  });
  const reach = longest.currentReach ?? longest.currentShare;
  const dead = reach !== undefined && Math.abs(reach) < 0.15;
  const how = moved
    ? `moved ${short(degrees(swing))} deg and ${ringing ? "rang about a rest angle" : "stopped"}`
    : "did not move";
  const current = dead
    ? " Hardly any current flowed, so the motor was not really tried."
    : longest.currentShare !== undefined && longest.currentShare > 0.9 && longest.currentShare < 1.5
      ? ` The current held ${currentWords(longest.currentShare)}: current control works, torque production does not.`
      : "";
  // A whole turn and more without settling may be a slow hunt; a short command may be too short.
  const doubtful = longest.to - longest.from < 15 || longest.length < 0.02;
  return {
    behaviour: swing > 2 * Math.PI * 0.75 ? "locks" : moved ? "swings" : "still",
    verdict: "blocked",
    confidence: doubtful ? 0.8 : both ? 0.995 : 0.98,
    sense: "none",
    evidence,
    missing: [],
    text: `Blocked: the shaft ${how}${both ? ", whichever way it was asked" : ""}.${current}`,
    bothSenses: both,
  };
}
