import type { Alignment, Bench, MotorModel, Segment } from "../motor/bench.js";
import type { LeadOrder } from "../motor/facts.js";
import { seededRandom } from "../numeric/distributions/seededRandom.js";
import type { SimulationOptions } from "./settled.js";

/**
 * The constants from which a made-up fleet grows: the drive rollers of parcel sorters, all of one type, measured after
 * assembly and some of them again and again in service. Everything here is invented for the demo.
 */
export interface FleetConstants {
  readonly motors: number;
  readonly batches: readonly string[];
  /** Monday of each batch's week (ISO date); its motors are measured on the five working days. */
  readonly weeks: readonly string[];
  readonly rigs: readonly { readonly name: string; readonly currentGain: number }[];
  readonly motor: MotorModel;
  readonly drive: Omit<Bench["drive"], "alignment">;
  readonly encoderLines: number;
  /** Spread from motor to motor: standard deviation of the logarithm. */
  readonly spread: {
    readonly fluxLinkage: number;
    readonly resistance: number;
    readonly inertia: number;
    readonly coulombFriction: number;
    readonly viscousFriction: number;
  };
  /** Spread from batch to batch, same measure. */
  readonly batchSpread: { readonly fluxLinkage: number; readonly coulombFriction: number };
  /** Spread from run to run of one motor: friction as the grease lies. */
  readonly runSpread: { readonly coulombFriction: number };
  /** The batch that got the wrong grease: its friction, and its life, times these. */
  readonly badBatch: {
    readonly batch: string;
    readonly coulombFriction: number;
    readonly viscousFriction: number;
    readonly life: number;
  };
  /** Motors measured every week in service, and those among them whose friction creeps up (share a week). */
  readonly watched: {
    readonly count: number;
    readonly weeks: number;
    readonly drifting: readonly { readonly place: number; readonly perWeek: number }[];
  };
  /** A gauge study: so many motors, on every rig, so many times. */
  readonly gauge: { readonly count: number; readonly repeats: number };
  /** Wiring mistakes made at the first measurement. */
  readonly miswired: readonly FleetFault[];
  /** Weibull life in hours at a reference temperature (Celsius), with an Arrhenius acceleration. */
  readonly life: {
    readonly shape: number;
    readonly scale: number;
    readonly referenceTemperature: number;
    readonly activationEnergy: number;
    readonly temperatures: readonly number[];
    /** Hours in service until the study's end: uniform between these. */
    readonly service: readonly [number, number];
    /** Share of motors whose failure is only found at an inspection, and the hours between inspections. */
    readonly inspected: number;
    readonly inspectionHours: number;
  };
  readonly program: readonly Segment[];
  readonly logRate: number;
  readonly currentNoise: number;
}

/** What can be wrong with a motor's wiring in the fleet. */
export type FleetFault = "stale-offset" | "leads-exchanged" | "offset-half-turn" | "lead-open";

/** The demo fleet. */
export const fleetConstants: FleetConstants = {
  motors: 2000,
  batches: ["B01", "B02", "B03", "B04", "B05", "B06", "B07", "B08"],
  weeks: [
    "2026-01-12",
    "2026-01-26",
    "2026-02-09",
    "2026-02-23",
    "2026-03-09",
    "2026-03-23",
    "2026-04-06",
    "2026-04-20",
  ],
  rigs: [
    { name: "rig-1", currentGain: 1 },
    { name: "rig-2", currentGain: 1.004 },
    { name: "rig-3", currentGain: 0.997 },
  ],
  motor: {
    polePairs: 4,
    resistance: 0.9,
    inductanceD: 1.1e-3,
    inductanceQ: 1.1e-3,
    fluxLinkage: 0.0155,
    inertia: 1.4e-4,
    coulombFriction: 0.025,
    viscousFriction: 8e-5,
    staticFriction: 0.032,
    cogging: { amplitude: 0.003, periods: 24 },
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 3,
    samplePeriod: 1.25e-4,
    currentBandwidth: 2000,
    polePairs: 4,
    encoderLines: 1024,
    speedLoop: { kp: 0.03, ki: 0.3 },
    speedDivider: 4,
    speedFilter: 1.5e-3,
  },
  encoderLines: 1024,
  spread: {
    fluxLinkage: 0.008,
    resistance: 0.015,
    inertia: 0.006,
    coulombFriction: 0.09,
    viscousFriction: 0.12,
  },
  batchSpread: { fluxLinkage: 0.002, coulombFriction: 0.015 },
  runSpread: { coulombFriction: 0.02 },
  badBatch: { batch: "B06", coulombFriction: 1.35, viscousFriction: 1.5, life: 0.5 },
  watched: {
    count: 24,
    weeks: 12,
    drifting: [
      { place: 5, perWeek: 0.035 },
      { place: 17, perWeek: 0.05 },
    ],
  },
  gauge: { count: 10, repeats: 3 },
  miswired: [
    "stale-offset",
    "stale-offset",
    "stale-offset",
    "leads-exchanged",
    "leads-exchanged",
    "offset-half-turn",
    "lead-open",
  ],
  life: {
    shape: 2.2,
    scale: 14000,
    referenceTemperature: 60,
    activationEnergy: 0.5,
    temperatures: [45, 60, 75],
    service: [4000, 12000],
    inspected: 0.3,
    inspectionHours: 1000,
  },
  program: [
    { kind: "torque", from: 0, duration: 0.1 },
    { kind: "torque", from: 1.5, duration: 0.7 },
    { kind: "torque", from: -1.5, duration: 1.1 },
    { kind: "torque", from: 0, duration: 0.7 },
  ],
  logRate: 250,
  currentNoise: 0.02,
};

