import { fitResponse } from "../numeric/series/firstOrderResponse.js";
import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, movingAverage, type TrialSignals } from "../run/trialSignals.js";
import { rpm, type Seen, unseen } from "./observation.js";
import { yielding } from "./torqueAccounts.js";
import type { Evidence } from "./types.js";
import { amount, meanOf, robustTop, stays } from "./voltageStill.js";

/** Before the log is looked at (judgement): a motor under voltage turns with it, against it, or whatever it is
 * given. */
const priors = { with: 0.86, against: 0.06, whatever: 0.08 };

/** Share of the mean square forgiven a first-order lag: friction, bends in the curve of speed over voltage. */
const modelError = 0.02;

/** Rows from which on gain, lag, dead time and dead band can be told (four unknowns, four rows each). */
const leastRows = 16;

const deadBands = [0, 0.02, 0.05, 0.1, 0.2, 0.4];

/**
 * What a trial under voltage or duty shows: whether the speed follows the sign and size of what the motor is given,
 * beyond a dead band. Accounts are compared by what they leave unexplained: a lag with a positive gain, with a negative
 * one, and a motion that does not depend on the voltage.
 */
export function observeVoltage(run: Run, trial: Trial, signals: TrialSignals): Seen {
  const input = trial.command === undefined ? undefined : column(run, trial.command, trial);
  const word = trial.kind === "duty" ? "duty" : "voltage";
  if (!input || !(largest(input) > 0))
    return unseen(
      [`the motor's ${word}`],
      `The ${word} of the motor was not logged: what it was given cannot be said.`,
    );
  const { speed, angle, time } = signals;
  if (!speed || !angle)
    return unseen(
      ["the shaft's position or speed"],
      "Neither position nor speed was logged: what the shaft did cannot be said.",
    );
  if (time.length < leastRows) return unseen([`a longer trial`], "The trial has too few samples to judge.");
  const most = largest(input);
  const top = robustTop(speed);
  const travel = range(angle);
  const still =
    (!(top > 5 * signals.speedNoise) && !movesOnAverage(run, signals)) || !(travel > 8 * signals.angleStep);
  if (still) return stays(signals, input, word, travel);
  const plain = fitResponse(time, input, speed);
  const beyond = fitResponse(time, input, speed, { deadBands: deadBands.map((d) => d * most) });
  // A dead band is claimed only where the trial shows one: from a single step the gain takes it up.
  const bent = plain && beyond && changes(input, most) >= 3 && beyond.residual < 0.6 * plain.residual;
  const fit = bent ? beyond : plain;
  const none = fitResponse(time, input, speed, { gain: 0 });
  if (fit === undefined || none === undefined || !(fit.power > 0))
    return unseen(["a longer trial"], "The trial has too few samples to judge.");
  const floor = modelError + signals.speedNoise ** 2 / fit.power;
  const steady = variance(speed) / fit.power;
  if (steady < 0.02)
    return {
      ...unseen(
        [`a step of ${word}, from rest`],
        `The logged speed stays at ${rpm(meanOf(speed))} whatever the ${word}: ${changes(input, most) > 0 ? "that channel is in doubt, or something else turns the shaft" : "nothing was tried here"}.`,
      ),
      confidence: 0.6,
    };
  const left = {
    answers: fit.residual / fit.power,
    whatever: Math.min(steady, Math.max(fit.residual, none.residual) / fit.power),
  };
  const pieces = Math.min(40, 8 + 3 * changes(input, most));
  const ratio = Math.exp(
    Math.min(500, 0.5 * pieces * Math.log((left.whatever + floor) / (left.answers + floor))),
  );
  const answer = fit.gain > 0 ? priors.with : priors.against;
  const sure = (answer * ratio) / (answer * ratio + priors.whatever);
  const unit = trial.kind === "duty" ? "rad/s" : "rad/s/V";
  const evidence: Evidence[] = [
    {
      quantity: `speed per unit of ${word}`,
      value: fit.gain,
      unit,
      meaning: fit.gain > 0 ? `turns with the ${word}` : `turns against the ${word}`,
    },
    {
      quantity: `share of the speed that the ${word} leaves unexplained`,
      value: left.answers,
      unit: "1",
      limit: 0.3,
      limitSource: "judgement",
      meaning: left.answers < 0.3 ? `the speed follows the ${word}` : `the speed hardly follows the ${word}`,
    },
  ];
  const both = input.some((v) => v > 0.2 * most) && input.some((v) => v < -0.2 * most);
  const frozen = frozenShare(speed, input);
  // A duty that never goes below zero may be a size, its sign on a pin of its own: a shaft that turns the negative way
  // was then asked to. A channel that stands still while the input moves is in doubt, and so is every verdict drawn
  // from it alone.
  const size = !(fit.gain > 0) && trial.kind === "duty" && !input.some((v) => v < -0.02 * most);
  // A shaft that was held gives way by a little, and returns: its speed has either sense.
  const trust = frozen > 0.05 || size || travel < twist.free ? 0.75 : 0.97;
  if (left.answers > 0.4 && givesWay(signals, input, travel)) return stays(signals, input, word, travel);
  if (left.answers > 0.15 && travel < twist.most && ringsInPlace(signals, input)) {
    const seen = stays(signals, input, word, travel);
    return { ...seen, confidence: Math.min(seen.confidence, 0.75) };
  }
  if (sure < 0.6 || left.answers > 0.5)
    return {
      ...unseen(
        [`a trial with larger steps of ${word}, from rest`],
        `The shaft turned, at up to ${rpm(top)}, but its speed does not follow the ${word} closely enough to say more.`,
        evidence,
      ),
      confidence: 0.6,
    };
  const along = fit.gain > 0;
  return {
    behaviour: "turns",
    verdict: along ? "tracking" : "reversed",
    confidence: Math.min(trust, sure),
    sense: along ? "with" : "against",
    evidence,
    missing: both ? [] : [`the other sense of the ${word}`],
    text: `${along ? "Turns with" : "TURNS AGAINST"} its ${word}: up to ${rpm(top)} at ${amount(most, word)}${fit.deadBand > 0 ? `, beyond a dead band of about ${amount(fit.deadBand, word)}` : ""}.${frozen > 0.05 ? " The logged speed stands still for a part of the trial while the input moves: that channel is in doubt." : ""}${both ? "" : ` Only one sense of the ${word} was tried.`}`,
    bothSenses: both,
  };
}

