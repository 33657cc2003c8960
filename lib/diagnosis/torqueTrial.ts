import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { goesOn } from "./goesOn.js";
import { heldShare } from "./heldShare.js";

/** Signals of a trial in which the shaft's motion was seen. */
export type MovingSignals = TrialSignals & Required<Pick<TrialSignals, "speed" | "angle">>;

/** What the judgements on a torque trial share. */
export interface TorqueTrial {
  readonly signals: MovingSignals;
  readonly holds: readonly Hold[];
  /** Holds with a command other than zero. */
  readonly driven: readonly Hold[];
  readonly longest: Hold;
  /** Largest travel under one command, and the travel below which the shaft did not move, rad. */
  readonly swing: number;
  readonly stillLimit: number;
  readonly turning: readonly Hold[];
  readonly resting: readonly Hold[];
  /** Holds not too short to show anything beside the others. */
  readonly long: readonly Hold[];
  readonly commanded: boolean;
  /** So many steps that each hold is short: the equation of motion is the better judge, where it has one. */
  readonly many: boolean;
  /** The equation of motion, where it explains enough of the motion to have a say. */
  readonly law: LawFit | undefined;
}

/** Gathers what the judgements share; undefined where nothing was commanded. */
export function torqueTrialOf(
  signals: MovingSignals,
  holds: readonly Hold[],
  fitted: LawFit | undefined,
): TorqueTrial | undefined {
  const driven = holds.filter((hold) => hold.sense !== 0);
  if (driven.length === 0) return undefined;
  const longest = driven.reduce((a, b) => (b.length > a.length ? b : a));
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
  return {
    signals,
    holds,
    driven,
    longest,
    swing: Math.max(...driven.map((hold) => hold.swing)),
    stillLimit: 4 * signals.angleStep,
    turning,
    resting,
    long,
    commanded,
    many: commanded && driven.length >= 12,
    // A law that leaves most of the motion unexplained has no say.
    law: fitted && fitted.unexplained < 0.5 ? inSenseOfCommand(fitted, signals) : undefined,
  };
}

/** Below this correlation what was measured goes against what was commanded (judgement). */
const against = -0.5;

/** The law relates the motion to what was measured; where that is against its command (a torque sensor on a shaft that
 * is turned the wrong way), so is the sense. */
function inSenseOfCommand(law: LawFit, { command, effort }: MovingSignals): LawFit {
  if (command === undefined || effort === undefined) return law;
  let both = 0;
  let asked = 0;
  let got = 0;
  for (let i = 0; i < effort.length; i += 1) {
    both += command[i] * effort[i] || 0;
    asked += command[i] ** 2 || 0;
    got += effort[i] ** 2 || 0;
  }
  return both < against * Math.sqrt(asked * got)
    ? { ...law, direct: -law.direct, quadrature: -law.quadrature }
    : law;
}

/** The command changes all the time, or so often that only the equation of motion can judge. */
export function changesAllTheTime({ signals, holds, driven, commanded, many, law }: TorqueTrial): boolean {
  const clear = law !== undefined && law.unexplained < 0.4 && Math.abs(law.direct) > 8 * law.error;
  const often = driven.length >= 3 || (commanded && reversals(signals.command as Float64Array) >= 4);
  const moving = commanded && often && heldShare(signals.command as Float64Array, holds) < 0.6;
  return moving || (many && clear);
}

/** How often a command goes from one side of zero to the other: some of it may be too fast to be cut into holds. */
function reversals(command: Float64Array): number {
  let side = 0;
  let count = 0;
  for (let i = 0; i < command.length; i += 1) {
    const sense = Math.sign(command[i]);
    if (sense === 0 || sense === side) continue;
    if (side !== 0) count += 1;
    side = sense;
  }
  return count;
}

/** A shaft that does not turn at the end of any command but goes on one way all the same. */
export function goesOneWay({ signals, driven, longest, long }: TorqueTrial): boolean {
  const oneSense = driven.every((hold) => hold.sense === driven[0].sense);
  const whole = { ...longest, from: driven[0].from, to: driven[driven.length - 1].to };
  return long.some((hold) => goesOn(signals, hold)) || (oneSense && goesOn(signals, whole));
}

/**
 * The command slowed the shaft down all along, to the end of the hold and as fast there as before: it passes through
 * rest and does not stay. One that comes to rest keeps hardly any of that slope.
 */
function passing(signals: MovingSignals, hold: Hold): boolean {
  const { speed } = signals;
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
export function keptSpeed(speed: Float64Array, noise: number): boolean {
  const level = mean(speed);
  const size = Math.max(1, Math.floor(speed.length / 20));
  for (let i = 0; i + size <= speed.length; i += size)
    if (Math.abs(mean(speed, i, i + size) - level) > Math.max(0.1 * Math.abs(level), 2 * noise)) return false;
  return true;
}
