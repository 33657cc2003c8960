import { largest } from "../numeric/series/largest.js";
import type { Hold } from "../run/holds.js";

/** Share of the driven samples at which the command is on its hold's level: little of a ramp or a sine is. */
export function heldShare(command: Float64Array, holds: readonly Hold[]): number {
  const near = 0.1 * largest(command);
  let held = 0;
  let driven = 0;
  for (const hold of holds) {
    if (hold.sense === 0) continue;
    for (let i = hold.from; i < hold.to; i += 1) if (Math.abs(command[i] - hold.level) <= near) held += 1;
    driven += hold.to - hold.from;
  }
  return driven > 0 ? held / driven : 1;
}
