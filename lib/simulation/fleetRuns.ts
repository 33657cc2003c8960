import type { Alignment } from "../motor/bench.js";
import type { LeadOrder } from "../motor/facts.js";
import type { SeededRandom } from "../numeric/distributions/seededRandom.js";
import type { FleetMotors, SpreadBy } from "./fleetMotors.js";
import type { FleetConstants, FleetFault, FleetMotor, FleetRun } from "./fleetTypes.js";

/** When and where a motor is measured. */
interface Occasion {
  readonly kind: FleetRun["kind"];
  readonly rig: number;
  readonly date: string;
  /** End of the recording's name. */
  readonly suffix: string;
  /** Weeks of use before it. */
  readonly week?: number;
}

/** Draws all runs of a fleet: every motor's first, the gauge study, and the weeks of those that are watched. */
export function drawRuns(
  constants: FleetConstants,
  { motors, watched, gauge, perBatch }: FleetMotors,
  random: SeededRandom,
  spreadBy: SpreadBy,
): FleetRun[] {
  const { weeks, rigs } = constants;
  const runs: FleetRun[] = [];
  const add = (index: number, occasion: Occasion): void => {
    runs.push(drawRun(constants, motors[index], occasion, random, spreadBy));
  };
  for (let i = 0; i < constants.motors; i += 1) {
    const within = i % perBatch;
    const date = plusDays(weeks[Math.floor(i / perBatch)], Math.floor((5 * within) / perBatch));
    add(i, { kind: "first", rig: Math.floor(random.uniform() * rigs.length), date, suffix: "first" });
  }
  const lastWeek = weeks[weeks.length - 1];
  for (const index of gauge)
    for (const [rig, { name }] of rigs.entries())
      for (let k = 0; k < constants.gauge.repeats; k += 1)
        add(index, { kind: "gauge", rig, date: plusDays(lastWeek, 7), suffix: `gauge-${name}-${k + 1}` });
  for (let week = 1; week <= constants.watched.weeks; week += 1)
    for (const index of watched) {
      const suffix = `week-${String(week).padStart(2, "0")}`;
      add(index, { kind: "watch", rig: 0, date: plusDays(lastWeek, 7 * (week + 1)), suffix, week });
    }
  return runs;
}

function drawRun(
  constants: FleetConstants,
  made: FleetMotor,
  { kind, rig, date, suffix, week = 0 }: Occasion,
  random: SeededRandom,
  spreadBy: SpreadBy,
): FleetRun {
  const { name, currentGain } = constants.rigs[rig];
  const fault = kind === "first" ? made.fault : undefined;
  const friction = spreadBy(constants.runSpread.coulombFriction) * (1 + made.driftPerWeek) ** week;
  const alignment = drawAlignment(fault, random);
  const order = drawOrder(fault, random);
  return {
    recording: `${made.motor}-${suffix}`,
    motor: made.motor,
    batch: made.batch,
    rig: name,
    date,
    kind,
    bench: {
      motor: {
        ...made.model,
        coulombFriction: made.model.coulombFriction * friction,
        staticFriction: made.model.staticFriction * friction,
      },
      drive: { ...constants.drive, alignment },
      encoder: { lines: constants.encoderLines, sense: 1 },
      order,
      ...(fault === "lead-open" ? { openLead: "V" as const } : {}),
    },
    simulation: {
      logRate: constants.logRate,
      currentNoise: constants.currentNoise,
      currentGain,
      startAngle: 2 * Math.PI * random.uniform(),
      seed: Math.floor(random.uniform() * 2 ** 31),
    },
  };
}

function drawAlignment(fault: FleetFault | undefined, random: SeededRandom): Alignment {
  if (fault === "stale-offset") return { kind: "stale", from: "UVW" };
  if (fault === "offset-half-turn") return { kind: "disturbed", by: Math.PI };
  return { kind: "disturbed", by: 0.03 * random.normal() };
}

function drawOrder(fault: FleetFault | undefined, random: SeededRandom): LeadOrder {
  if (fault === "stale-offset") return random.uniform() < 0.5 ? "VWU" : "WUV";
  return fault === "leads-exchanged" ? "VUW" : "UVW";
}

/** An ISO date so many days later. */
function plusDays(date: string, days: number): string {
  return new Date(Date.parse(`${date}T00:00:00Z`) + days * 86400000).toISOString().slice(0, 10);
}
