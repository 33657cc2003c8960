import type { Bench, Segment } from "../motor/bench.js";
import { commutation } from "../motor/commutation.js";
import { seededRandom } from "../numeric/distributions/seededRandom.js";
import {
  drawChannels,
  drawConditions,
  drawEncoder,
  drawMachine,
  drawSetting,
  drawsOf,
} from "./benchDraws.js";
import { type BenchFault, benchFaults, type LoggedChannel } from "./benchFaults.js";
import { alignmentSweep, coastDown, handTurn } from "./programs.js";
import type { SimulationOptions } from "./settled.js";

/** A synthetic bench with its truth. */
export interface RandomBench {
  readonly bench: Bench;
  /** A torque trial that suits the motor: off, forward, reverse, off. */
  readonly torqueProgram: readonly Segment[];
  /** A speed trial: standstill, forward, reverse, standstill. */
  readonly speedProgram: readonly Segment[];
  /** Rated current, A peak, and a fair log rate, Hz, and measuring noise of the current, A. */
  readonly ratedCurrent: number;
  readonly logRate: number;
  readonly currentNoise: number;
  readonly startAngle: number;
  /** Everything `simulate` needs besides the program: log rate, noise, sensor offset, start angle, seed. */
  readonly simulation: SimulationOptions;
  /** What this bench's log holds: at least the current, its command, and speed or position. */
  readonly channels: readonly LoggedChannel[];
  /** Other programs for this bench, to be used where wanted. */
  readonly otherPrograms: {
    readonly coastDown: readonly Segment[];
    readonly handTurn: readonly Segment[];
    readonly alignmentSweep: readonly Segment[];
  };
  readonly truth: {
    readonly fault: BenchFault;
    /** Commutation mismatch, electrical turns a shaft turn. */
    readonly mismatch: number;
    /** Offset error, rad, meaningful where the mismatch is zero. */
    readonly offsetError: number;
    /** Torque gain cos(offset error), 0 where the mismatch is not zero. */
    readonly torqueGain: number;
    /** Torque constant, N m/A peak. */
    readonly torqueConstant: number;
  };
}

/**
 * A plausible motor with drive, encoder and fault, from 20 W to 5 kW, 2 to 14 pole pairs, 250 to 10,000 lines. The
 * ranges are common practice, no source; consistency (torque constant from flux, inductance from reactance, inertia
 * from run-up time) is kept.
 *
 * @param seed the same seed gives the same bench on every machine
 * @param options `fault` to choose what is wrong; drawn evenly when absent
 * @example
 * const { bench, torqueProgram, truth } = randomBench(17, { fault: "stale-offset" });
 */
