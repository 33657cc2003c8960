import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { judgeFollowing } from "./followModels.js";
import { heldShare } from "./heldShare.js";
import { type Seen, unseen } from "./observation.js";
import { observeSteps } from "./observeSteps.js";
import { type ReachedAtEnd, secondOpinion } from "./secondOpinion.js";
import { pressedAtEnd } from "./speedHolds.js";

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
