import type { LawFit } from "../identify/commutation/torqueLaw.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { goesOn } from "./goesOn.js";
import { heldShare } from "./heldShare.js";
import { degrees, rpm, type Seen, short, unseen } from "./observation.js";
import type { Evidence, Sense } from "./types.js";

/** One answer of the shaft to one change of the command. */
interface Vote {
  readonly hold: Hold;
  readonly sign: 1 | -1;
  /** A strong vote cannot be explained by friction or by a shaft that was turning anyway. */
  readonly strong: boolean;
}

function vote(hold: Hold, before: Hold | undefined, noise: number): Vote | undefined {
  if (hold.sense === 0) return undefined;
  if (!hold.turning) {
    // Passing through rest within the hold: the command turned it round.
    if (hold.resting || Math.sign(hold.tailSpeed) === Math.sign(hold.startSpeed)) return undefined;
    if (Math.abs(hold.tailSpeed) < Math.max(4 * noise, 0.1 * hold.peakSpeed)) return undefined;
    if (Math.abs(hold.startSpeed) < 0.3 * hold.peakSpeed) return undefined;
    return { hold, sign: (Math.sign(hold.tailSpeed) * hold.sense) as 1 | -1, strong: true };
  }
  const start = before ? before.endSpeed : hold.startSpeed;
  const began = Math.abs(hold.startSpeed) < 0.3 * Math.abs(hold.endSpeed) ? hold.startSpeed : start;
  const end = hold.endSpeed;
  const along = (Math.sign(end) * hold.sense) as 1 | -1;
  if (Math.abs(end) < 2 * noise) return undefined;
  // From rest, or through rest into the other sense: only torque does that.
  if (Math.abs(began) < 0.15 * Math.abs(end)) return { hold, sign: along, strong: true };
  if (Math.sign(began) !== Math.sign(end) && Math.abs(end) > 0.1 * Math.abs(began))
    return { hold, sign: along, strong: true };
  const change = hold.level - (before?.level ?? 0);
  const gained = end - (before ? before.endSpeed : hold.startSpeed);
  if (Math.sign(gained) === Math.sign(end) && Math.abs(gained) > Math.max(0.04 * Math.abs(end), 4 * noise)) {
    // Speeding up further: unloaded, only a torque in the sense of turning does that, whether the command rose or is falling.
    return { hold, sign: along, strong: true };
  }
  if (before && Math.sign(change) !== Math.sign(end) && Math.abs(gained) > 4 * noise) {
    // Slowing down after the command fell: friction would do as much.
    return { hold, sign: (Math.sign(gained) * Math.sign(change)) as 1 | -1, strong: false };
  }
  // Turning steadily under a steady command: something must overcome friction, most likely the motor.
  return { hold, sign: along, strong: false };
}

/**
 * The command slowed the shaft down all along, to the end of the hold and as fast there as before: it passes through rest and does not stay. One that comes to
 * rest keeps hardly any of that slope.
 */
function passing(signals: TrialSignals, hold: Hold): boolean {
  const speed = signals.speed as Float64Array;
  if (Math.abs(hold.startSpeed) < 0.5 * hold.peakSpeed || hold.to - hold.from < 20) return false;
  const part = (k: number): number =>
    mean(
      speed,
      hold.from + Math.floor(((hold.to - hold.from) * k) / 10),
      hold.from + Math.floor(((hold.to - hold.from) * (k + 1)) / 10),
    );
  const usual = (part(7) - part(0)) / 7;
  const last = part(9) - part(8);
  return usual * hold.startSpeed < 0 && last * usual > 0 && Math.abs(last) > 0.5 * Math.abs(usual);
}

/** The speed stays within a tenth of its mean, in the means of twenty parts. */
function keptSpeed(speed: Float64Array, noise: number): boolean {
  const level = mean(speed);
  const size = Math.max(1, Math.floor(speed.length / 20));
  for (let i = 0; i + size <= speed.length; i += size)
    if (Math.abs(mean(speed, i, i + size) - level) > Math.max(0.1 * Math.abs(level), 2 * noise)) return false;
  return true;
}

