import type { SeededRandom } from "../numeric/distributions/seededRandom.js";
import type { FleetConstants, FleetMotor } from "./fleetTypes.js";

/** A draw from a normal distribution about one, as a factor: its logarithm has this deviation. */
export type SpreadBy = (deviation: number) => number;

/** The motors of a fleet, and those that are measured again. */
export interface FleetMotors {
  readonly motors: readonly FleetMotor[];
  /** Places of the motors that are watched, and of those of the gauge study. */
  readonly watched: readonly number[];
  readonly gauge: readonly number[];
  /** Motors of one batch. */
  readonly perBatch: number;
}

/** Draws the motors of a fleet. */
export function drawMotors(constants: FleetConstants, random: SeededRandom, spreadBy: SpreadBy): FleetMotors {
  const { batches, badBatch } = constants;
  const batchFactors = batches.map(() => ({
    flux: spreadBy(constants.batchSpread.fluxLinkage),
    coulomb: spreadBy(constants.batchSpread.coulombFriction),
  }));
  const perBatch = Math.ceil(constants.motors / batches.length);
  const draw = withoutRepeats(constants.motors, random);
  // Watched and gauge motors come from good batches and good wiring.
  const inGoodBatch = (index: number): boolean => batches[Math.floor(index / perBatch)] !== badBatch.batch;
  const few = (count: number): number[] =>
    Array.from({ length: count }, () => draw(inGoodBatch)).sort((a, b) => a - b);
  const miswired = new Map(constants.miswired.map((fault) => [draw(() => true), fault]));
  const watched = few(constants.watched.count);
  const gauge = few(constants.gauge.count);
  const drift = new Map(
    constants.watched.drifting.map(({ place, perWeek }) => [watched[place], perWeek] as const),
  );
  const motors = Array.from({ length: constants.motors }, (_, i): FleetMotor => {
    const batch = batches[Math.floor(i / perBatch)];
    return {
      motor: `roller-${String(i + 1).padStart(4, "0")}`,
      batch,
      model: drawModel(constants, batchFactors[Math.floor(i / perBatch)], batch === badBatch.batch, spreadBy),
      fault: miswired.get(i),
      driftPerWeek: drift.get(i) ?? 0,
      watched: watched.includes(i),
    };
  });
  return { motors, watched, gauge, perBatch };
}

/** Draws places of motors, none of them twice. */
function withoutRepeats(
  motors: number,
  random: SeededRandom,
): (allowed: (index: number) => boolean) => number {
  const taken = new Set<number>();
  return (allowed) => {
    for (;;) {
      const index = Math.floor(random.uniform() * motors);
      if (taken.has(index) || !allowed(index)) continue;
      taken.add(index);
      return index;
    }
  };
}

function drawModel(
  { motor, spread, badBatch }: FleetConstants,
  ofBatch: { readonly flux: number; readonly coulomb: number },
  bad: boolean,
  spreadBy: SpreadBy,
): FleetMotor["model"] {
  const coulomb = spreadBy(spread.coulombFriction) * ofBatch.coulomb * (bad ? badBatch.coulombFriction : 1);
  return {
    ...motor,
    fluxLinkage: motor.fluxLinkage * ofBatch.flux * spreadBy(spread.fluxLinkage),
    resistance: motor.resistance * spreadBy(spread.resistance),
    inertia: motor.inertia * spreadBy(spread.inertia),
    coulombFriction: motor.coulombFriction * coulomb,
    staticFriction: motor.staticFriction * coulomb,
    viscousFriction:
      motor.viscousFriction * spreadBy(spread.viscousFriction) * (bad ? badBatch.viscousFriction : 1),
  };
}
