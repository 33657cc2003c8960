import type { SeededRandom } from "../numeric/distributions/seededRandom.js";
import type { FleetConstants, FleetLife, FleetMotor } from "./fleetTypes.js";

/** Boltzmann's constant, eV/K (exact since the SI of 2019: 1.380649e-23 / 1.602176634e-19). */
const boltzmann = 1.380649e-23 / 1.602176634e-19;

/** Draws how long a motor lasts, as far as the study sees it. */
export function drawLife(
  { life, badBatch }: FleetConstants,
  made: FleetMotor,
  random: SeededRandom,
): FleetLife {
  const temperature = life.temperatures[Math.floor(random.uniform() * life.temperatures.length)];
  const acceleration = Math.exp(
    (life.activationEnergy / boltzmann) *
      (1 / (life.referenceTemperature + 273.15) - 1 / (temperature + 273.15)),
  );
  const scale = (life.scale * (made.batch === badBatch.batch ? badBatch.life : 1)) / acceleration;
  const hours = scale * (-Math.log(1 - random.uniform())) ** (1 / life.shape);
  const service = life.service[0] + (life.service[1] - life.service[0]) * random.uniform();
  const inspected = random.uniform() < life.inspected;
  const row = { motor: made.motor, batch: made.batch, temperature };
  const whole = Math.max(1, Math.round(hours));
  if (inspected) {
    // Looked at every so many hours, for the last time before the study's end.
    const looks = Math.floor(service / life.inspectionHours);
    const look = Math.ceil(hours / life.inspectionHours);
    if (look > looks) return { ...row, after: looks * life.inspectionHours, by: Number.POSITIVE_INFINITY };
    return { ...row, after: (look - 1) * life.inspectionHours, by: look * life.inspectionHours };
  }
  if (hours > service) return { ...row, after: Math.round(service), by: Number.POSITIVE_INFINITY };
  return { ...row, after: whole, by: whole };
}
