import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { judgeFollowing } from "./followModels.js";
import { goesOn } from "./goesOn.js";
import { heldShare } from "./heldShare.js";
import { degrees, rpm, type Seen, short, unseen } from "./observation.js";
import { type ReachedAtEnd, secondOpinion } from "./secondOpinion.js";
import type { Evidence } from "./types.js";

type HoldWord = "follows" | "short" | "overshoots" | "against" | "rest" | "unclear";

interface Judged {
  readonly hold: Hold;
  readonly word: HoldWord;
  /** Speed at the end over the reference. */
  readonly ratio: number;
  readonly ripple: number;
}

/** Mean and swing of the speed about its reference over the last third of a hold. */
function judgeHold(signals: TrialSignals, hold: Hold, top: number): Judged {
  const speed = signals.speed as Float64Array;
  const command = signals.command as Float64Array;
  const third = Math.max(hold.from, hold.to - Math.max(3, Math.round((hold.to - hold.from) / 3)));
  const reference = mean(command, third, hold.to);
  const end = hold.endSpeed;
  let square = 0;
  for (let i = third; i < hold.to; i += 1) square += (speed[i] - end) ** 2;
  const ripple = Math.max(0, Math.sqrt(square / Math.max(1, hold.to - third)) - 1.5 * signals.speedNoise);
  const ratio = end / reference;
  const peakAt = peak(speed, hold);
  const tolerance = 0.15 + (4 * signals.speedNoise) / Math.sqrt(hold.to - third) / Math.abs(reference);
  let word: HoldWord;
  const rest = Math.abs(hold.startSpeed) < 0.2 * Math.abs(reference);
  const tail = mean(
    speed,
    Math.max(third, hold.to - Math.max(2, Math.round((hold.to - third) / 3))),
    hold.to,
  );
  const nearing = Math.abs(tail - reference) < 0.9 * Math.abs(mean(speed, third, third + 2) - reference);
  // A kick about a rest angle is no runaway: the shaft must have gone at least a turn.
  const gone = Math.abs(hold.travel) > 2 * Math.PI;
  if (Math.abs(ratio - 1) < tolerance) word = "follows";
  else if (
    rest &&
    gone &&
    Math.sign(peakAt) !== Math.sign(reference) &&
    Math.abs(peakAt) > 0.5 * Math.abs(reference)
  )
    word = "against";
  else if (ratio < -0.3 && hold.turning && !(nearing && rest === false)) word = "against";
  else if (Math.abs(ratio) > 1.5 && hold.turning && !nearing && Math.abs(end) > 0.3 * top)
    word = "overshoots";
  else if (!hold.turning && (Math.abs(ratio) < 0.15 || !gone)) word = "rest";
  else if (ratio > 0.3 && ratio < 1 && hold.turning) word = "short";
  else if (nearing && Math.abs(ratio - 1) < 0.6) word = "short";
  else if (Math.abs(ratio) < 0.05) word = "rest";
  else word = "unclear";
  return { hold, word, ratio, ripple: ripple / Math.abs(reference) };
}

function peak(speed: Float64Array, hold: Hold): number {
  let at = hold.from;
  for (let i = hold.from; i < hold.to; i += 1) if (Math.abs(speed[i]) > Math.abs(speed[at])) at = i;
  return speed[at];
}

/** The current over the last third of a hold lies near the largest seen anywhere: the loop presses and gets nothing for
 * it. */
function pressedAtEnd(signals: TrialSignals, hold: Hold): boolean {
  const { current } = signals;
  if (!current) return true;
  const third = hold.to - Math.max(3, Math.round((hold.to - hold.from) / 3));
  return Math.abs(mean(current, third, hold.to)) > 0.6 * largest(current);
}

/** What a speed trial shows: by its steps, and held against accounts of the whole trial. */
export function observeSpeed(signals: TrialSignals, holds: readonly Hold[]): Seen {
  const { command, speed } = signals;
  if (!command)
    return unseen(
      ["the speed command"],
      "The speed command was not logged: whether it was followed cannot be said.",
    );
  if (!speed || !signals.angle)
    return unseen(
      ["the shaft's position or speed"],
      "Neither position nor speed was logged: what the shaft did cannot be said.",
    );
  const last = holds.filter((hold) => hold.sense !== 0).at(-1);
  const pressed = signals.current && last ? pressedAtEnd(signals, last) : undefined;
  const judgement = judgeFollowing({
    time: signals.time,
    command,
    measured: speed,
    angle: signals.angle,
    offset: false,
    noise: signals.speedNoise,
    ...(pressed === undefined ? {} : { pressed }),
  });
  const seen = heldShare(command, holds) > 0.6 ? observeSteps(signals, holds) : moving();
  const turns = range(signals.angle) / (2 * Math.PI);
  return secondOpinion(seen, judgement, { ...reachedAtEnd(command, speed), turns });
}

