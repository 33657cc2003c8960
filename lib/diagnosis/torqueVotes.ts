import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { Hold } from "../run/holds.js";
import type { TorqueTrial } from "./torqueTrial.js";

/** One answer of the shaft to one change of the command. */
export interface Vote {
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
    // Speeding up further: unloaded, only a torque in the sense of turning does that, whether the command rose or is
    // falling.
    return { hold, sign: along, strong: true };
  }
  if (before && Math.sign(change) !== Math.sign(end) && Math.abs(gained) > 4 * noise) {
    // Slowing down after the command fell: friction would do as much.
    return { hold, sign: (Math.sign(gained) * Math.sign(change)) as 1 | -1, strong: false };
  }
  // Turning steadily under a steady command: something must overcome friction, most likely the motor.
  return { hold, sign: along, strong: false };
}

/** What all the answers of a trial say together. */
export interface Votes {
  /** Those that count: the strong ones where there are any, and with the equation of motion where that decides. */
  readonly counted: readonly Vote[];
  readonly strong: readonly Vote[];
  readonly withs: number;
  readonly againsts: number;
  /** The equation of motion decides which answers count. */
  readonly byLaw: boolean;
}

/** Part of its speed that a shaft loses at least under a torque against it, for as long as half of the longest command,
 * and the speed beside the largest from which on it counts (judgement: friction alone takes more). */
const slowed = { part: 0.04, length: 0.5, speed: 0.3 };

/** A torque of the sense `sign` would have slowed the shaft down under this command, and it kept its speed. */
export function heedless({ signals, driven, longest }: TorqueTrial, hold: Hold, sign: number): boolean {
  const top = Math.max(...driven.map(({ peakSpeed }) => peakSpeed));
  const { startSpeed: start, endSpeed: end } = hold;
  if (sign * hold.sense * start >= 0 || Math.abs(start) < slowed.speed * top) return false;
  if (hold.length < slowed.length * longest.length) return false;
  return (
    end * start > 0 &&
    Math.abs(start) - Math.abs(end) < slowed.part * Math.abs(start) + 2 * signals.speedNoise
  );
}

/** Acceleration per ampere over its standard error; 0 without a law. */
export function lawSureness(law: LawFit | undefined): number {
  return law ? law.direct / Math.max(law.error, 1e-300) : 0;
}

/** The answers of the shaft to each command of a trial. */
export function castVotes({ signals, holds, driven, law, commanded }: TorqueTrial): Votes {
  const votes: Vote[] = [];
  for (const hold of driven) {
    const at = holds.indexOf(hold);
    const cast = vote(hold, holds[at - 1], signals.speedNoise);
    if (cast) votes.push(cast);
  }
  const strong = votes.filter((v) => v.strong);
  const z = lawSureness(law);
  let counted = strong.length > 0 ? strong : votes;
  // Without a command the measured current falls on the plateau and its holds are blurred; the equation of motion is
  // not.
  const byLaw = !commanded && law !== undefined && law.unexplained < 0.4 && Math.abs(z) > 8;
  if (byLaw) counted = counted.filter((v) => v.sign === Math.sign(z));
  const withs = counted.filter((v) => v.sign > 0).length;
  return { counted, strong, withs, againsts: counted.length - withs, byLaw };
}