/** One motor of the fleet. */
export interface FleetMotor {
  readonly motor: string;
  readonly batch: string;
  readonly model: MotorModel;
  /** Wiring mistake at its first measurement. */
  readonly fault?: FleetFault;
  /** Growth of its friction, share a week, for the watched ones. */
  readonly driftPerWeek: number;
  readonly watched: boolean;
}

/** One recording of the fleet. */
export interface FleetRun {
  /** Unique name, also that of its file without the ending. */
  readonly recording: string;
  readonly motor: string;
  readonly batch: string;
  readonly rig: string;
  /** ISO date. */
  readonly date: string;
  readonly kind: "first" | "watch" | "gauge";
  readonly bench: Bench;
  readonly simulation: SimulationOptions;
}

/** One line of the life table, in hours: failed after `after` and no later than `by` (Infinity: still running). */
export interface FleetLife {
  readonly motor: string;
  readonly batch: string;
  /** Celsius. */
  readonly temperature: number;
  readonly after: number;
  readonly by: number;
}

/** A made-up fleet with its truth. */
export interface Fleet {
  readonly motors: readonly FleetMotor[];
  readonly runs: readonly FleetRun[];
  readonly lives: readonly FleetLife[];
  /** The program of every run. */
  readonly program: readonly Segment[];
  readonly truth: {
    readonly badBatch: string;
    readonly drifting: readonly { readonly motor: string; readonly perWeek: number }[];
    readonly miswired: readonly { readonly motor: string; readonly fault: FleetFault }[];
    /** Weibull shape, scale (hours, good batches, reference temperature) and activation energy, eV. */
    readonly life: { readonly shape: number; readonly scale: number; readonly activationEnergy: number };
  };
}

