import { torqueSign } from "../../identify/commutation/torqueSign.js";
import { backEmfVector } from "../../identify/electrical/backEmfVector.js";
import { constantsOf } from "../../identify/index.js";
import type { ShortfallAt } from "../../identify/loop/torqueShortfall.js";
import { type SenseAccount, torqueBySense } from "../../identify/mechanical/torqueBySense.js";
import { normal } from "../../numeric/distributions/distributions.js";
import { halving } from "../../numeric/optimise/halving.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { growthTime, torqueLacking, unseenLag } from "../margins/growthTime.js";
import {
  type FixedLoop,
  fixLoop,
  type LoopPlant,
  type LoopShortfall,
  type Quantity,
  type SpeedLoop,
} from "../models/speedLoop.js";
import { Choice } from "./choice.js";
import { loopFromRun } from "./loopFromRun.js";
import { plantOfRun } from "./plantOfRun.js";

/** What a speed loop closed on a run whose torque is against its command would do, from the run's own trials. */
export interface RunawayPrediction {
  /** Growth time constant of the error with the gains stated or seen in use, until the current is at its limit. */
  readonly growthTime?: Estimate;
  /**
   * Rise of the speed with the current at its limit: (abs(g)*Kt*I - friction)/J, rad/s2, and that current, A. Which way
   * the shaft runs away is the reference's choice: the interval is over both senses (see `torqueBySense`).
   */
  readonly limited?: {
    readonly acceleration: Estimate;
    readonly current: number;
    /** The limit is stated; else it is the largest current that was commanded under torque. */
    readonly stated: boolean;
  };
}

/**
 * How a runaway of this run would grow; undefined where its torque is not against its command, or the plant is not
 * identifiable from it.
 *
 * @example
 * predictRunaway(run); // undefined: the torque of this order is with its command
 */
export function predictRunaway(run: Run): RunawayPrediction | undefined {
  return run.once("predicted runaway", () => predict(run));
}

function predict(run: Run): RunawayPrediction | undefined {
  // The constants are many, and most runs have nothing to foretell: their torque is with its command by both measures.
  const measured = backEmfVector(run)?.torqueGain;
  if (!((measured?.value ?? 0) < 0 || (torqueSign(run) ?? 0) < 0)) return undefined;
  // The plant alone says whether there is anything to foretell: gains and timing are looked for only then.
  const { plant } = plantOfRun(run, constantsOf(run), {}, new Choice());
  if (!(plain(plant?.torqueGain ?? 1) < 0)) return undefined;
  const { loop, plantOnly } = loopFromRun(run);
  if (plantOnly === undefined) return undefined;
  const growth = loop && growthTime(loop.plant, loop.gains, loop, unseenLag(loop));
  const stated = plantOnly.currentLimit;
  const current = stated ?? largestCommanded(run);
  const acceleration = current === undefined ? undefined : riseAt(run, plantOnly, current);
  return {
    ...(growth ? { growthTime: growth } : {}),
    ...(current !== undefined && acceleration
      ? { limited: { acceleration, current, stated: stated !== undefined } }
      : {}),
  };
}

/** Rise of the speed with the current at its limit, in whichever sense the reference makes it run away. */
function riseAt(
  run: Run,
  { plant, currentShortfall }: Pick<SpeedLoop, "plant" | "currentShortfall">,
  current: number,
): Estimate | undefined {
  const alike = limitedAcceleration(plant, current, 0, currentShortfall);
  if (alike === undefined) return undefined;
  // The difference goes with the current that flows, not with the one that is asked for.
  const asked = limitedAcceleration(plant, current)?.value ?? alike.value;
  const carried = (current * alike.value) / asked;
  const known = typeof plant.torqueGain === "object" ? plant.torqueGain.value : undefined;
  return eitherSense(alike, torqueBySense(run, current, known), carried);
}

/**
 * A rise of both senses, alike but for what the accounts say: mean and 95 % interval over the senses, which are as
 * likely, and over the accounts.
 */
