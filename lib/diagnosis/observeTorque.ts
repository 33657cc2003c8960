import type { LawFit } from "../identify/commutation/torqueLaw.js";
import { extremes } from "../numeric/series/extremes.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { goesOn } from "./goesOn.js";
import { degrees, rpm, type Seen, short, unseen } from "./observation.js";
import {
  byAcceleration,
  byWholeTrial,
  drawnBefore,
  givesWay,
  movesAsInertia,
  stillUnderWay,
  sways,
  swungUnderOne,
  turnedBack,
  twists,
  wandered,
} from "./torqueAccounts.js";
import { blocked, waves } from "./torqueAtRest.js";
import { unlessByAngle } from "./torqueByAngle.js";
import { endSpeeds, lawEvidence, travelAndCurrent } from "./torqueEvidence.js";
import {
  changesAllTheTime,
  goesOneWay,
  keptSpeed,
  type MovingSignals,
  type TorqueTrial,
  torqueTrialOf,
} from "./torqueTrial.js";
import { castVotes, heedless, lawSureness, type Vote, type Votes } from "./torqueVotes.js";
import type { Evidence, Sense } from "./types.js";

/** Way, rad, within which a shaft that is drawn to a rest angle moves like a free one: half of the distance of two such
 * angles where they are furthest apart (two swapped phases at one pole pair: 180 deg; theory: 360/n deg, n = 2p). */
const littleWay = Math.PI / 2;

/** Where the equation of motion under the command leaves more than this of the motion, something else moves the shaft
 * as well (a spring, a rest angle, a load that changes; judgement). */
const mostUnexplained = 0.5;

/** No verdict on a shaft that something else set in motion, or that went a little way only, is surer (judgement). */
const movedAlready = 0.75;

/** What a torque trial shows. */
export function observeTorque(
  signals: TrialSignals,
  holds: readonly Hold[],
  fitted: LawFit | undefined,
): Seen {
  return unlessByAngle(doubtedTorque(signals, holds, fitted), signals, holds);
}

function doubtedTorque(signals: TrialSignals, holds: readonly Hold[], fitted: LawFit | undefined): Seen {
  const seen = watchTorque(signals, holds, fitted);
  if (seen.verdict === "undetermined") return seen;
  if (seen.behaviour === "turns" && sways(signals, littleWay))
    return unseen(
      ["a trial without what draws the shaft back, or with commands held longer"],
      "Under a command of one sign the shaft went to and fro and not far: something draws it to an angle, and which way it is turned cannot be said.",
      seen.evidence,
    );
  if (seen.confidence <= movedAlready) return seen;
  const missing = lacking(seen, signals, holds, fitted);
  return missing === undefined
    ? seen
    : { ...seen, confidence: movedAlready, missing: [...seen.missing, missing] };
}

/** What keeps a verdict from being surer than `movedAlready`. */
function lacking(
  { behaviour }: Seen,
  signals: TrialSignals,
  holds: readonly Hold[],
  fitted: LawFit | undefined,
): string | undefined {
  const turns = behaviour === "turns";
  if (turns && range(signals.angle ?? new Float64Array(1)) < littleWay)
    return "a longer way: near the angle at which it begins every drive turns its shaft";
  if (turns && fitted !== undefined && fitted.unexplained > mostUnexplained)
    return "a trial in which the torque explains how the shaft gains speed";
  return drawnBefore(signals, holds)
    ? "a trial that begins at rest: the shaft gained speed before anything was asked of it"
    : undefined;
}