/** What a torque trial shows. */
export function observeTorque(
  signals: TrialSignals,
  holds: readonly Hold[],
  fitted: LawFit | undefined,
): Seen {
  // A law that leaves most of the motion unexplained has no say.
  const law = fitted && fitted.unexplained < 0.5 ? fitted : undefined;
  if (!signals.effort && !signals.command)
    return unseen(
      ["a current or torque, commanded or measured"],
      "Neither a current nor a torque was logged: what turned the shaft cannot be said.",
    );
  if (signals.motionFrom === "none" || !signals.speed || !signals.angle)
    return unseen(
      ["the shaft's position or speed"],
      "Neither position nor speed was logged: what the shaft did cannot be said.",
    );
  const driven = holds.filter((hold) => hold.sense !== 0);
  if (driven.length === 0)
    return unseen(["a command other than zero"], "No torque was commanded in this trial.");
  const { angleStep, speedNoise, period } = signals;
  const evidence: Evidence[] = [];
  const longest = driven.reduce((a, b) => (b.length > a.length ? b : a));
  const stillLimit = 4 * angleStep;
  const swing = Math.max(...driven.map((hold) => hold.swing));
  const turning = driven.filter((hold) => hold.turning);
  // Holds too short to show anything beside the others do not count against turning.
  const long = driven.filter((hold) => hold.length > 0.25 * longest.length);
  const commanded = signals.command !== undefined;
  // Without a command channel a small measured current may be no command at all.
  const most = Math.max(...driven.map((hold) => Math.abs(hold.level)));
  // Friction holds a shaft under less than the smallest command that turned it.
  const broke = Math.min(...turning.map((hold) => Math.abs(hold.level)));
  const resting = long.filter(
    (hold) =>
      hold.resting &&
      !passing(signals, hold) &&
      (commanded || Math.abs(hold.level) > 0.5 * most) &&
      (turning.length === 0 || Math.abs(hold.level) > 0.98 * broke),
  );
  if (longest.to - longest.from < 8 || longest.length < 8 * period)
    return unseen(
      ["a command held for at least ten samples"],
      `The longest command lasted ${short(longest.length * 1000)} ms, which is ${longest.to - longest.from} samples: too few to judge by.`,
    );
  const noiseSource = `noise: four counts of the position (${short(degrees(angleStep))} deg each)`;
  evidence.push({
    quantity: "largest travel under one command",
    value: degrees(swing),
    unit: "deg",
    limit: degrees(stillLimit),
    limitSource: noiseSource,
    meaning: swing > stillLimit ? "the shaft moved" : "the shaft did not move",
  });
  const share = longest.currentShare;
  if (share !== undefined)
    evidence.push({
      quantity: "measured current over commanded current",
      value: share,
      unit: "1",
      limit: 0.9,
      limitSource: "physics: a shaft at rest asks for no back-EMF, so current control holds its command",
      meaning:
        turning.length > 0
          ? share < 0.9
            ? "below its command while turning: no voltage left, as a spinning unloaded shaft shows"
            : "at its command while turning"
          : share > 0.9
            ? "current control is in order; the torque is what is missing"
            : share < 0.2
              ? "hardly any current flowed: the motor was not really asked"
              : "the current does not reach its command although nothing turns",
    });

  // So many steps that each hold is short: the equation of motion is the better judge, where it has one.
  const many = commanded && driven.length >= 12;
  const clear = law !== undefined && law.unexplained < 0.4 && Math.abs(law.direct) > 8 * law.error;
  const moving = commanded && driven.length >= 6 && heldShare(signals.command as Float64Array, holds) < 0.6;
  if (moving || (many && clear)) return waves(signals, law, evidence);
  const oneSense = driven.every((hold) => hold.sense === driven[0].sense);
  const whole = { ...longest, from: driven[0].from, to: driven[driven.length - 1].to };
  const goes = long.some((hold) => goesOn(signals, hold)) || (oneSense && goesOn(signals, whole));
  if (turning.length === 0 && goes)
    return unseen(
      ["a position or speed without false samples"],
      "The shaft goes on one way under the command, and its motion is too disturbed to say more.",
      evidence,
    );
  if (turning.length === 0) return blocked(signals, driven, longest, swing, stillLimit, evidence);

  const votes: Vote[] = [];
  for (const hold of driven) {
    const at = holds.indexOf(hold);
    const cast = vote(hold, holds[at - 1], speedNoise);
    if (cast) votes.push(cast);
  }
  const strong = votes.filter((v) => v.strong);
  const z = law ? law.direct / Math.max(law.error, 1e-300) : 0;
  let counted = strong.length > 0 ? strong : votes;
  // Without a command the measured current falls on the plateau and its holds are blurred; the equation of motion is not.
  const byLaw = !commanded && law !== undefined && law.unexplained < 0.4 && Math.abs(z) > 8;
  if (byLaw) counted = counted.filter((v) => v.sign === Math.sign(z));
  const withs = counted.filter((v) => v.sign > 0).length;
  const againsts = counted.length - withs;
  const plus = turning.filter((h) => h.sense > 0);
  const minus = turning.filter((h) => h.sense < 0);
  for (const [list, word] of [
    [plus, "positive"],
    [minus, "negative"],
  ] as const) {
    const hold = list.reduce<Hold | undefined>(
      (a, b) => (!a || Math.abs(b.endSpeed) > Math.abs(a.endSpeed) ? b : a),
      undefined,
    );
    if (hold)
      evidence.push({
        quantity: `speed at the end of the ${word} command`,
        value: hold.endSpeed,
        unit: "rad/s",
        limit: Math.sign(hold.endSpeed) * Math.max(3 * speedNoise, angleStep / hold.length),
        limitSource: "noise: three standard deviations of the speed",
        meaning: `turns ${hold.endSpeed * hold.sense > 0 ? "with" : "against"} the command`,
      });
  }
  if (law)
    evidence.push({
      quantity: `acceleration per ${signals.effortRole === "torque" || signals.effortRole === "torqueCommand" ? "newton metre" : "ampere"} (g*Kt/J)`,
      value: law.direct,
      unit:
        signals.effortRole === "torque" || signals.effortRole === "torqueCommand"
          ? "rad/s2/(N.m)"
          : "rad/s2/A",
      limit: Math.sign(law.direct) * 3 * law.error,
      limitSource:
        "noise: three standard errors of the fit of the equation of motion, 5 % model error included",
      meaning:
        Math.abs(z) < 3
          ? "too uncertain to give a sign"
          : z > 0
            ? "torque in the sense of the command"
            : "torque against the sense of the command",
    });

  // Turned under some commands, rested under others.
  if (resting.length > 0 && !(byLaw && counted.length > 0)) {
    const lastTurning = turning[turning.length - 1];
    const after = resting.filter((hold) => hold.from >= lastTurning.to);
    const moves = after.some((hold) => goesOn(signals, hold));
    if (
      !many &&
      !moves &&
      after.length > 0 &&
      after.every((hold) => Math.abs(hold.level) > 0.7 * Math.abs(lastTurning.level))
    ) {
      return {
        behaviour: "locks",
        verdict: "blocked",
        confidence: 0.8,
        sense: "none",
        evidence,
        missing: [],
        text: `The shaft turned ${short(degrees(Math.abs(lastTurning.travel)) / 360)} turns, then came to rest under current and stayed: blocked.`,
        bothSenses: false,
      };
    }
    return {
      behaviour: "one-way",
      verdict: "undetermined",
      confidence: 0.6,
      sense: "none",
      evidence,
      missing: ["a trial that turns, or rests, under both senses of the command"],
      text: `The shaft turned under ${turning.length} of ${turning.length + resting.length} commands and rested under the others: a load, or a rest angle, may be helping it one way.`,
      bothSenses: false,
    };
  }
  if (counted.length === 0 || (withs > 0 && againsts > 0)) {
    // One direction whatever was asked?
    const sameWay = turning.length >= 2 && turning.every((h) => h.endSpeed * turning[0].endSpeed > 0);
    const bothAsked = plus.length > 0 && minus.length > 0;
    const ignored =
      !many &&
      sameWay &&
      bothAsked &&
      turning.every((h) => Math.abs(h.endSpeed) > 0.8 * Math.abs(turning[0].endSpeed));
    if (ignored)
      return {
        behaviour: "runs-away",
        verdict: "runaway",
        confidence: 0.75,
        sense: "none",
        evidence,
        missing: [],
        text: "The shaft kept turning one way although the command was reversed.",
        bothSenses: true,
      };
    return {
      ...unseen(
        ["a trial from standstill in both senses"],
        "The shaft turned, but not in one sense against its command; begin from rest and hold each command longer.",
        evidence,
      ),
    };
  }
  if (strong.length === 0 && keptSpeed(signals.speed, speedNoise))
    return unseen(
      ["a change of the command, from rest"],
      `Nothing was tried here: the shaft keeps its speed throughout (${rpm(mean(signals.speed))}), and a steady state does not tell what turns it.`,
      evidence,
    );
  const sign = withs > againsts ? 1 : -1;
  const agrees = law ? Math.sign(law.direct) === sign : true;
  const bothSenses =
    counted.some((v) => v.hold.sense > 0 && v.strong) && counted.some((v) => v.hold.sense < 0 && v.strong);
  const both = counted.some((v) => v.hold.sense > 0) && counted.some((v) => v.hold.sense < 0);
  let confidence = strong.length === 0 ? 0.8 : strong.length === 1 ? 0.95 : 0.99;
  if (bothSenses) confidence = 0.995;
  if (byLaw) confidence = Math.min(confidence, 0.97);
  if (law && Math.abs(z) > 3) confidence = agrees ? 1 - (1 - confidence) * 0.4 : confidence * 0.7;
  const sense: Sense = sign > 0 ? "with" : "against";
  const top = turning.reduce((a, b) => (Math.abs(b.endSpeed) > Math.abs(a.endSpeed) ? b : a));
  const [ahead, back] = [plus[plus.length - 1], minus[minus.length - 1]];
  const turnedRound = ahead && back && ahead.endSpeed * back.endSpeed < 0;
  const speeds =
    ahead && back && !turnedRound
      ? `${rpm(ahead.endSpeed)} at the end of the positive command and still ${rpm(back.endSpeed)} at the end of the negative one, which was too short to turn it round`
      : plus.length > 0 && minus.length > 0
        ? `${rpm(plus[plus.length - 1].endSpeed)} under the positive command, ${rpm(minus[minus.length - 1].endSpeed)} under the negative one`
        : `${rpm(top.endSpeed)} under ${top.sense > 0 ? "a positive" : "a negative"} command`;
  if (law && Math.abs(z) > 4 && !agrees && strong.length < 2)
    return {
      ...unseen(
        ["a trial from standstill in both senses"],
        `The shaft turned (${speeds}), but its acceleration contradicts the sense it turned in; something else than the command may be turning it.`,
        evidence,
      ),
    };
  return {
    behaviour: "turns",
    verdict: sense === "with" ? "tracking" : "reversed",
    confidence,
    sense,
    evidence,
    missing: both ? [] : ["the other sense of the command"],
    text:
      sense === "with"
        ? `Turns with its command: ${speeds}.${both ? "" : " Only one sense of the command was tried."}`
        : `TURNS AGAINST ITS COMMAND: ${speeds}. It spins and reverses, which looks right and is not: the torque has the wrong sign.`,
    bothSenses,
  };
}

/**
 * A command that moves all the time (a sine, a chirp, ramps) has no holds to judge by: the equation of motion alone tells whether the acceleration goes with
 * the command. A shaft that does not move is blocked as under any command.
 */
function waves(signals: TrialSignals, law: LawFit | undefined, evidence: Evidence[]): Seen {
  if (range(signals.angle as Float64Array) <= 4 * signals.angleStep)
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
  const z = law ? law.direct / Math.max(law.error, 1e-300) : 0;
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

function blocked(
  signals: TrialSignals,
  driven: readonly Hold[],
  longest: Hold,
  swing: number,
  stillLimit: number,
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
