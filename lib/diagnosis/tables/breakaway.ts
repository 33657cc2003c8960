import type { Source } from "./source.js";

/** A quantity whose logarithm is normal: its middle, and the standard deviation of the natural logarithm. */
export interface LogNormal {
  readonly middle: number;
  readonly spread: number;
}

/**
 * What friction takes from a shaft at rest, beside what the motor is rated for, and what tells that rating where nobody
 * states it.
 */
export const breakawayModel = {
  /** Breakaway friction as a fraction of the rated torque; voltage at which a motor starts as a fraction of its rated
   * one, and duty (bearings, seals, cogging, and the gears of some). */
  friction: {
    torque: { middle: 0.06, spread: 0.92 },
    voltage: { middle: 0.07, spread: 0.7 },
    duty: { middle: 0.07, spread: 0.7 },
  } satisfies Record<string, LogNormal>,
  /** Ratings of motors on benches: A, N·m, V. */
  rated: {
    current: { middle: 4, spread: 1.4 },
    torque: { middle: 1, spread: 2 },
    voltage: { middle: 18, spread: 0.8 },
  } satisfies Record<string, LogNormal>,
  /** Fraction of the rating that people try, and that a loop presses with to its end. */
  used: { open: { middle: 0.3, spread: 0.92 }, loop: { middle: 0.8, spread: 0.6 } },
  /** Noise of a measured current as a fraction of the rating. */
  noise: { middle: 0.01, spread: 1.2 },
  /** A larger effort elsewhere in the log: from how many times on, and as a fraction of the rating. */
  more: { from: 1.5, middle: 0.8, spread: 0.7 },
  /** Current limit of the drive over the rating. */
  limit: { middle: 2, spread: 0.5 },
  /** Spread of a rating that was stated. */
  known: 0.1,
  /** Friction from facts: breakaway over Coulomb friction, and its spread from angle to angle and with temperature. */
  stated: { breaksAway: 1.4, spread: 0.35 },
  /** That friction holds a shaft against an effort which moved it at another angle or time. */
  elsewhere: 0.03,
  /** Way of a shaft that moved, rad. */
  moved: 0.3,
  /** Before the log is looked at: that a shaft which stood is blocked; the same where lead orders are tried, of which
   * half are blocked. */
  blocked: { usual: 0.2, orders: 0.5 },
  source: "common practice" as Source,
};
