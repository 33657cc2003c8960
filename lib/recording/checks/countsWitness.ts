import { median } from "../../numeric/series/median.js";
import { derivedSpeed } from "../derivedSpeed.js";
import type { Recording } from "../types.js";
import { electricalTurnsPerTurn, isPolePairs } from "./angleAgainstPosition.js";
import { indexConfirms } from "./indexSpacing.js";
import { settledRatios } from "./speedAgainstCommand.js";

/** A channel that confirms the scale of a counted position. */
export type CountsWitness = "speed" | "index" | "electricalAngle" | "speedCommand";

/** How near to its reference a loop with an integral holds the mean speed (judgement). */
const held = 0.01;

/**
 * The channel that confirms how far one count turns the shaft: a speed column (which other checks hold against the
 * position), index pulses a turn apart, a commutation angle with a whole number of electrical turns to the turn, or a
 * reference at which the counted speed settles. Undefined where nothing does: counts missing evenly, or a line count
 * stated a little wrong, are then not to be told from a shaft that turned less.
 */
export function countsWitness(recording: Recording): CountsWitness | undefined {
  if (recording.channels.speed !== undefined) return "speed";
  if (indexConfirms(recording)) return "index";
  const ratio = electricalTurnsPerTurn(recording);
  if (ratio !== undefined && isPolePairs(ratio, recording)) return "electricalAngle";
  const settled = countedOverReference(recording);
  return settled !== undefined && Math.abs(settled - 1) < held ? "speedCommand" : undefined;
}

/** Counted speed over its reference where that is held, as often as it takes; undefined where there is no such
 * stretch, or they do not agree. */
export function countedOverReference({ time, channels }: Recording): number | undefined {
  const { position, speedCommand } = channels;
  if (position === undefined || speedCommand === undefined) return undefined;
  const { speed } = derivedSpeed(time, position.data, position.resolution);
  const ratios = settledRatios(speed, speedCommand.data);
  const middle = median(ratios);
  return ratios.length < 2 || ratios.some((r) => Math.abs(r / middle - 1) > held) ? undefined : middle;
}
