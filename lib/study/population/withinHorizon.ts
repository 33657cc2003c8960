import type { Estimate } from "../../units/estimate.js";
import type { MotorRemaining, RemainingLife } from "./remainingLife.js";

/**
 * Motors that may reach the limit within the time that their lines are followed, the soonest first (of those that
 * probably do so later, the one that may do so first), and how many others there are.
 *
 * @param horizon in the unit of the times
 */
export function withinHorizon(
  life: RemainingLife,
  horizon: number,
): { readonly near: readonly MotorRemaining[]; readonly far: number } {
  const seen = ({ remaining }: MotorRemaining) => Math.min(remaining.value, horizon);
  const near = life.motors
    .filter((m) => m.remaining.low <= horizon)
    .sort((a, b) => seen(a) - seen(b) || a.remaining.low - b.remaining.low);
  return { near, far: life.motors.length - near.length };
}

/**
 * A time left with its interval, in words, without its unit; what lies beyond the horizon is only said to do so.
 *
 * @param horizon in the unit of the time
 * @param number how a number is written
 */
export function timeLeftText(time: Estimate, horizon: number, number: (value: number) => string): string {
  const n = (v: number) => (v > horizon ? `more than ${number(horizon)}` : number(v));
  if (time.low > horizon) return `more than ${number(horizon)}`;
  return time.value > horizon
    ? `${n(time.value)}, at the earliest ${n(time.low)}`
    : `${n(time.value)} (${n(time.low)} to ${n(time.high)})`;
}
