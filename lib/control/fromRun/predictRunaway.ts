import { torqueSign } from "../../identify/commutation/torqueSign.js";
import { backEmfVector } from "../../identify/electrical/backEmfVector.js";
import { constantsOf } from "../../identify/index.js";
import type { ShortfallAt } from "../../identify/loop/torqueShortfall.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { growthTime, torqueLacking, unseenLag } from "../margins/growthTime.js";
import {
  type FixedLoop,
  fixLoop,
  type LoopPlant,
  type LoopShortfall,
  type Quantity,
} from "../models/speedLoop.js";
import { Choice } from "./choice.js";
import { loopFromRun } from "./loopFromRun.js";
import { plantOfRun } from "./plantOfRun.js";

/** What a speed loop closed on a run whose torque is against its command would do, from the run's own trials. */
export interface RunawayPrediction {
  /** Growth time constant of the error with the gains stated or seen in use, until the current is at its limit. */
  readonly growthTime?: Estimate;
  /** Rise of the speed with the current at its limit: (abs(g)*Kt*I - friction)/J, rad/s2, and that current, A. */
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
  const acceleration =
    current === undefined
      ? undefined
      : limitedAcceleration(plantOnly.plant, current, 0, plantOnly.currentShortfall);
  return {
    ...(growth ? { growthTime: growth } : {}),
    ...(current !== undefined && acceleration
      ? { limited: { acceleration, current, stated: stated !== undefined } }
      : {}),
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