/** Boltzmann's constant, eV/K (exact since the SI of 2019: 1.380649e-23 / 1.602176634e-19). */
const boltzmann = 1.380649e-23 / 1.602176634e-19;

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
  const { batches, weeks, rigs, spread, badBatch } = constants;
  const spreadBy = (share: number) => Math.exp(share * random.normal());
  const batchFactors = batches.map(() => ({
    flux: spreadBy(constants.batchSpread.fluxLinkage),
    coulomb: spreadBy(constants.batchSpread.coulombFriction),
  }));
  const perBatch = Math.ceil(constants.motors / batches.length);

  // Which motors are special: drawn without repeats; watched and gauge motors come from good batches and good wiring.
  const taken = new Set<number>();
  const draw = (allowed: (index: number) => boolean) => {
    for (;;) {
      const index = Math.floor(random.uniform() * constants.motors);
      if (taken.has(index) || !allowed(index)) continue;
      taken.add(index);
      return index;
    }
  };
  const inGoodBatch = (index: number) => batches[Math.floor(index / perBatch)] !== badBatch.batch;
  const miswired = new Map(constants.miswired.map((fault) => [draw(() => true), fault]));
  const watched = Array.from({ length: constants.watched.count }, () => draw(inGoodBatch)).sort(
    (a, b) => a - b,
  );
  const gauge = Array.from({ length: constants.gauge.count }, () => draw(inGoodBatch)).sort((a, b) => a - b);
  const drift = new Map(
    constants.watched.drifting.map(({ place, perWeek }) => [watched[place], perWeek] as const),
  );

  const motors: FleetMotor[] = [];
  for (let i = 0; i < constants.motors; i += 1) {
    const b = Math.floor(i / perBatch);
    const bad = batches[b] === badBatch.batch;
    const m = constants.motor;
    const coulomb =
      spreadBy(spread.coulombFriction) * batchFactors[b].coulomb * (bad ? badBatch.coulombFriction : 1);
    motors.push({
      motor: `roller-${String(i + 1).padStart(4, "0")}`,
      batch: batches[b],
      model: {
        ...m,
        fluxLinkage: m.fluxLinkage * batchFactors[b].flux * spreadBy(spread.fluxLinkage),
        resistance: m.resistance * spreadBy(spread.resistance),
        inertia: m.inertia * spreadBy(spread.inertia),
        coulombFriction: m.coulombFriction * coulomb,
        staticFriction: m.staticFriction * coulomb,
        viscousFriction:
          m.viscousFriction * spreadBy(spread.viscousFriction) * (bad ? badBatch.viscousFriction : 1),
      },
      fault: miswired.get(i),
      driftPerWeek: drift.get(i) ?? 0,
      watched: watched.includes(i),
    });
  }

  const runs: FleetRun[] = [];
  const addRun = (
    index: number,
    kind: FleetRun["kind"],
    rig: number,
    date: string,
    suffix: string,
    week = 0,
  ) => {
    const made = motors[index];
    const fault = kind === "first" ? made.fault : undefined;
    const friction = spreadBy(constants.runSpread.coulombFriction) * (1 + made.driftPerWeek) ** week;
    const alignment: Alignment =
      fault === "stale-offset"
        ? { kind: "stale", from: "UVW" }
        : fault === "offset-half-turn"
          ? { kind: "disturbed", by: Math.PI }
          : { kind: "disturbed", by: 0.03 * random.normal() };
    const order: LeadOrder =
      fault === "stale-offset"
        ? random.uniform() < 0.5
          ? "VWU"
          : "WUV"
        : fault === "leads-exchanged"
          ? "VUW"
          : "UVW";
    runs.push({
      recording: `${made.motor}-${suffix}`,
      motor: made.motor,
      batch: made.batch,
      rig: rigs[rig].name,
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
        currentGain: rigs[rig].currentGain,
        startAngle: 2 * Math.PI * random.uniform(),
        seed: Math.floor(random.uniform() * 2 ** 31),
      },
    });
  };
  for (let i = 0; i < constants.motors; i += 1) {
    const within = i % perBatch;
    const date = plusDays(weeks[Math.floor(i / perBatch)], Math.floor((5 * within) / perBatch));
    addRun(i, "first", Math.floor(random.uniform() * rigs.length), date, "first");
  }
  const lastWeek = weeks[weeks.length - 1];
  for (const index of gauge) {
    for (let r = 0; r < rigs.length; r += 1) {
      for (let k = 0; k < constants.gauge.repeats; k += 1) {
        addRun(index, "gauge", r, plusDays(lastWeek, 7), `gauge-${rigs[r].name}-${k + 1}`);
      }
    }
  }
  for (let week = 1; week <= constants.watched.weeks; week += 1) {
    for (const index of watched) {
      const suffix = `week-${String(week).padStart(2, "0")}`;
      addRun(index, "watch", 0, plusDays(lastWeek, 7 * (week + 1)), suffix, week);
    }
  }

  const { life } = constants;
  const lives = motors.map((made): FleetLife => {
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
  });

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
      miswired: motors.filter((m) => m.fault !== undefined).map((m) => ({ motor: m.motor, fault: m.fault! })),
      life: { shape: life.shape, scale: life.scale, activationEnergy: life.activationEnergy },
    },
  };
}

/** An ISO date so many days later. */
function plusDays(date: string, days: number): string {
  return new Date(Date.parse(`${date}T00:00:00Z`) + days * 86400000).toISOString().slice(0, 10);
}
