import { seededRandom } from "../numeric/distributions/seededRandom.js";
import { drawLife } from "./fleetLives.js";
import { drawMotors } from "./fleetMotors.js";
import { drawRuns } from "./fleetRuns.js";
import { type Fleet, type FleetConstants, fleetConstants } from "./fleetTypes.js";

/**
 * A fleet of motors over several batches and dates: a batch with the wrong grease, a few motors whose friction creeps
 * up, a handful miswired, a gauge study over the rigs, and a censored life table. Simulate one of its recordings with
 * `simulate(run.bench, fleet.program, run.simulation)`.
 *
 * @param seed the same seed gives the same fleet on every machine
 * @example
 * const { runs, lives, truth } = fleet(2026);
 */
export function fleet(seed: number, constants: FleetConstants = fleetConstants): Fleet {
  const random = seededRandom(seed);
  const { badBatch, life } = constants;
  const spreadBy = (deviation: number): number => Math.exp(deviation * random.normal());
  const drawn = drawMotors(constants, random, spreadBy);
  const { motors } = drawn;
  const runs = drawRuns(constants, drawn, random, spreadBy);
  const lives = motors.map((made) => drawLife(constants, made, random));
  return {
    motors,
    runs,
    lives,
    program: constants.program,
    truth: {
      badBatch: badBatch.batch,
      drifting: motors
        .filter((m) => m.driftPerWeek > 0)
        .map(({ motor, driftPerWeek }) => ({ motor, perWeek: driftPerWeek })),
      miswired: motors.flatMap(({ motor, fault }) => (fault === undefined ? [] : [{ motor, fault }])),
      life: { shape: life.shape, scale: life.scale, activationEnergy: life.activationEnergy },
    },
  };
}
