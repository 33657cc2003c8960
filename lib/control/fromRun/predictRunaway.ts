import { torqueSign } from "../../identify/commutation/torqueSign.js";
import { backEmfVector } from "../../identify/electrical/backEmfVector.js";
import { constantsOf } from "../../identify/index.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { growthTime, unseenLag } from "../margins/growthTime.js";
import { fixLoop, type LoopPlant, type Quantity } from "../models/speedLoop.js";
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
  const acceleration = current === undefined ? undefined : limitedAcceleration(plantOnly.plant, current);
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
 * @param current A
 * @param speed rad/s; viscous friction counts at it
 */
export function limitedAcceleration(plant: LoopPlant, current: number, speed = 0): Estimate | undefined {
  const at = (quick: boolean | undefined): number => {
    const fixed = fixLoop({ plant, gains: { kp: 0, ki: 0 } }, (quantity: Quantity, name: string): number => {
      if (typeof quantity === "number") return quantity;
      if (quick === undefined) return quantity.value;
      if (name === "torqueGain") return quick ? quantity.low : Math.min(quantity.high, 0);
      const slows = name !== "torqueConstant";
      return slows === quick ? quantity.low : quantity.high;
    });
    return (
      (Math.abs(fixed.torquePerAmpere) * current - fixed.coulomb - fixed.viscous * speed) / fixed.inertia
    );
  };
  const ends = [at(undefined), at(true), at(false)];
  if (!(ends[0] > 0)) return undefined;
  return {
    value: ends[0],
    low: Math.min(...ends),
    high: Math.max(...ends),
    unit: "rad/s2",
    method: "(abs(g)*Kt*current - friction)/J, range over the corners of the intervals",
  };
}