/** A command that moves all the time has no steps to judge by. */
function moving(): Seen {
  return unseen(
    ["a speed command that is held for a while"],
    "The speed command moves all the time, and the speed does not follow it closely enough to say more.",
  );
}

/** Mean and swing of the speed over the last third, as shares of the command; empty where the command is near zero
 * there. */
function reachedAtEnd(command: Float64Array, speed: Float64Array): ReachedAtEnd {
  const from = Math.floor((2 * command.length) / 3);
  const asked = mean(command, from);
  if (!(Math.abs(asked) > 0.3 * largest(command))) return {};
  const reached = mean(speed, from) / asked;
  let square = 0;
  for (let i = from; i < speed.length; i += 1)
    square += (speed[i] - reached * command[i]) ** 2 / (speed.length - from);
  return { reached, ripple: Math.sqrt(square) / Math.abs(asked) };
}

/** What the steps of a speed trial show, hold by hold. */
function observeSteps(signals: TrialSignals, holds: readonly Hold[]): Seen {
  const speed = signals.speed as Float64Array;
  const driven = holds.filter((hold) => hold.sense !== 0);
  if (driven.length === 0)
    return unseen(["a speed command other than zero"], "No speed was commanded in this trial.");
  const top = largest(speed);
  const longest = Math.max(...driven.map((h) => h.length));
  const judged = driven.filter((h) => h.length > 0.2 * longest).map((hold) => judgeHold(signals, hold, top));
  if (judged.every(({ hold }) => hold.to - hold.from < 8))
    return unseen(
      ["a speed command held for at least ten samples"],
      "The speed command was too short to judge.",
    );
  const evidence: Evidence[] = [];
  for (const { hold, ratio } of judged.slice(0, 4))
    evidence.push({
      quantity: `speed reached over speed commanded (${rpm(hold.level)})`,
      value: ratio,
      unit: "1",
      limit: 0.85,
      limitSource:
        "physics: integral action leaves no lasting error, a settling loop is within 15 % by the end",
      meaning:
        Math.abs(ratio - 1) < 0.15
          ? "follows"
          : ratio < -0.3
            ? "turns the other way"
            : Math.abs(ratio) < 0.15
              ? "does not move"
              : ratio > 1.5
                ? "runs past its reference"
                : "does not arrive",
    });
  const count = (word: HoldWord): number => judged.filter((j) => j.word === word).length;
  const both = judged.some((j) => j.hold.sense > 0) && judged.some((j) => j.hold.sense < 0);
  const first = judged[0];
  const away = count("against") + count("overshoots");
  const signs = judged.map((j) => Math.sign(peak(speed, j.hold)));
  const oneWay = both && signs.every((s) => s === signs[0]);
  const limit = signals.current ? largest(signals.current) : undefined;

  // A runaway goes to its limit; a speed that settles at exactly the reference with its sign turned, both ways, is
  // controlled.
  const mirrored = judged.every((j) => Math.abs(j.ratio + 1) < 0.12 && Math.abs(j.hold.endChange) < 0.1);
  // In one sense only, a runaway that met its voltage at just that speed would look the same: closer, and without
  // pressing.
  const close =
    mirrored &&
    judged.every((j) => Math.abs(j.ratio + 1) < 0.05 && Math.abs(j.hold.endChange) < 0.04) &&
    !pressedAtEnd(signals, judged[judged.length - 1].hold);
  if (mirrored && (both || close))
    return {
      behaviour: "mirrored",
      verdict: "reversed",
      confidence: both ? 0.93 : 0.85,
      sense: "against",
      evidence,
      missing: [
        "which way the shaft turned, seen by eye: the sign of the log or that of the command is the wrong one",
        ...(both ? [] : ["a reversal of the reference"]),
      ],
      text: `Holds its speed command with the sign turned${both ? ", both ways" : ""} (${judged
        .map((j) => `${rpm(j.hold.endSpeed)} for ${rpm(j.hold.level)}`)
        .slice(0, 2)
        .join(
          ", ",
        )}). As logged it TURNS AGAINST ITS COMMAND: close no loop on the logged position or speed before their sign is known. That it holds the speed shows that the drive itself counts the other way.`,
      bothSenses: both,
    };
  if (away > 0 && count("follows") === 0) {
    const hold = judged.find((j) => j.word === "against" || j.word === "overshoots")?.hold ?? first.hold;
    const against = judged.some((j) => j.word === "against");
    const reached = peak(speed, hold);
    return {
      behaviour: "runs-away",
      verdict: "runaway",
      confidence: oneWay || away > 1 ? 0.99 : 0.95,
      sense: against ? "against" : "none",
      evidence,
      missing: [],
      text: `RUNAWAY: asked for ${rpm(hold.level)}, the shaft went to ${rpm(reached)}${oneWay ? " and a reversal of the reference changed nothing" : ""}.`,
      bothSenses: both,
    };
  }
  const ripple = Math.max(...judged.map((j) => j.ripple));
  const followed = count("follows");
  const shortly = count("short");
  if (followed > 0 && away === 0 && count("rest") === 0 && count("unclear") <= followed) {
    const shortfall = shortly > 0 ? 1 - Math.min(...judged.map((j) => Math.abs(j.ratio))) : 0;
    return {
      behaviour: "follows",
      verdict: "tracking",
      confidence: followed === judged.length ? (both ? 0.995 : 0.985) : 0.93,
      sense: "with",
      evidence,
      missing: both ? [] : ["a reversal of the reference"],
      text: `Tracks its speed command: ${judged
        .map((j) => `${rpm(j.hold.endSpeed)} for ${rpm(j.hold.level)}`)
        .slice(0, 3)
        .join(", ")}${ripple > 0.15 ? `, but swings by ${short(ripple * 100)} % about it` : ""}.`,
      bothSenses: both,
      ripple,
      ...(shortfall > 0.1 ? { shortfall } : {}),
    };
  }
  if (shortly > 0 && shortly + followed === judged.length) {
    const worst = Math.min(...judged.map((j) => j.ratio));
    return {
      behaviour: "follows",
      verdict: worst > 0.5 ? "tracking" : "undetermined",
      confidence: worst > 0.5 ? 0.85 : 0.6,
      sense: "with",
      evidence,
      missing: worst > 0.5 ? [] : ["a longer hold, to see whether the speed arrives"],
      text: `Turns with its speed command but had reached only ${short(worst * 100)} % of it when the command ended.`,
      bothSenses: both,
      shortfall: 1 - worst,
      ripple,
    };
  }
  if (count("rest") > 0 && away === 0 && judged.some(({ hold }) => goesOn(signals, hold)))
    return unseen(
      ["a position or speed without false samples"],
      "The shaft goes on one way, and its motion is too disturbed to say whether it follows its command.",
      evidence,
    );
  if (count("rest") > 0 && away === 0 && followed + shortly === 0) {
    const swing = Math.max(...driven.map((h) => h.swing));
    const moved = swing > 4 * signals.angleStep;
    return {
      behaviour: swing > 1.5 * Math.PI ? "locks" : moved ? "swings" : "still",
      verdict: "blocked",
      confidence: both ? 0.99 : 0.97,
      sense: "none",
      evidence,
      missing: [],
      text: `Blocked: asked for ${rpm(first.hold.level)}, the shaft ${moved ? `moved ${short(degrees(swing))} deg and stayed` : "did not move"}${limit ? `, with up to ${short(limit)} A` : ""}.`,
      bothSenses: both,
    };
  }
  if (count("rest") > 0 && judged[judged.length - 1].word === "rest" && away === 0) {
    return {
      behaviour: "locks",
      verdict: "blocked",
      confidence: 0.75,
      sense: "none",
      evidence,
      missing: [],
      text: "The shaft followed at first, then came to rest and stayed: blocked.",
      bothSenses: both,
    };
  }
  const mixed = unseen(
    ["a longer trial from standstill, both senses"],
    "The speed neither followed its command, nor ran away from it, nor stayed at rest, for long enough to say which.",
    evidence,
  );
  return { ...mixed, ripple };
}
