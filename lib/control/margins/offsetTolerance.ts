import type { FixedLoop } from "../models/speedLoop.js";
import { isStable, loopMargins } from "./loopMargins.js";

/** How large an offset error the loop bears, electrical degrees either way. The torque gain is g = cos(offset
 * error). */
export interface OffsetTolerance {
  /** The loop is stable for every offset error below this, deg. 0 when it is not stable without one. */
  readonly stableBelow: number;
  /** Smallest torque gain at which it is still stable: the cosine of that. */
  readonly leastGain: number;
  /** The phase margin stays at `leastPhaseMargin` or above for every offset error below this, deg. */
  readonly marginBelow: number;
  readonly leastPhaseMargin: number;
  /** The current limit still overcomes breakaway friction for every offset error below this, deg; absent without a
   * limit or a friction. */
  readonly torqueBelow?: number;
  readonly text: string;
}

/**
 * The largest offset error a loop tolerates, by scanning the torque gain down from 1 and bisecting where a demand
 * fails. An offset error only lowers the gain, so what limits it is conditional stability (a gain that must not fall),
 * the phase margin lost when the crossover falls towards the integral action's corner, and the current left to move the
 * shaft. At 90 degrees no torque is left, beyond it the loop runs away.
 *
 * @param demand phase margin that must be left, degrees
 * @example
 * offsetTolerance(fixLoop(loop), { leastPhaseMargin: 60 }).marginBelow; // => 70.3 (degrees of offset error)
 */
export function offsetTolerance(
  loop: FixedLoop,
  demand: { readonly leastPhaseMargin: number },
): OffsetTolerance {
  const at = (degrees: number): FixedLoop => {
    const torqueGain = Math.cos((degrees * Math.PI) / 180);
    return { ...loop, torqueGain, torquePerAmpere: torqueGain * loop.torqueConstant };
  };
  // Both scans pass the same angles.
  const asked = new Map<number, boolean>();
  const steadies = (degrees: number): boolean => {
    const known = asked.get(degrees) ?? isStable(at(degrees));
    asked.set(degrees, known);
    return known;
  };
  const margin = (degrees: number): boolean => {
    if (!steadies(degrees)) return false;
    return (loopMargins(at(degrees), 160).phaseMargin * 180) / Math.PI >= demand.leastPhaseMargin;
  };
  const stableBelow = firstFailure(steadies);
  const marginBelow = stableBelow === 0 ? 0 : firstFailure(margin);
  const needed = Math.max(loop.static, loop.coulomb);
  const available = loop.currentLimit * loop.torqueConstant;
  const torqueBelow =
    needed > 0 && Number.isFinite(available)
      ? needed >= available
        ? 0
        : (Math.acos(needed / available) * 180) / Math.PI
      : undefined;
  const limits = [marginBelow, ...(torqueBelow === undefined ? [] : [torqueBelow])];
  const bears = Math.min(...limits);
  const text =
    stableBelow === 0
      ? "the loop is not stable even without an offset error"
      : bears >= 89.9
        ? "the loop stays stable for every offset error below 90 degrees, only slower; beyond 90 it runs away"
        : `the loop bears an offset error of up to ${bears.toFixed(0)} degrees (${
            bears === torqueBelow
              ? "beyond that the current limit cannot overcome friction"
              : `beyond that its phase margin falls below ${demand.leastPhaseMargin} degrees`
          }); beyond 90 it runs away`;
  return {
    stableBelow,
    leastGain: Math.cos((stableBelow * Math.PI) / 180),
    marginBelow,
    leastPhaseMargin: demand.leastPhaseMargin,
    ...(torqueBelow === undefined ? {} : { torqueBelow }),
    text,
  };
}

/** Smallest angle, deg, at which a demand fails, 0 to 90; scanned in 5-degree steps and bisected. */
function firstFailure(holds: (degrees: number) => boolean): number {
  if (!holds(0)) return 0;
  for (let degrees = 5; degrees <= 90; degrees += 5) {
    const tried = Math.min(degrees, 89.99);
    if (holds(tried)) continue;
    let low = degrees - 5;
    let high = tried;
    while (high - low > 0.01) {
      const middle = (low + high) / 2;
      if (holds(middle)) low = middle;
      else high = middle;
    }
    return low;
  }
  return 90;
}