function watchTorque(signals: TrialSignals, holds: readonly Hold[], fitted: LawFit | undefined): Seen {
  if (!signals.effort && !signals.command)
    return unseen(
      ["a current or torque, commanded or measured"],
      "Neither a current nor a torque was logged: what turned the shaft cannot be said.",
    );
  if (!motionSeen(signals))
    return unseen(
      ["the shaft's position or speed"],
      "Neither position nor speed was logged: what the shaft did cannot be said.",
    );
  const trial = torqueTrialOf(signals, holds, fitted);
  if (trial === undefined)
    return unseen(["a command other than zero"], "No torque was commanded in this trial.");
  const { longest, turning, law, resting } = trial;
  const rows = longest.to - longest.from;
  if (rows < 8 || longest.length < 8 * signals.period)
    return unseen(
      ["a command held for at least ten samples"],
      `The longest command lasted ${short(longest.length * 1000)} ms, which is ${rows} samples: too few to judge by.`,
    );
  const evidence = travelAndCurrent(trial);
  if (changesAllTheTime(trial)) {
    const seen = waves(trial, evidence);
    return seen.verdict === "undetermined"
      ? (byWholeTrial(trial, evidence) ?? twists(trial, evidence) ?? seen)
      : seen;
  }
  if (turning.length === 0)
    return goesOneWay(trial)
      ? unseen(
          ["a position or speed without false samples"],
          "The shaft goes on one way under the command, and its motion is too disturbed to say more.",
          evidence,
        )
      : atRest(trial, evidence);
  // A shaft that only winds up with its torque comes back with it: the speed of that is no turning.
  const held = twists(trial, evidence);
  if (held !== undefined) return held;
  const votes = castVotes(trial);
  const { counted, withs, againsts, byLaw } = votes;
  evidence.push(...endSpeeds(trial), ...(law ? [lawEvidence(law, signals)] : []));
  if (resting.length > 0 && !(byLaw && counted.length > 0))
    return (
      byWholeTrial(trial, evidence) ??
      (turnedLast(trial) ? byAcceleration(trial, evidence) : undefined) ??
      restedUnderSome(trial, evidence)
    );
  if (counted.length === 0 || (withs > 0 && againsts > 0))
    return byWholeTrial(trial, evidence) ?? byAcceleration(trial, evidence) ?? answersDiffer(trial, evidence);
  if (votes.strong.length === 0 && keptSpeed(trial.signals.speed, signals.speedNoise))
    return unseen(
      ["a change of the command, from rest"],
      `Nothing was tried here: the shaft keeps its speed throughout (${rpm(mean(trial.signals.speed))}), and a steady state does not tell what turns it.`,
      evidence,
    );
  return turns(trial, votes, evidence);
}

/** Turning at the end of no command: held, drawn back by something, or not given the time to show anything. */
function atRest(trial: TorqueTrial, evidence: Evidence[]): Seen {
  const yields = givesWay(trial, evidence);
  if (yields !== undefined) return yields;
  if (wandered(trial)) return byWholeTrial(trial, evidence) ?? tooShort(evidence);
  if (stillUnderWay(trial) || movesAsInertia(trial)) return tooShort(evidence);
  if (trial.swing > 2 * Math.PI && perhapsTripped(trial.signals, trial.driven))
    return ranOut(trial.swing, evidence);
  return blocked(trial, evidence);
}

/** The shaft turned again after the last command under which it rested. */
const turnedLast = ({ turning, resting }: TorqueTrial): boolean =>
  resting.every((hold) => hold.from < turning[turning.length - 1].from);

function tooShort(evidence: readonly Evidence[]): Seen {
  return unseen(
    ["commands held longer: under none did the shaft have the time to show that it stays"],
    "The shaft moved to and fro as far as the time under each command allowed: whether it turns, and which way, cannot be said.",
    evidence,
  );
}

function motionSeen(signals: TrialSignals): signals is MovingSignals {
  return signals.motionFrom !== "none" && signals.speed !== undefined && signals.angle !== undefined;
}

