import { normal } from "../numeric/distributions/distributions.js";
import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { range } from "../numeric/series/range.js";
import type { ChannelRole, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, movingAverage, type TrialSignals, trialSignals } from "../run/trialSignals.js";
import { breakawayModel, type LogNormal } from "./tables/breakaway.js";

/**
 * What an effort that did not move a shaft was, beside what its friction may take: both in the unit of the effort.
 */
export interface Tried {
  /** Largest effort that was made. */
  readonly level: number;
  readonly unit: string;
  /** Probability that the friction of a sound, free shaft holds it against that. */
  readonly held: number;
  /** Nothing known of the motor says what is much for it. */
  readonly scale: "stated" | "seen" | "unknown";
}

/** A normal distribution of a logarithm, as it is narrowed by what is known. */
class Belief {
  private precision = 0;
  private sum = 0;

  /** Adds what is known independently. */
  with(value: number, spread: number): this {
    if (!(value > 0) || !(spread > 0)) return this;
    this.precision += 1 / spread ** 2;
    this.sum += Math.log(value) / spread ** 2;
    return this;
  }

  get mean(): number {
    return this.sum / this.precision;
  }

  get deviation(): number {
    return 1 / Math.sqrt(this.precision);
  }
}

/**
 * Probability that the breakaway friction of a shaft that stood exceeds the largest effort that was made of it.
 * Friction is a fraction of what the motor is rated for; that rating is stated, or narrowed by the effort itself
 * (people try some fraction of it), by larger efforts elsewhere in the log, and by the noise of the measured current,
 * which is a part of the drive's range. A trial of the same log that moved bounds the friction from above. Where both a
 * voltage and the current that it drove are logged, the one that says more decides. Undefined where no effort was
 * logged, or where it is in no unit.
 */
export function tried(run: Run, trial: Trial, signals: TrialSignals): Tried | undefined {
  const flowed = effortOf(run, trial, signals);
  const ways = [flowed, voltageOf(run, trial, flowed)].flatMap((effort) => {
    const way = effort && effort.level >= 0 ? triedBy(run, trial, signals, effort) : undefined;
    return way ?? [];
  });
  return ways.reduce<(typeof ways)[number] | undefined>(
    (best, way) => (best === undefined || way.spread < best.spread ? way : best),
    undefined,
  )?.tried;
}

/** What one effort says, and the spread of the friction that it is held against. */
function triedBy(
  run: Run,
  trial: Trial,
  signals: TrialSignals,
  effort: Effort,
): { readonly tried: Tried; readonly spread: number } {
  const { role, level } = effort;
  const unit = unitOf(role);
  const friction = statedFriction(run, role);
  if (friction !== undefined)
    return { tried: { level, unit, held: exceeds(friction, level), scale: "stated" }, spread: 0 };
  const { rating, scale } = ratingOf(run, trial, signals, effort);
  const share = breakawayModel.friction[kindOf(role)];
  const prior = {
    middle: Math.exp(rating.mean) * share.middle,
    spread: Math.hypot(rating.deviation, share.spread),
  };
  const moved = movedAt(run, trial, role);
  const held = moved === undefined ? exceeds(prior, level) : between(prior, level, moved);
  const seen: Tried = { level, unit, held, scale: moved === undefined ? scale : "seen" };
  return { tried: seen, spread: moved === undefined ? prior.spread : 0 };
}

/** The voltage or duty of a trial of which the current that flowed is measured as well. */
function voltageOf(run: Run, trial: Trial, flowed: Effort | undefined): Effort | undefined {
  const role = trial.command;
  if (role === undefined || (role !== "voltageCommand" && role !== "duty")) return undefined;
  // Of a motor in which no current flows a voltage says nothing.
  if (flowed?.role !== "current" || !(flowed.level > 0)) return undefined;
  const values = column(run, role, trial);
  return values === undefined ? undefined : { role, level: largest(values) };
}

type Kind = keyof typeof breakawayModel.friction;

const kindOf = (role: ChannelRole): Kind =>
  role === "duty" ? "duty" : role === "voltage" || role === "voltageCommand" ? "voltage" : "torque";

const unitOf = (role: ChannelRole): string => {
  const kind = kindOf(role);
  if (kind === "torque") return role === "torque" || role === "torqueCommand" ? "N·m" : "A";
  return kind === "voltage" ? "V" : "of the duty";
};

const exceeds = ({ middle, spread }: LogNormal, level: number): number =>
  level > 0 ? normal.upper(Math.log(level / middle) / spread) : 1;

/** The same where an effort is known that moved the shaft, from another place perhaps. */
function between(prior: LogNormal, level: number, moved: number): number {
  const { elsewhere } = breakawayModel;
  const below = 1 - exceeds(prior, moved);
  if (!(level < moved) || !(below > 0)) return elsewhere;
  return Math.max(elsewhere, Math.min(1, (exceeds(prior, level) - exceeds(prior, moved)) / below));
}

interface Effort {
  readonly role: ChannelRole;
  readonly level: number;
}