/** Angle below which a shaft may give way as a whole, rad, what its angle may leave unexplained of being in proportion
 * to the input, and the angle from which on it was surely free to turn (judgement). */
const twist = { most: 0.6, left: 0.12, free: Math.PI / 2 };

/** The angle, not the speed, goes with the input: a stop, a brake or a load holds the shaft, which gives way a
 * little. */
function givesWay({ time, angle }: TrialSignals, input: Float64Array, travel: number): boolean {
  if (angle === undefined || travel > twist.most) return false;
  const from = angle[0];
  const span = time[time.length - 1] - time[0];
  const fit = fitResponse(
    time,
    input,
    angle.map((v) => v - from),
    { longest: 0.15 * span, longestDelay: 0.05 * span, offset: true },
  );
  return fit !== undefined && fit.power > 0 && fit.residual < twist.left * fit.power;
}

/** As a twist that rings: the angle is what a spring and an inertia make of the input. */
function ringsInPlace({ time, angle, speed, speedNoise }: TrialSignals, input: Float64Array): boolean {
  if (angle === undefined || speed === undefined) return false;
  const longest = time[time.length - 1] - time[0];
  const spring = yielding({ time, angle, speed, speedNoise }, input, longest / 8);
  return spring !== undefined && spring.sign > 0 && spring.unexplained < twist.left;
}

/**
 * A speed that is counted edge by edge flickers between none and a count or two: what it is on average, over a fiftieth
 * of the trial, tells whether the shaft turns (errors of counting do not add up).
 */
function movesOnAverage(run: Run, { speed, speedNoise, time }: TrialSignals): boolean {
  const width = Math.max(4, Math.min(25, Math.floor(time.length / 50)));
  const level = robustTop(movingAverage(speed as Float64Array, width));
  // Of a few counts the noise is that of counting, whose mean is sure; any other noise may be slow as well.
  const step = run.channel("speed")?.step ?? 0;
  const counted = robustTop(speed as Float64Array) < 6 * step;
  return level > Math.max(5 / Math.sqrt(width), counted ? 0.3 : 1.2) * speedNoise;
}

function variance(values: Float64Array): number {
  const middle = meanOf(values);
  let sum = 0;
  let count = 0;
  for (const v of values)
    if (Number.isFinite(v)) {
      sum += (v - middle) ** 2;
      count += 1;
    }
  return count > 0 ? sum / count : 0;
}

function changes(input: Float64Array, most: number): number {
  let at = input[0];
  let count = 0;
  for (const v of input)
    if (Math.abs(v - at) > 0.1 * most) {
      count += 1;
      at = v;
    }
  return count;
}

/** Share of the samples in long runs of one exact speed other than zero, in which the input changed. */
function frozenShare(speed: Float64Array, input: Float64Array): number {
  let frozen = 0;
  for (let i = 0; i < speed.length; ) {
    let j = i + 1;
    while (j < speed.length && speed[j] === speed[i]) j += 1;
    const part = input.subarray(i, j);
    if (j - i >= 20 && speed[i] !== 0 && range(part) > 0.1 * largest(input)) frozen += j - i;
    i = j;
  }
  return frozen / speed.length;
}
