import type { LawFit } from "../identify/commutation/torqueLaw.js";
import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { rpm, type Seen, short } from "./observation.js";

/**
 * Judgement: how well the equation of motion must know the sense of the torque and what it may leave unexplained; parts
 * of the largest command and current from which on an error and a press count; the part of the rows in which the drive
 * presses towards its command; turns that the shaft must have made; how sure what is seen so is.
 */
const limits = {
  sure: 8,
  left: 0.1,
  size: 0.3,
  presses: 0.85,
  turns: 1,
  away: 1.8,
  beyond: 1.2,
  runaway: 0.9,
  short: 0.8,
};

/**
 * A speed trial whose steps tell nothing, by what its drive did and what the shaft made of it. Accelerating against the
 * current while the speed leaves its command is positive feedback; accelerating with a current that presses towards the
 * command is a loop on its way, which a limit keeps short. Undefined where the equation of motion does not know.
 */
export function speedByDrive(signals: TrialSignals, law: LawFit | undefined): Seen | undefined {
  const { command, speed, angle } = signals;
  const current = signals.current ?? signals.currentCommand;
  if (!command || !speed || !angle || !current || law === undefined) return undefined;
  if (law.unexplained > limits.left || !(Math.abs(law.direct) > limits.sure * law.error)) return undefined;
  if (range(angle) < 2 * Math.PI * limits.turns) return undefined;
  const asked = largest(command);
  const base = {
    evidence: [
      {
        quantity: "acceleration per unit of current over its standard error",
        value: law.direct / law.error,
        unit: "1",
        limit: limits.sure,
        limitSource: "judgement",
        meaning: law.direct > 0 ? "accelerates with the current" : "accelerates against the current",
      },
    ],
    missing: ["a trial from rest with steps that are held until the speed settles"],
    bothSenses: command.some((v) => v > 0.2 * asked) && command.some((v) => v < -0.2 * asked),
  };
  if (law.direct < 0) {
    const top = largest(speed);
    const most = largest(command.map((v, i) => v - speed[i]));
    const left =
      most > limits.away * asked && top > limits.beyond * asked && againstFirst(signals, command, speed);
    if (!left) return undefined;
    return {
      ...base,
      behaviour: "runs-away",
      verdict: "runaway",
      confidence: limits.runaway,
      sense: "against",
      text: `RUNAWAY: asked for up to ${rpm(asked)}, the shaft went to ${rpm(top)}, and it accelerates against its current.`,
    };
  }
  const share = pressedTowards(command, speed, current);
  if (share === undefined || share < limits.presses) return undefined;
  const lastThird = Math.floor((2 * command.length) / 3);
  const error = mean(
    command.map((v, i) => Math.abs(v - speed[i])),
    lastThird,
  );
  return {
    ...base,
    behaviour: "follows",
    verdict: "tracking",
    confidence: limits.short,
    sense: "with",
    shortfall: Math.min(1, error / asked),
    text: `Turns towards its speed command but does not arrive in the time: the shaft accelerates with the current, which presses towards the command in ${short(100 * share)} % of the rows.`,
  };
}

/** Before its command had done anything else, or over the whole of it, the shaft went the other way. */
function againstFirst({ speedNoise }: TrialSignals, command: Float64Array, speed: Float64Array): boolean {
  const asked = largest(command);
  let along = 0;
  let all = 0;
  for (let i = 0; i < command.length; i += 1) {
    if (Math.abs(speed[i]) < 6 * speedNoise) continue;
    all += 1;
    if (speed[i] * command[i] > 0 && Math.abs(command[i]) > 0.2 * asked) along += 1;
  }
  return all > 0 && along < 0.6 * all;
}

/** Part of the rows with an error and a current of some size in which the current presses towards the command. */
function pressedTowards(
  command: Float64Array,
  speed: Float64Array,
  current: Float64Array,
): number | undefined {
  const [asked, most] = [largest(command), largest(current)];
  let towards = 0;
  let all = 0;
  for (let i = 0; i < command.length; i += 1) {
    const error = command[i] - speed[i];
    if (Math.abs(error) < limits.size * asked || Math.abs(current[i]) < limits.size * most) continue;
    all += 1;
    if (error * current[i] > 0) towards += 1;
  }
  return all > 20 ? towards / all : undefined;
}