/** Turned under some commands, rested under others. */
function restedUnderSome({ signals, turning, resting, many }: TorqueTrial, evidence: Evidence[]): Seen {
  const lastTurning = turning[turning.length - 1];
  // A rest under much less torque than turned the shaft tells nothing: friction alone holds it.
  const after = resting.filter(
    (hold) => hold.from >= lastTurning.to && Math.abs(hold.level) > 0.7 * Math.abs(lastTurning.level),
  );
  const moves = after.some((hold) => goesOn(signals, hold));
  // Passing through rest is not resting: over the last third it must have stood, or have rung.
  const stood = after.every(
    (hold) =>
      hold.endSwing <= Math.max(3 * signals.angleStep, 0.03 * lastTurning.swing) ||
      swungUnderOne(signals, hold),
  );
  const rests = !many && !moves && stood && after.length > 0;
  // Without a measured current nothing tells a rest angle from a drive that tripped and let the shaft run out.
  const travel = Math.abs(lastTurning.travel);
  if (rests && perhapsTripped(signals, after)) return ranOut(travel, evidence);
  if (rests)
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

/** Without a measured current nothing tells a rest angle from a drive that tripped and let the shaft run out. */
const perhapsTripped = (signals: MovingSignals, holds: readonly Hold[]): boolean =>
  signals.effortRole !== "current" && !holds.some((hold) => swungUnderOne(signals, hold)) && runsOut(signals);

const ranOut = (travel: number, evidence: readonly Evidence[]): Seen =>
  unseen(
    ["the measured current: a shaft that runs out after its drive tripped comes to rest in the same way"],
    `The shaft turned ${short(degrees(travel) / 360)} turns, then came to rest although its command went on: it locked, or the drive tripped.`,
    evidence,
  );

/** The shaft lost its largest speed no faster than it had gained it: friction alone may have done that. */
function runsOut({ time, speed }: MovingSignals): boolean {
  let top = 0;
  for (let i = 0; i < speed.length; i += 1) if (Math.abs(speed[i]) > Math.abs(speed[top])) top = i;
  const at = (part: number, step: 1 | -1): number => {
    let i = top;
    while (i > 0 && i < speed.length - 1 && speed[i] / speed[top] > part) i += step;
    return time[i];
  };
  return at(0.2, 1) - at(0.8, 1) > at(0.8, -1) - at(0.2, -1);
}

/** Some answers go with the command, some against it, or none counts: one direction whatever was asked, or unclear. */
function answersDiffer({ turning, driven, many }: TorqueTrial, evidence: Evidence[]): Seen {
  const sameWay = turning.length >= 2 && turning.every((h) => h.endSpeed * turning[0].endSpeed > 0);
  const bothAsked = turning.some((h) => h.sense > 0) && turning.some((h) => h.sense < 0);
  const ignored =
    !many &&
    sameWay &&
    bothAsked &&
    turning.every((h) => Math.abs(h.endSpeed) > 0.8 * Math.abs(turning[0].endSpeed)) &&
    !slowedDown(turning) &&
    !driven.some((h) => h.sense === -turning[0].sense && Math.abs(h.tailSpeed) < 0.5 * h.peakSpeed);
  if (!ignored)
    return unseen(
      ["a trial from standstill in both senses"],
      "The shaft turned, but not in one sense against its command; begin from rest and hold each command longer.",
      evidence,
    );
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
}

/** Under the reversed command the shaft lost a fifth of what an equal time of the first one had given it, or had not
 * the time to be turned round: nothing is known of it yet. */
function slowedDown(turning: readonly Hold[]): boolean {
  const [first] = turning;
  const gained = (h: Hold): number => (h.endSpeed - h.startSpeed) * Math.sign(first.endSpeed);
  const rate = Math.max(...turning.map((h) => gained(h) / h.length));
  // A shaft that was at its speed already gives no measure of how soon it turns.
  if (!(rate * first.length > 0.3 * Math.abs(first.endSpeed))) return false;
  const back = turning.filter((h) => h.sense !== first.sense);
  const soon = back.every((h) => rate * h.length < Math.abs(h.startSpeed));
  return soon || back.some((h) => gained(h) < -0.2 * rate * h.length);
}

/** All answers that count have one sense: the shaft turns with its command or against it. */
function turns(trial: TorqueTrial, votes: Votes, evidence: Evidence[]): Seen {
  const { counted, strong, withs, againsts, byLaw } = votes;
  const { law } = trial;
  const z = lawSureness(law);
  const sign = withs > againsts ? 1 : -1;
  const explains = law !== undefined && law.unexplained < 0.3 && z * sign > 8;
  const back = !explains && counted.some((v) => turnedBack(trial.signals, v.hold, sign));
  if (back || (counted.length <= 2 && counted.every((v) => swungUnderOne(trial.signals, v.hold))))
    return unseen(
      ["a trial without what draws the shaft back, or with commands held longer"],
      "Under a steady command the shaft went to and fro: something draws it back, and which way it is turned cannot be said.",
      evidence,
    );
  if (trial.driven.some((hold) => heedless(trial, hold, sign)))
    return unseen(
      ["a trial in which nothing but the drive turns the shaft"],
      "The shaft kept its speed although its command was reversed, which would have slowed it down: something else than the command turns it.",
      evidence,
    );
  const agrees = law ? Math.sign(law.direct) === sign : true;
  const tried = (sense: 1 | -1, list = counted) => list.some((v) => v.hold.sense === sense);
  const convincing = counted.filter((v) => v.strong);
  const bothSenses = tried(1, convincing) && tried(-1, convincing);
  const both = tried(1) && tried(-1);
  let confidence = strong.length === 0 ? 0.8 : strong.length === 1 ? 0.95 : 0.99;
  if (bothSenses) confidence = 0.995;
  if (byLaw) confidence = Math.min(confidence, 0.97);
  if (law && Math.abs(z) > 3) confidence = agrees ? 1 - (1 - confidence) * 0.4 : confidence * 0.7;
  const sense: Sense = sign > 0 ? "with" : "against";
  const speeds = speedsText(trial, counted);
  if (law && Math.abs(z) > 4 && !agrees && strong.length < 2)
    return unseen(
      ["a trial from standstill in both senses"],
      `The shaft turned (${speeds}), but its acceleration contradicts the sense it turned in; something else than the command may be turning it.`,
      evidence,
    );
  return {
    behaviour: "turns",
    verdict: sense === "with" ? "tracking" : "reversed",
    confidence,
    sense,
    evidence,
    missing: both ? [] : ["the other sense of the command"],
    text:
      sense === "with"
        ? `Turns with its command: ${speeds}.${both ? "" : oneSense(trial.signals)}`
        : `TURNS AGAINST ITS COMMAND: ${speeds}. It spins and reverses, which looks right and is not: the torque has the wrong sign.`,
    bothSenses,
  };
}

/** Says whether the other sense was not tried, or was and lasted too short a time each time. */
function oneSense({ command, effort }: MovingSignals): string {
  const [low, high] = extremes(command ?? effort ?? new Float64Array(0));
  return Math.min(-low, high) > 0.3 * Math.max(-low, high)
    ? " Only one sense of it stood long enough to be judged by itself."
    : " Only one sense of the command was tried.";
}

/** The speeds a trial ended its commands with. */
function speedsText({ turning }: TorqueTrial, counted: readonly Vote[]): string {
  const round = counted.find(({ hold, strong }) => strong && !hold.turning)?.hold;
  const ahead = turning.filter((h) => h.sense > 0).at(-1);
  const back = turning.filter((h) => h.sense < 0).at(-1);
  if (ahead && back)
    return ahead.endSpeed * back.endSpeed < 0
      ? `${rpm(ahead.endSpeed)} under the positive command, ${rpm(back.endSpeed)} under the negative one`
      : `${rpm(ahead.endSpeed)} at the end of the positive command and still ${rpm(back.endSpeed)} at the end of the negative one, which was too short to turn it round`;
  const top = turning.reduce((a, b) => (Math.abs(b.endSpeed) > Math.abs(a.endSpeed) ? b : a));
  const other = top.sense > 0 ? "the negative" : "the positive";
  const turned =
    round !== undefined && round.sense === -top.sense
      ? `, turned round by ${other} one to ${rpm(round.tailSpeed)} at its end`
      : "";
  return `${rpm(top.endSpeed)} under ${top.sense > 0 ? "a positive" : "a negative"} command${turned}`;
}
