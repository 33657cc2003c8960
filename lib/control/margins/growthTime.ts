import type { ShortfallAt } from "../../identify/loop/torqueShortfall.js";
import { longestSpeedFilter } from "../../identify/motionLimits.js";
import type { SpeedGains } from "../../motor/speedGains.js";
import type { Estimate } from "../../units/estimate.js";
import {
  type FixedLoop,
  fixLoop,
  type LoopPlant,
  type Quantity,
  type SpeedLoop,
  totalDelay,
} from "../models/speedLoop.js";

/** What of the loop beyond plant and gains slows a runaway's growth. */
export type GrowthLags = Pick<
  SpeedLoop,
  | "currentBandwidth"
  | "computationDelay"
  | "speedFilter"
  | "sampleTime"
  | "speedMeasurement"
  | "currentShortfall"
>;

/**
 * Growth time constant of a speed loop whose torque gain is negative: speed error grows as exp(t/tau) until the current
 * saturates. `undefined` when there is no such pole: torque gain not negative, or no integral gain and a proportional
 * gain that friction outweighs.
 *
 * With positive gains, `g < 0` and all lags L(s) (each of them at least 1 on the positive real axis, and rising there)
 * a closed-loop pole solves (J*s + B)*L(s) = abs(g)*Kt*(kp + ki/s). On s > 0 the left side rises without limit and the
 * right side falls, so there is exactly one real pole in the right half plane for every kp > 0 and ki > 0: larger gains
 * only move it further out. No positive gain brings it back; only the sign of the torque does.
 *
 * The interval is the range over the corners of the intervals of inertia, friction, torque constant and gain (the pole
 * is monotone in each, so the range is exact). An interval of g that reaches 0 gives `high` of Infinity. Lags only slow
 * a growth: those that may be there unseen move `high` alone, and the value stays on the quick, cautious side.
 *
 * @param unseen delay that the loop may have beyond its known lags, s (see `unseenLag`)
 * @example
 * growthTime({ inertia: 1e-4, torqueConstant: 0.1, torqueGain: -1 }, { kp: 0.02, ki: 0.2 })?.value; // => 0.0366 (s)
 */
export function growthTime(
  plant: LoopPlant,
  gains: SpeedGains,
  lags: GrowthLags = {},
  unseen = 0,
): Estimate | undefined {
  const at = (end: "value" | "low" | "high"): number | undefined => {
    const quick = end === "low";
    const pick = (quantity: Quantity, name: string): number => {
      if (typeof quantity === "number") return quantity;
      if (end === "value") return quantity.value;
      // A quick growth: small inertia, friction and lag, large torque.
      if (name === "torqueGain") return quick ? quantity.low : Math.min(quantity.high, 0);
      const eases =
        name === "inertia" ||
        name === "viscousFriction" ||
        name === "coulombFriction" ||
        name === "staticFriction";
      return eases === quick ? quantity.low : quantity.high;
    };
    const fixed = fixLoop({ plant, gains, ...lags }, pick);
    const delayed = end === "high" ? { ...fixed, computationDelay: fixed.computationDelay + unseen } : fixed;
    const { currentShortfall: shortfall } = fixed;
    const edge = end === "value" || shortfall?.edge === undefined ? [shortfall] : shortfall.edge;
    const growths = edge.map((currentShortfall) => growthOf({ ...delayed, currentShortfall }));
    if (growths.some((growth) => growth === undefined)) return undefined;
    return quick ? Math.min(...(growths as number[])) : Math.max(...(growths as number[]));
  };
  const value = at("value");
  if (value === undefined) return undefined;
  return {
    value,
    low: at("low") ?? value,
    high: at("high") ?? Number.POSITIVE_INFINITY,
    unit: "s",
    method: "positive real pole of the speed loop, range over the corners of the intervals",
  };
}

/**
 * Largest lags that a loop has where nothing tells them, s: of a closed current loop (its bandwidth is seldom below 500
 * rad/s) and of sampling with its computation (1 ms periods are slow ones), by common practice, no source; of the
 * filter of the speed, 97.5 % of what `loopFilter.ts` holds possible: none in half of all drives, else an exponential
 * law whose mean is half the longest usual filter.
 */
