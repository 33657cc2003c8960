import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import type { ChannelRole, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, mean, movingAverage, type TrialSignals } from "../run/trialSignals.js";

/** A shaft that followed and was then stopped, with its command and its drive still on. */
export interface Stall {
  /** Row of the trial from which on it stands. */
  readonly at: number;
  /** Probability that it was the shaft that stopped, and not its sensor. */
  readonly stopped: number;
}

/**
 * Figures (judgement): a command counts from `asked` of its largest on and holds still within `steady`; the shaft
 * stands below `stands` of it; both for so large a part of the commanded rows, and before it turned for as many; the
 * effort of the last stretch is at least `pressed` of the largest that was held and `more` of what the motion took
 * before; a voltage that falls to `fell` of what it was shows the back-EMF gone (physics), one that does not leaves it
 * to the sensor.
 */
const limits = {
  asked: 0.2,
  steady: 0.03,
  stands: 0.05,
  noises: 4,
  part: 0.05,
  rows: 10,
  pressed: 0.8,
  more: 1.25,
  fell: 0.75,
  sudden: 3,
};

/** Chance that a motion which stops under effort is a sensor that died, not a shaft that was stopped: before anything
 * else is seen; where the voltage fell as a back-EMF does that is gone, and where it did not; where the column goes on
 * with its noise, where the stop took some rows, and where it came at once (judgement). */
const dead = { before: 0.25, fell: 0.03, stayed: 0.6, noisy: 0.2, slowed: 0.3, atOnce: 0.7 };

/** Voltages of the winding, which a back-EMF takes a part of. */
const windings: readonly ChannelRole[] = ["voltageQ", "voltage", "voltageCommand", "duty"];

/**
 * Where a shaft that had followed its command came to stand under it, while the drive pressed at its most, until the
 * command or the trial ended: a jam, a brake, a load too large. Undefined where that is not what the trial shows, or
 * where no effort was logged.
 */
export function stallIn(run: Run, trial: Trial, signals: TrialSignals): Stall | undefined {
  const { speed, effort, effortRole } = signals;
  const command = signals.command ?? (trial.command && column(run, trial.command, trial));
  if (!command || !speed || !effort || effortRole === trial.command) return undefined;
  const n = command.length;
  const most = largest(command);
  const on = (i: number): boolean => Math.abs(command[i]) > limits.asked * most;
  let end = n;
  while (end > 0 && !on(end - 1)) end -= 1;
  const least = Math.max(limits.rows, Math.round(limits.part * n));
  if (!(most > 0) || end < 2 * least) return undefined;
  const width = Math.max(3, Math.round(least / 4));
  // Most shafts turn to the end: averages need not be made of them.
  const half = Math.floor(width / 2);
  const last = Math.abs(mean(speed, Math.max(0, end - 1 - half), Math.min(n, end + half)));
  const quiet = (limits.noises * signals.speedNoise) / Math.sqrt(width);
  if (last > 1.001 * Math.max(limits.stands * largest(speed), quiet)) return undefined;
  const pace = movingAverage(speed, width);
  const top = largest(pace);
  const still = Math.max(limits.stands * top, quiet);
  let at = end;
  while (at > 0 && on(at - 1) && Math.abs(pace[at - 1]) < still) at -= 1;
  // What is averaged reaches the stop later than it does.
  while (at > 0 && Math.abs(speed[at - 1]) < still) at -= 1;
  if (end - at < least || at < least || top < 3 * still) return undefined;
  const level = mean(command, at, end);
  for (let i = at; i < end; i += 1) if (Math.abs(command[i] - level) > limits.steady * most) return undefined;
  // After its command was gone it does not move either.
  for (let i = end; i < n; i += 1) if (Math.abs(pace[i]) > 3 * still) return undefined;
  const before = turningBefore(command, pace, at, level, still);
  if (before < least) return undefined;
  const force = movingAverage(effort, width);
  const late = mean(effort, at + Math.floor((end - at) / 2), end);
  const took = Math.abs(mean(effort, at - Math.min(before, 2 * least), at - 1));
  const noise = noiseLevel(effort);
  if (late * level < 0 || Math.abs(late) < limits.pressed * largest(force, 0, end)) return undefined;
  if (Math.abs(late) < limits.more * took + noise) return undefined;
  return { at, stopped: 1 - deadSensor(run, trial, { signals, at, end, before }) };
}

/** Rows before `at` in which the shaft turned the way of a command like the one that it stands under. */
function turningBefore(
  command: Float64Array,
  pace: Float64Array,
  at: number,
  level: number,
  still: number,
): number {
  const way = Math.sign(level);
  let rows = 0;
  for (let i = at - 1; i >= 0; i -= 1) {
    if (command[i] * way <= 0 || pace[i] * way < still) break;
    rows += 1;
  }
  return rows;
}

/** Where a shaft stands, from which row to which, and how many rows it turned before. */
interface Standing {
  readonly signals: TrialSignals;
  readonly at: number;
  readonly end: number;
  readonly before: number;
}

/** Probability that the column of the motion died: by the odds of what is seen, one after the other (Bayes). */
function deadSensor(run: Run, trial: Trial, { signals, at, end, before }: Standing): number {
  const speed = signals.speed as Float64Array;
  let odds = dead.before / (1 - dead.before);
  const role = windings.find((one) => one !== trial.command && run.channel(one) !== undefined);
  const voltage = role && column(run, role, trial);
  if (voltage !== undefined) {
    const took = Math.abs(mean(voltage, at - Math.max(1, before >> 1), at - 1));
    const left = Math.abs(mean(voltage, at + ((end - at) >> 1), end));
    const chance = left < limits.fell * took ? dead.fell : dead.stayed;
    odds *= chance / (1 - chance);
  }
  const rests = speed.subarray(at + 1, end);
  const noisy = rests.some((v) => v !== rests[0]);
  const chance = noisy ? dead.noisy : slowsDown(speed, at) ? dead.slowed : dead.atOnce;
  odds *= chance / (1 - chance);
  return odds / (1 + odds);
}

/** The stop took several rows. */
function slowsDown(speed: Float64Array, at: number): boolean {
  const from = Math.max(0, at - limits.sudden);
  const pace = Math.abs(mean(speed, Math.max(0, from - limits.rows), from));
  let between = 0;
  for (let i = from; i < at; i += 1)
    if (Math.abs(speed[i]) < 0.8 * pace && Math.abs(speed[i]) > 0.1 * pace) between += 1;
  return between >= limits.sudden - 1;
}