export function randomBench(seed: number, options: { readonly fault?: BenchFault } = {}): RandomBench {
  const draws = drawsOf(seededRandom(seed ^ 0x5eed));
  const { between, logBetween, pick } = draws;
  const fault = options.fault ?? pick(benchFaults);
  const machine = drawMachine(draws);
  const { busVoltage, modulation, polePairs, ratedSpeed, plateau, fluxLinkage, torqueConstant } = machine;
  const { ratedCurrent, resistance, inductance, inertia, coulombFriction, samplePeriod, lines } = machine;
  const setting = drawSetting(draws, fault, machine);
  const { order, setPairs, setLines, openLead, jammed, extraFriction } = setting;
  const bandwidth = between(0.08, 0.2) / samplePeriod;
  const speedBandwidth = Math.min(between(15, 60), (0.1 * bandwidth) / 4);
  const kp = (inertia * speedBandwidth) / torqueConstant;
  // A second stream for what was added later, so that a seed keeps its motor.
  const more = drawsOf(seededRandom(seed ^ 0x1a57));
  const current = ratedCurrent * between(0.2, 0.6);
  const conditions = drawConditions(more, fault, machine, setting.alignment, current);
  const { disabled, hiddenCurrentLimit, deadVoltage, busResistance, tripSpeed, brakingLoad, load } =
    conditions;
  const motor: Bench["motor"] = {
    polePairs,
    resistance,
    inductanceD: inductance,
    inductanceQ: inductance * machine.saliency,
    fluxLinkage,
    inertia,
    coulombFriction: coulombFriction + extraFriction,
    viscousFriction: machine.viscousFriction,
    staticFriction: machine.staticFriction + 1.1 * extraFriction,
    ...(machine.cogging === undefined ? {} : { cogging: machine.cogging }),
    ...(jammed ? { jammed } : {}),
    ...(brakingLoad === undefined ? {} : { brakingLoad }),
    ...(load === undefined ? {} : { load }),
  };
  const encoder = drawEncoder(more, fault, lines, setting.sense);
  const currentLimit = ratedCurrent * between(1, 2);
  const bench: Bench = {
    motor,
    drive: {
      busVoltage,
      modulation,
      currentLimit,
      tripCurrent: conditions.tripFactor * currentLimit,
      ...(tripSpeed === undefined ? {} : { tripSpeed }),
      samplePeriod,
      currentBandwidth: bandwidth,
      polePairs: setPairs,
      encoderLines: setLines,
      speedLoop: {
        kp: kp * conditions.kpFactor,
        ki: ((kp * speedBandwidth) / between(4, 10)) * conditions.kiFactor,
      },
      speedDivider: pick([1, 2, 5, 10]),
      speedFilter: logBetween(0.5e-3, 4e-3),
      alignment: conditions.alignment,
      voltagePriority: conditions.voltagePriority,
      tunedResistance: resistance * between(0.8, 1.25),
      tunedInductance: inductance * between(0.8, 1.25),
      ...(disabled ? { disabled } : {}),
      ...(hiddenCurrentLimit === undefined ? {} : { hiddenCurrentLimit }),
      ...(deadVoltage === undefined ? {} : { deadVoltage }),
      ...(busResistance === undefined ? {} : { busResistance }),
      ...(fault === "display-reversed" ? { displaySense: -1 as const } : {}),
    },
    encoder,
    order,
    ...(openLead === undefined ? {} : { openLead }),
  };
  const runUp =
    (inertia * plateau) /
    Math.max(torqueConstant * current - coulombFriction, 0.3 * torqueConstant * current);
  const hold = Math.min(3, Math.max(0.25, runUp * between(0.6, 2)));
  const command = ratedSpeed * between(0.15, 0.5);
  const truth = commutation(bench);
  const logRate = Math.min(logBetween(200, 20000), 1 / samplePeriod);
  const currentNoise = ratedCurrent * logBetween(0.002, 0.02);
  const startAngle = between(0, 2 * Math.PI);
  const channels = drawChannels(more);
  return {
    bench,
    torqueProgram: [
      { kind: "torque", from: 0, duration: between(0.1, 0.4) },
      { kind: "torque", from: current, duration: hold },
      { kind: "torque", from: -current, duration: hold * between(1, 1.6) },
      { kind: "torque", from: 0, duration: between(0.1, 0.4) },
    ],
    speedProgram: [
      { kind: "speed", from: 0, duration: 0.2 },
      { kind: "speed", from: command, duration: between(0.5, 1) },
      { kind: "speed", from: -command, duration: between(0.5, 1) },
      { kind: "speed", from: 0, duration: 0.2 },
    ],
    ratedCurrent,
    logRate,
    currentNoise,
    startAngle,
    simulation: {
      logRate,
      currentNoise,
      currentOffset: ratedCurrent * 0.004 * more.normal(),
      voltageNoise: 0.003 * busVoltage,
      startAngle,
      seed: (seed * 2654435761 + 97) >>> 0,
    },
    channels,
    otherPrograms: {
      coastDown: coastDown({ current, runUp: hold, coast: Math.min(6, 4 * hold) }),
      handTurn: handTurn({ turns: more.between(1.1, 2.5), duration: more.between(2, 5) }),
      alignmentSweep: alignmentSweep({ current: 0.8 * ratedCurrent, turns: Math.min(polePairs, 6), rate: 2 }),
    },
    truth: { fault, ...truth, torqueConstant },
  };
}