const largestUnseen = {
  currentLoop: 2e-3,
  sampling: 1.5e-3,
  filter: Math.log(0.5 / 0.025) * (longestSpeedFilter / 2),
} as const;

/**
 * The delay that a loop may have beyond what is known of it, s: the largest usual lag of each part that is neither
 * stated nor seen, added as independent errors are.
 *
 * @example
 * unseenLag({ currentBandwidth: 1000, sampleTime: 2.5e-4, speedFilter: 800 }); // => 0
 */
export function unseenLag(lags: GrowthLags): number {
  const parts = [
    lags.currentBandwidth === undefined ? largestUnseen.currentLoop : 0,
    lags.sampleTime === undefined && lags.computationDelay === undefined ? largestUnseen.sampling : 0,
    lags.speedFilter === undefined ? largestUnseen.filter : 0,
  ];
  return Math.hypot(...parts);
}

/** The growth time constant of one loop, s. */
function growthOf(loop: FixedLoop): number | undefined {
  const pole = runawayPole(loop);
  return pole === undefined ? undefined : 1 / pole;
}

/** The positive real pole of the continuous loop with its exact delay, rad/s. */
function runawayPole(loop: FixedLoop): number | undefined {
  const k = -loop.torquePerAmpere;
  if (!(k > 0) || loop.kp < 0 || loop.ki < 0) return undefined;
  if (loop.ki === 0 && k * loop.kp <= loop.viscous) return undefined;
  const delay = totalDelay(loop);
  const lacking = (s: number): number =>
    loop.currentShortfall === undefined ? 0 : s * torqueLacking(loop, loop.currentShortfall, s);
  // Rising in s: positive beyond the pole, negative before it.
  const excess = (s: number): number =>
    Math.log(loop.inertia * s + loop.viscous + lacking(s)) +
    Math.log1p(s / loop.currentBandwidth) +
    Math.log1p(s / loop.speedFilter) +
    s * delay -
    Math.log(k * (loop.kp + loop.ki / s));
  // Without lags the pole is the root of a quadratic; lags only bring it nearer to 0.
  const b = loop.viscous - k * loop.kp;
  const c = -k * loop.ki;
  const root = Math.sqrt(b * b - 4 * loop.inertia * c);
  let high = b <= 0 ? (-b + root) / (2 * loop.inertia) : (-2 * c) / (b + root);
  if (!(high > 0)) return undefined;
  high *= 1 + 1e-9;
  let low = high;
  for (let n = 0; n < 2000 && excess(low) > 0; n++) low /= 2;
  for (let n = 0; n < 200 && high - low > 1e-15 * high; n++) {
    const middle = (low + high) / 2;
    if (excess(middle) > 0) high = middle;
    else low = middle;
  }
  return (low + high) / 2;
}

/**
 * Torque that a drive lacks per unit of acceleration where the speed grows as exp(rate*t), N m s2: the inertia that its
 * current's shortfall adds.
 *
 * The back-EMF has the part `g` of it on the axis of the drive's q current and the rest on that of its d current; both
 * currents yield to it, and the torque of both is against the motion: together `Kt*ke*s/((L*s + R)*(s + wc))` whatever
 * `g` is. The measured q current shows `g` of it, and gives `g` of that as torque: over `g` squared it is the whole. A
 * plant of ratios to the q current (`torqueGain` -1) has the d current's part in its inertia already. Infinity where
 * `g` is 0: no q current shows it.
 */
export function torqueLacking(
  loop: Pick<FixedLoop, "torquePerAmpere" | "torqueGain">,
  { perSpeed, corner }: ShortfallAt,
  rate: number,
): number {
  if (loop.torqueGain === 0) return perSpeed === 0 ? 0 : Number.POSITIVE_INFINITY;
  return (loop.torquePerAmpere * perSpeed) / (rate + corner) / Math.min(1, loop.torqueGain ** 2);
}
