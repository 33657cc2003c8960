import type { Interval } from "../../curveIntervals.js";
import type { DrivenSpeed } from "./dcModel.js";
import { senseOf } from "./moving.js";

/** Shortest standing that counts, rows. */
const leastRows = 3;
/** The widest bracket, high over low, that is worth a number: a step from nothing to full input tells nothing of
 * breakaway. */
const widest = 3;

/**
 * The input at which a shaft sets out: between the largest input under which it stood and the smallest with which it
 * began to turn, both senses alike. Undefined where it never stood under an input, where it set out under the very
 * input it stood under, and where the two are so far apart that they tell next to nothing. Where the two are the other
 * way round (static friction varies from place to place) the interval spans them.
 *
 * @example
 * breakawayInput({ time, input: volts, speed })?.high; // V
 */
export function breakawayInput({ input, speed }: DrivenSpeed): Interval | undefined {
  const { sign } = senseOf(speed, input);
  let stood = 0;
  let turned = Number.POSITIVE_INFINITY;
  for (let i = 0; i < sign.length; ) {
    if (sign[i] !== 0) {
      i++;
      continue;
    }
    let end = i;
    while (end < sign.length && sign[end] === 0) end++;
    if (end - i >= leastRows) {
      // Inputs held for a few rows without motion; the last rows may be those of setting out.
      for (let k = i + leastRows; k < end - (end < sign.length ? 1 : 0); k++) {
        let least = Number.POSITIVE_INFINITY;
        for (let j = k - leastRows; j <= k; j++) least = Math.min(least, Math.abs(input[j]));
        stood = Math.max(stood, least);
      }
      if (end < sign.length) turned = Math.min(turned, Math.abs(input[end]));
    }
    i = end;
  }
  if (!(stood > 0) || !Number.isFinite(turned) || !(turned > 0)) return undefined;
  const [low, high] = [Math.min(stood, turned), Math.max(stood, turned)];
  // One input under which it stood and then set out: late, not held; what holds it lies anywhere below.
  if (low === high || high > widest * low) return undefined;
  return { value: (low + high) / 2, low, high };
}