/** Deviations of its noise that the largest of a few hundred averages reaches by itself. */
const noises = 3;

const efforts: readonly ChannelRole[] = ["currentCommand", "torqueCommand", "voltageCommand", "duty"];

/** The largest effort: as it was measured where its command is in the same unit, for that is what the shaft felt. */
function effortOf(
  run: Run,
  trial: Trial,
  { command, commandRole, effort, effortRole }: TrialSignals,
): Effort | undefined {
  const width = Math.max(3, Math.floor((trial.to - trial.from) / 60));
  const measured = (role: ChannelRole): number | undefined => {
    const values = column(run, role, trial);
    if (values === undefined) return undefined;
    const noise = (noises * noiseLevel(values)) / Math.sqrt(width);
    return Math.max(0, largest(movingAverage(values, width)) - noise);
  };
  if (command !== undefined && commandRole !== undefined && efforts.includes(commandRole)) {
    const asked = largest(command);
    const flowed = commandRole === "currentCommand" ? measured("current") : undefined;
    return {
      role: commandRole,
      level: flowed === undefined || flowed > 3 * asked ? asked : Math.min(asked, flowed),
    };
  }
  // Under control the effort is what the loop asked for or what flowed.
  for (const role of ["current", ...efforts, "torque"] as const) {
    const level = measured(role);
    if (level !== undefined) return { role, level };
  }
  return effort !== undefined && effortRole !== undefined
    ? { role: effortRole, level: largest(movingAverage(effort, width)) }
    : undefined;
}

/** Friction by the facts of the machine, in the unit of the effort. */
function statedFriction(run: Run, role: ChannelRole): LogNormal | undefined {
  if (kindOf(role) !== "torque") return undefined;
  const { staticFriction, coulombFriction, torqueConstant } = run.recording.machine;
  const { stated } = breakawayModel;
  const newtonMetres =
    staticFriction ?? (coulombFriction === undefined ? undefined : stated.breaksAway * coulombFriction);
  if (newtonMetres === undefined || !(newtonMetres > 0)) return undefined;
  const perUnit = role === "torque" || role === "torqueCommand" ? 1 : torqueConstant;
  return perUnit !== undefined && perUnit > 0
    ? { middle: newtonMetres / perUnit, spread: stated.spread }
    : undefined;
}

/** What is known of the effort that the motor is rated for. */
function ratingOf(
  run: Run,
  trial: Trial,
  signals: TrialSignals,
  { role, level }: Effort,
): { readonly rating: Belief; readonly scale: Tried["scale"] } {
  const { rated, used, noise, more, limit, known } = breakawayModel;
  const { ratedCurrent, ratedTorque, torqueConstant } = run.recording.machine;
  const amperes = role === "current" || role === "currentCommand";
  const stated = amperes
    ? (ratedCurrent ?? (torqueConstant ? (ratedTorque ?? 0) / torqueConstant : 0))
    : role === "torque" || role === "torqueCommand"
      ? (ratedTorque ?? (ratedCurrent ?? 0) * (torqueConstant ?? 0))
      : kindOf(role) === "duty"
        ? 1
        : run.recording.drive.busVoltage;
  if (stated !== undefined && stated > 0)
    return { rating: new Belief().with(stated, known), scale: "stated" };
  const place = amperes ? rated.current : kindOf(role) === "voltage" ? rated.voltage : rated.torque;
  const open = trial.kind === "torque" || trial.kind === "voltage" || trial.kind === "duty";
  const trying = open ? used.open : used.loop;
  const rating = new Belief().with(place.middle, place.spread).with(level / trying.middle, trying.spread);
  if (amperes) {
    const { currentLimit } = run.recording.drive;
    if (currentLimit !== undefined) rating.with(currentLimit / limit.middle, limit.spread);
    const measured = signals.current;
    if (measured !== undefined) rating.with(noiseLevel(measured) / noise.middle, noise.spread);
  }
  const whole = run.channel(role)?.filled;
  const most = whole === undefined ? 0 : largest(movingAverage(whole, 5));
  const larger = most > more.from * level;
  if (larger) rating.with(most / more.middle, more.spread);
  return { rating, scale: larger ? "seen" : "unknown" };
}

/** Smallest largest effort of another trial of this log under which the shaft moved from rest. */
function movedAt(run: Run, trial: Trial, role: ChannelRole): number | undefined {
  let least: number | undefined;
  for (const other of run.trials) {
    if (other === trial || (other.from === trial.from && other.to === trial.to)) continue;
    if (!driving.has(other.kind)) continue;
    const seen = trialSignals(run, other);
    const level = effortOf(run, other, seen);
    if (level?.role !== role || seen.angle === undefined || seen.speed === undefined) continue;
    const moved = range(seen.angle) > Math.max(breakawayModel.moved, 40 * seen.angleStep);
    if (moved && Math.abs(seen.speed[0]) < 0.2 * largest(seen.speed))
      least = Math.min(least ?? level.level, level.level);
  }
  return least;
}

const driving = new Set(["torque", "voltage", "duty", "speed", "position"]);
