import { parity } from "../motor/leadOrder.js";
import type { JudgedTrial, ReadRecording } from "./judged.js";
import { travelModel } from "./tables/motion.js";

/** Effort that friction takes up, in the unit of the effort of `role`. */
interface Friction {
  readonly role: string;
  readonly effort: number;
}

/**
 * Trials in which the shaft stayed, with the part of the torque that friction takes up by what the turning orders of
 * the same motor show: at some angles it then holds a shaft that two swapped phases or a wrong setting draw to a rest
 * angle, and nothing moves at all.
 */
export function withFriction(recordings: readonly ReadRecording[]): ReadRecording[] {
  const seen = recordings.flatMap(({ trials }) => trials.flatMap((trial) => frictionOf(trial) ?? []));
  const turned = new Set(recordings.filter(({ trials }) => trials.some(frictionOf)).map(groupOf));
  return recordings.map((one) =>
    seen.length === 0 || turned.has(groupOf(one))
      ? one
      : { ...one, trials: one.trials.map((trial) => heldBy(trial, seen)) },
  );
}

const groupOf = ({ recording: { ordering } }: ReadRecording): string | undefined =>
  ordering === undefined ? undefined : parity(ordering);

function frictionOf({ observation, alike }: JudgedTrial): Friction | undefined {
  const { behaviour, law, signals } = observation;
  const role = signals.effortRole;
  // Of many trials alike those say enough that are weighed.
  if (alike !== undefined || behaviour !== "turns" || law === undefined || role === undefined)
    return undefined;
  if (!(law.unexplained < travelModel.friction.unexplained)) return undefined;
  const effort = law.friction / Math.abs(law.direct);
  return Number.isFinite(effort) ? { role, effort } : undefined;
}

function heldBy(trial: JudgedTrial, seen: readonly Friction[]): JudgedTrial {
  const { behaviour, signals, holds } = trial.observation;
  if (behaviour !== "still" || trial.observation.trial.kind !== "torque") return trial;
  const level = Math.max(0, ...holds.map((hold) => Math.abs(hold.level)));
  // The order that turns most easily makes the most of its current: the others take more for the same friction.
  const least = Math.min(
    ...seen.filter(({ role }) => role === signals.effortRole).map(({ effort }) => effort),
  );
  const fraction = (travelModel.friction.breaksAway * least) / level;
  return Number.isFinite(fraction) ? { ...trial, friction: Math.min(1, fraction) } : trial;
}