function eitherSense(alike: Estimate, accounts: readonly SenseAccount[], current: number): Estimate {
  const parts = accounts.flatMap(({ weight, share, deviation, gain }) =>
    [current, -current].map((signed) => {
      const middle = alike.value * gain * (1 + share * signed);
      const own = alike.value * deviation * current;
      return {
        weight: weight / 2,
        middle,
        below: Math.hypot((alike.value - alike.low) / 1.959964, own),
        above: Math.hypot((alike.high - alike.value) / 1.959964, own),
      };
    }),
  );
  const over = (x: number): number =>
    parts.reduce((sum, { weight, middle, below, above }) => {
      const width = x < middle ? below : above;
      return sum + weight * (width > 0 ? normal.cdf((middle - x) / width) : x < middle ? 1 : 0);
    }, 0);
  const widest = Math.max(...parts.map(({ middle, above }) => middle + 5 * above));
  return {
    ...alike,
    value: parts.reduce((sum, { weight, middle }) => sum + weight * middle, 0),
    low: halving(0, widest, (x) => over(x) > 0.975)[0],
    high: halving(0, widest, (x) => over(x) > 0.025)[1],
    method: "(abs(g)*Kt*current - friction)/J, over both senses of turning",
  };
}

const plain = (q: Quantity): number => (typeof q === "number" ? q : q.value);

/** Largest current commanded in the torque trials, A. */
function largestCommanded(run: Run): number | undefined {
  let most = 0;
  for (const trial of run.trials)
    if (trial.kind === "torque")
      for (const v of trial.channel("currentCommand") ?? []) if (Math.abs(v) > most) most = Math.abs(v);
  return most > 0 ? most : undefined;
}

/**
 * Rise of the speed of a plant whose torque is against its command, at one current and speed, with the range over the
 * corners of its intervals. Undefined where friction holds the shaft.
 *
 * @param current commanded, A; the measured one where no shortfall is given
 * @param speed rad/s; viscous friction counts at it
 * @param shortfall what the current lacks of its command while the back-EMF rises; it has settled on the line, where
 * the shaft is as if heavier by `Kt*perSpeed/corner/abs(g)`
 */
export function limitedAcceleration(
  plant: LoopPlant,
  current: number,
  speed = 0,
  shortfall?: LoopShortfall,
): Estimate | undefined {
  const at = (quick: boolean | undefined): number => {
    const fixed = fixLoop({ plant, gains: { kp: 0, ki: 0 } }, (quantity: Quantity, name: string): number => {
      if (typeof quantity === "number") return quantity;
      if (quick === undefined) return quantity.value;
      if (name === "torqueGain") return quick ? quantity.low : Math.min(quantity.high, 0);
      const slows = name !== "torqueConstant";
      return slows === quick ? quantity.low : quantity.high;
    });
    const heavier = (quick === undefined ? [shortfall] : (shortfall?.edge ?? [shortfall])).map((pair) =>
      settledInertia(fixed, pair),
    );
    const inertia = fixed.inertia + (quick ? Math.min(...heavier) : Math.max(...heavier));
    return (Math.abs(fixed.torquePerAmpere) * current - fixed.coulomb - fixed.viscous * speed) / inertia;
  };
  const ends = [at(undefined), at(true), at(false)];
  if (!(ends[0] > 0)) return undefined;
  return {
    value: ends[0],
    low: Math.max(0, Math.min(...ends)),
    high: Math.max(...ends),
    unit: "rad/s2",
    method: "(abs(g)*Kt*current - friction)/J, range over the corners of the intervals",
  };
}

/** By how much the current's shortfall makes a steadily accelerated shaft heavier, kg m2 (see `torqueLacking`). */
function settledInertia(loop: FixedLoop, shortfall: ShortfallAt | undefined): number {
  return shortfall === undefined ? 0 : torqueLacking(loop, shortfall, 0);
}
