import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { type FollowJudgement, judgeFollowing } from "./followModels.js";
import { heldShare } from "./heldShare.js";
import { rpm, type Seen, unseen } from "./observation.js";
import { observeSteps } from "./observeSteps.js";
import { type ReachedAtEnd, secondOpinion } from "./secondOpinion.js";
import { pressedAtEnd } from "./speedHolds.js";

/** Why a speed may be another number than its command although it follows: the command is a frequency of the stator,
 * or the unit of one of the two is a guess. */
export type OtherScale = "frequency" | "assumed";

/** What a speed trial shows: by its steps, and held against accounts of the whole trial. */
export function observeSpeed(signals: TrialSignals, holds: readonly Hold[], scale?: OtherScale): Seen {
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
    pressed,
  });
  const seen = heldShare(command, holds) > 0.6 ? observeSteps(signals, holds) : moving(command, speed, scale);
  const turns = range(signals.angle) / (2 * Math.PI);
  const whole = secondOpinion(seen, judgement, { ...reachedAtEnd(command, speed), turns });
  const turned = scale === "frequency" && judgement ? turnedByPoles(whole, judgement, holds) : undefined;
  return turned ?? (scale && judgement && inProportion(whole, judgement, scale)) ?? whole;
}

/**
 * A shaft that settles at a whole part of its frequency the other way is turned by its field, as a motor of so many
 * pole pairs with two leads exchanged is (physics); one that runs away does not stop at just that speed.
 */
function turnedByPoles(seen: Seen, { models }: FollowJudgement, holds: readonly Hold[]): Seen | undefined {
  const gain = models[0]?.gain ?? 0;
  const asked = holds.filter(({ sense }) => sense !== 0);
  const ends = asked.map(({ endChange }) => Math.abs(endChange) < steady);
  // Of a ramp no part is steady but its end: the rest goes in proportion then.
  const settled =
    (models[0]?.unexplained ?? 1) < proportion.ramp ? ends.at(-1) === true : ends.every(Boolean);
  if (seen.verdict !== "runaway" || !(gain < 0) || !settled) return undefined;
  const pairs = polesOf(-gain);
  if (pairs === undefined || pairs > proportion.turned) return undefined;
  return {
    ...seen,
    behaviour: "mirrored",
    verdict: "reversed",
    confidence: proportion.frequency,
    sense: "against",
    missing: [
      "which way the shaft turned, seen by eye: two leads are exchanged, or the sign of one column is the wrong one",
      "the number of pole pairs",
    ],
    text: `TURNS AGAINST ITS FREQUENCY, steadily: ${gain.toPrecision(3)} turns a period throughout, as with ${pairsText(pairs)} and two leads exchanged.`,
  };
}

/** What may be left of a motion that goes in proportion to its command, the slip of an induction motor and a trim of
 * the frequency, and the most that is claimed (judgement). */
const proportion = {
  left: 0.05,
  ramp: 0.01,
  gain: [0.88, 1.03],
  pairs: 60,
  turned: 6,
  frequency: 0.8,
  assumed: 0.7,
};

/** Change of a speed over the last third of a hold, beside its peak, below which it has settled (judgement). */
const steady = 0.05;

/** The speed is a steady part of its command throughout, as one pair of poles in so many makes it, or a unit. */
function inProportion(seen: Seen, { models }: FollowJudgement, scale: OtherScale): Seen | undefined {
  if (seen.verdict !== "undetermined") return undefined;
  const found = models.find(
    ({ model, unexplained }) =>
      (model === "follows in another scale" || model === "falls short") && unexplained < proportion.left,
  );
  const gain = found?.gain ?? 0;
  if (!(gain > 0)) return undefined;
  const pairs = polesOf(gain);
  if (scale === "frequency" && (pairs === undefined || pairs > proportion.pairs)) return undefined;
  return {
    ...seen,
    behaviour: "follows",
    verdict: "tracking",
    confidence: proportion[scale],
    sense: "with",
    missing: [scale === "frequency" ? "the number of pole pairs" : "the units of speed and command"],
    text:
      scale === "frequency"
        ? `Follows its frequency: ${gain.toPrecision(3)} turns a period throughout, as with ${pairsText(pairs ?? 1)}.`
        : `Follows its command in proportion (${gain.toPrecision(3)} times it throughout, by units that are assumed).`,
  };
}

/** Pairs of poles that make so many turns of a period, with the slip of an induction motor; undefined for no whole
 * number of them. */
function polesOf(gain: number): number | undefined {
  const pairs = Math.max(1, Math.round(1 / gain));
  const [least, most] = proportion.gain;
  return gain * pairs > least && gain * pairs < most ? pairs : undefined;
}

const pairsText = (pairs: number): string => `${pairs} pole pair${pairs === 1 ? "" : "s"}`;

/** By how many times its largest command a speed has left it, and how much faster than the command it grew meanwhile
 * (judgement; a unit that is not what it is taken for makes it larger, but grows with the command). */
const beyond = { command: 3, growth: 2, against: 0.8, confidence: 0.9 };

/** A command that moves all the time has no steps to judge by: only a speed that leaves it far behind tells. */
function moving(command: Float64Array, speed: Float64Array, scale?: OtherScale): Seen {
  const asked = largest(command);
  const most = largest(speed);
  if (scale === undefined && asked > 0 && most > beyond.command * asked) {
    const from = speed.findIndex((v) => Math.abs(v) > asked);
    const to = speed.findIndex((v) => Math.abs(v) >= most);
    let against = 0;
    for (let i = from; i <= to; i += 1) if (speed[i] * command[i] < 0) against += 1;
    const turned = against > beyond.against * (to - from + 1);
    const grew = Math.abs(speed[to] * command[from]) > beyond.growth * Math.abs(speed[from] * command[to]);
    if (turned || grew)
      return {
        ...unseen([], `RUNAWAY: asked for up to ${rpm(asked)}, the shaft went to ${rpm(speed[to])}.`),
        behaviour: "runs-away",
        verdict: "runaway",
        confidence: beyond.confidence,
        sense: turned ? "against" : "none",
      };
  }
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
