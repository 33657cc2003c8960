import type { Bench, DriveModel, EncoderModel, MotorModel, Segment } from "../motor/bench.js";

/** How a bench is run and logged. */
export interface SimulationOptions {
  /** Rows a second in the log; the drive's sample rate is the upper end. 1000 when absent. */
  readonly logRate?: number;
  /** Shaft angle at the start, rad. */
  readonly startAngle?: number;
  /** Shaft speed at the start, rad/s. */
  readonly startSpeed?: number;
  /** Standard deviation of the measured currents, A. The current loop sees this noise. */
  readonly currentNoise?: number;
  /** Offset of the current sensor on terminal 1, A (half of it, with the other sign, on terminal 2). The loop sees
   * it. */
  readonly currentOffset?: number;
  /** Gain of the drive's current measurement; 1 when absent. A drive that reads low lets more current through. */
  readonly currentGain?: number;
  /** Standard deviation of the logged bus voltage, V. */
  readonly voltageNoise?: number;
  /** Seed of the noise. */
  readonly seed?: number;
  /** Longest inner step, s; chosen from the time constants when absent. */
  readonly step?: number;
}

// A bench with every default filled in. All of one shape, so that the simulator's loop, once compiled, serves every
// bench.

/** A motor with nothing left open. Braking load is in its friction. */
export function settledMotor(motor: MotorModel) {
  const braking = motor.brakingLoad ?? 0;
  const coulombFriction = motor.coulombFriction + braking;
  return {
    polePairs: motor.polePairs,
    resistance: motor.resistance,
    inductanceD: motor.inductanceD,
    inductanceQ: motor.inductanceQ,
    fluxLinkage: motor.fluxLinkage,
    inertia: motor.inertia,
    coulombFriction,
    staticFriction: Math.max(motor.staticFriction + braking, coulombFriction),
    viscousFriction: motor.viscousFriction,
    stribeckSpeed: motor.stribeckSpeed ?? 0,
    load: motor.load ?? 0,
    coggingAmplitude: motor.cogging?.amplitude ?? 0,
    coggingPeriods: motor.cogging?.periods ?? 0,
    jammed: motor.jammed === true,
  };
}

/** A drive with nothing left open. */
export function settledDrive(drive: DriveModel, motor: MotorModel) {
  return {
    busVoltage: drive.busVoltage,
    busResistance: drive.busResistance ?? 0,
    deadVoltage: drive.deadVoltage ?? 0,
    vectorPriority: drive.voltagePriority !== "d",
    currentLimit: drive.currentLimit,
    hiddenLimit: drive.hiddenCurrentLimit ?? Number.POSITIVE_INFINITY,
    tripCurrent: drive.tripCurrent ?? Number.POSITIVE_INFINITY,
    tripSpeed: drive.tripSpeed ?? Number.POSITIVE_INFINITY,
    disabled: drive.disabled === true,
    displaySense: drive.displaySense ?? 1,
    positionGain: drive.positionGain ?? 20,
    samplePeriod: drive.samplePeriod,
    currentBandwidth: drive.currentBandwidth,
    tunedInductance: drive.tunedInductance ?? (motor.inductanceD + motor.inductanceQ) / 2,
    tunedResistance: drive.tunedResistance ?? motor.resistance,
    polePairs: drive.polePairs,
    encoderLines: drive.encoderLines,
    kp: drive.speedLoop.kp,
    ki: drive.speedLoop.ki,
    speedDivider: drive.speedDivider ?? 1,
    speedFilter: drive.speedFilter,
  };
}

/** An encoder with nothing left open. */
export function settledEncoder(encoder: EncoderModel) {
  return {
    lines: encoder.lines,
    sense: encoder.sense,
    missing: encoder.missing ?? 0,
    stuckFrom: encoder.stuckFrom ?? Number.POSITIVE_INFINITY,
    burstsPerSecond: encoder.bursts?.perSecond ?? 0,
    burstCounts: encoder.bursts?.counts ?? 0,
  };
}

/** Options with nothing left open. */
export function settledOptions(options: SimulationOptions, bench: Bench) {
  const startAngle = options.startAngle ?? 0;
  return {
    logRate: options.logRate ?? 1000,
    startAngle,
    alignedAt: bench.alignedAt ?? startAngle,
    startSpeed: options.startSpeed ?? 0,
    currentNoise: options.currentNoise ?? 0,
    currentOffset: options.currentOffset ?? 0,
    currentGain: options.currentGain ?? 1,
    voltageNoise: options.voltageNoise ?? 0,
    seed: options.seed ?? 1,
  };
}

/** Kinds of segment as numbers. */
export const torqueSegment = 0;
export const speedSegment = 1;
export const positionSegment = 2;
const coastSegment = 3;
export const handSegment = 4;
export const sweepSegment = 5;
const codes = {
  torque: torqueSegment,
  speed: speedSegment,
  position: positionSegment,
  coast: coastSegment,
  hand: handSegment,
  sweep: sweepSegment,
} as const;

/** A segment with nothing left open: its command runs from `from` by `change`, its sweep likewise. */
export function settledSegment(segment: Segment) {
  let from = 0;
  let change = 0;
  let sweepFrom = 0;
  let sweepChange = 0;
  let handAngle = 0;
  let off = false;
  if (segment.kind === "torque" || segment.kind === "speed" || segment.kind === "position") {
    from = segment.from;
    change = (segment.to ?? segment.from) - segment.from;
  } else if (segment.kind === "sweep") {
    from = segment.currentFrom ?? segment.current;
    change = segment.current - from;
    sweepFrom = (segment.fromTurns ?? 0) * 2 * Math.PI;
    sweepChange = segment.turns * 2 * Math.PI;
  } else if (segment.kind === "hand") {
    handAngle = segment.angle;
    from = segment.current ?? 0;
    off = segment.current === undefined;
  } else {
    off = true;
  }
  return {
    code: codes[segment.kind] as number,
    duration: segment.duration,
    from,
    change,
    sweepFrom,
    sweepChange,
    handAngle,
    off,
  };
}
