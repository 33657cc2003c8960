import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { Recording } from "../recording/types.js";

/** So much of the answers must be one part of what was asked: a shaft that runs away is at some part too, now and
 * then. */
const alike = 0.7;
/** What is asked and what is answered agree within this (common practice, no source). */
export const agrees = 0.15;

/** A channel over its command, where the command has stood for a while and is not small; undefined where that is too
 * seldom, and where the one does not follow the other. */
export function answeredPart(
  { channels }: Recording,
  role: "speed" | "position",
  command: "speedCommand" | "positionCommand",
): number | undefined {
  const [asked, answer] = [channels[command]?.data, channels[role]?.data];
  if (asked === undefined || answer === undefined) return undefined;
  const most = largest(asked);
  const parts: number[] = [];
  for (let i = 20; i < asked.length; i += 1) {
    const u = asked[i];
    if (Math.abs(u) > 0.2 * most && u === asked[i - 20] && answer[i] - answer[i] === 0)
      parts.push(answer[i] / u);
  }
  if (parts.length < 20) return undefined;
  const middle = median(parts);
  const near = parts.filter((part) => Math.abs(part / middle - 1) < agrees).length;
  return near >= alike * parts.length ? Math.abs(middle) : undefined;
}
