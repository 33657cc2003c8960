import type { Bench, MotorModel, Segment } from "../motor/bench.js";
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
