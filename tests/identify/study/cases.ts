import { estimateConstants } from "../../../lib/identify/index.js";
import { identifyGains } from "../../../lib/identify/loop/identifyGains.js";
import { parity } from "../../../lib/motor/leadOrder.js";
import { recordingFromRandomBench } from "../../../lib/recording/index.js";
import type { ChannelRole, Recording, Trial } from "../../../lib/recording/types.js";
import { runOf } from "../../../lib/run/run.js";
import { randomBench, voltageLimit } from "../../../lib/simulation/index.js";
import { innerStep } from "../../../lib/simulation/simulate.js";
import type { Estimate } from "../../../lib/units/estimate.js";
import {
  gaussian,
  type SecondBench,
  type SecondProgram,
  secondRun,
  seeded,
} from "../../diagnosis/secondBench.js";
import { type DcTruth, held, lawOf, runDc } from "../dcBench.js";
import { randomJoint, runJoint } from "../jointBench.js";
import { rigCase } from "./rigCases.js";

/** A recording with the true values of whatever it may be asked for, and what the gains in use were. */
export interface Case {
  readonly recording: Recording;
  readonly trials?: readonly Trial[];
  /**
   * By the names of the constants, and `kp`, `ki`; ratios to the torque constant are given without the torque factor.
   */
  readonly truth: Readonly<Record<string, number>>;
  /** cos of the offset error; ratios to the torque constant carry it unless an estimate says otherwise. */
  readonly torqueFactor: number;
}

/** Where cases come from; a seed is a case. */
export const sources: Readonly<Record<string, (seed: number) => Case>> = {
  synthetic: syntheticCase,
  second: secondCase,
  dc: dcCase,
  joint: jointCase,
  rig: rigCase,
};

interface Machine {
  readonly polePairs: number;
  readonly fluxLinkage: number;
  readonly resistance: number;
  readonly inductanceD: number;
  readonly inductanceQ: number;
  readonly inertia: number;
  readonly coulomb: number;
  readonly viscous: number;
  readonly stiction: number;
}

function truthOf(m: Machine): Record<string, number> {
  const psi = m.polePairs * m.fluxLinkage;
  const Kt = 1.5 * psi;
  return {
    kv: 60 / (2 * Math.PI * Math.sqrt(3) * psi),
    backEmfConstant: Math.sqrt(3) * psi,
    fluxLinkage: m.fluxLinkage,
    torqueConstant: Kt,
    resistance: m.resistance,
    inductanceD: m.inductanceD,
    inductanceQ: m.inductanceQ,
    electricalTimeConstant: m.inductanceQ / m.resistance,
    breakawayCurrent: m.stiction / Kt,
    staticFriction: m.stiction,
    inertia: m.inertia,
    coulombFriction: m.coulomb,
    viscousFriction: m.viscous,
    mechanicalTimeConstant: m.inertia / m.viscous,
    electromechanicalTimeConstant: (m.inertia * m.resistance) / (1.5 * psi * psi),
    coulombOverInertia: m.coulomb / m.inertia,
    viscousOverInertia: m.viscous / m.inertia,
    inertiaOverTorqueConstant: m.inertia / Kt,
    coulombOverTorqueConstant: m.coulomb / Kt,
    viscousOverTorqueConstant: m.viscous / Kt,
  };
}

/** Friction of each sense of rotation, a constant load in it. */
function bySense(truth: Record<string, number>, load: number): Record<string, number> {
  const Kt = truth.torqueConstant;
  return {
    coulombFrictionPositive: truth.coulombFriction + load,
    coulombFrictionNegative: truth.coulombFriction - load,
    viscousFrictionPositive: truth.viscousFriction,
    viscousFrictionNegative: truth.viscousFriction,
    coulombOverTorqueConstantPositive: (truth.coulombFriction + load) / Kt,
    coulombOverTorqueConstantNegative: (truth.coulombFriction - load) / Kt,
    viscousOverTorqueConstantPositive: truth.viscousFriction / Kt,
    viscousOverTorqueConstantNegative: truth.viscousFriction / Kt,
  };
}

function withLoad(truth: Record<string, number>, load: number): Record<string, number> {
  const coulomb = truth.coulombFriction + load;
  return {
    coulombFriction: coulomb,
    coulombOverInertia: coulomb / truth.inertia,
    coulombOverTorqueConstant: coulomb / truth.torqueConstant,
  };
}

/**
 * By how much the angle that the drive counts is ahead of the shaft's along its motion, rad: counts are whole from the
 * start on, so it is no more than half a count. Each row counts by the angle the shaft turned in it: how a count was
 * rounded where the shaft stood is no offset of its voltages while it turns.
 */
function countingError(counts: Float64Array, angle: Float64Array, perCount: number): number {
  const n = counts.length;
  let along = 0;
  for (let i = 0; i < n; i++) along += (counts[i] - counts[0]) * (angle[i] - angle[0]);
  const sense = along < 0 ? -1 : 1;
  let [sum, turned] = [0, 0];
  for (let i = 1; i < n; i++) {
    const weight = Math.abs(angle[i] - angle[i - 1]);
    sum += weight * (counts[i] * perCount - sense * (angle[i] - angle[0]));
    turned += weight;
  }
  return turned > 0 ? sum / turned : 0;
}

/**
 * Longest inner step of the study's simulations, electrical rad at the highest speed. A step of the simulator is wrong
 * by a quarter of the square of its turn in the back-EMF: at the 0.15 rad it takes by itself that is up to 0.6 %, more
 * than the intervals of constants from voltages.
 */
const finestTurn = 0.04;

/** Standard deviation of the gain of a bench's current sensors: what estimates allow for (`docs/constants.md`). */
const sensorError = 0.004;

/** A sound synthetic bench: a torque trial, a speed trial, both after each other, or a coast-down, by turns. */
function syntheticCase(seed: number): Case {
  const made = randomBench(seed, { fault: "none" });
  const programs = [
    made.torqueProgram,
    made.speedProgram,
    [...made.torqueProgram, ...made.speedProgram],
    made.otherPrograms.coastDown,
  ];
  const { motor, drive, order } = made.bench;
  const step = (finestTurn * motor.fluxLinkage) / voltageLimit(drive.busVoltage, drive.modulation);
  const { recording, trace } = recordingFromRandomBench(
    {
      ...made,
      simulation: {
        ...made.simulation,
        step: Math.min(step, innerStep(made.bench)),
        currentGain: 1 + sensorError * gaussian(seeded(seed)),
      },
    },
    programs[seed % programs.length],
  );
  const braking = motor.brakingLoad ?? 0;
  const truth = truthOf({
    ...motor,
    coulomb: motor.coulombFriction + braking,
    viscous: motor.viscousFriction,
    stiction: motor.staticFriction + braking,
  });
  const load = (motor.load ?? 0) * (parity(order) === "even" ? 1 : -1);
  const perCount = (2 * Math.PI) / (4 * drive.encoderLines);
  const offset =
    made.truth.offsetError + motor.polePairs * countingError(trace.counts, trace.truth.angle, perCount);
  // Where the shaft turns one way only, a constant load is friction: nothing in the log parts them.
  // The way turned in each sense counts, not where the shaft ends: one that goes and comes back has turned in both.
  let [forth, back] = [0, 0];
  for (let i = 1; i < trace.counts.length; i++) {
    const way = trace.counts[i] - trace.counts[i - 1];
    if (way > 0) forth += way;
    else back -= way;
  }
  const oneSense = back < 0.02 * forth ? 1 : forth < 0.02 * back ? -1 : 0;
  return {
    recording,
    truth: {
      ...truth,
      ...bySense(truth, load),
      ...(oneSense === 0 ? {} : withLoad(truth, oneSense * load)),
      offsetError: (offset * 180) / Math.PI,
      torqueGain: Math.cos(offset),
      kp: drive.speedLoop.kp,
      ki: drive.speedLoop.ki,
    },
    torqueFactor: Math.abs(Math.cos(offset)),
  };
}

/** A machine of that bench, drawn, with what draws a number between two others, evenly in its logarithm. */
export function drawnMachine(random: () => number) {
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const polePairs = 2 + Math.floor(6 * random());
  const fluxLinkage = between(0.005, 0.05);
  const kt = 1.5 * polePairs * fluxLinkage;
  const rated = between(2, 10);
  const inertia = (kt * rated) / between(1500, 6000);
  const coulomb = kt * rated * between(0.01, 0.06);
  return { between, polePairs, fluxLinkage, kt, rated, inertia, coulomb };
}

/** The bench that shares no code with the simulator: torque trials, or speed trials, in alternation. */
function secondCase(seed: number): Case {
  const random = seeded(seed);
  const { between, polePairs, fluxLinkage, kt, rated, inertia, coulomb } = drawnMachine(random);
  const viscous = (kt * rated * between(0.005, 0.05)) / 200;
  const resistance = between(0.1, 0.8);
  const bench: SecondBench = {
    polePairs,
    resistance,
    inductance: resistance * between(0.5e-3, 2e-3),
    fluxLinkage,
    inertia,
    coulomb,
    viscous,
    stiction: coulomb * between(1.05, 1.6),
    busVoltage: polePairs * fluxLinkage * Math.sqrt(3) * between(200, 400),
    currentLimit: 1.5 * rated,
    currentBandwidth: between(800, 2000),
    kp: (inertia * 40) / kt,
    ki: (inertia * 40 * 6) / kt,
    lines: [500, 1000, 1024, 2048, 2500][Math.floor(5 * random())],
    order: "UVW",
    encoderSense: 1,
    setPolePairs: polePairs,
    setLines: 0,
    offset: 0.2 * (random() - 0.5),
    startAngle: 6 * random(),
  };
  const level = rated * between(0.2, 0.5);
  const speed = between(15, 80);
  const steps = (values: readonly number[], each: number): SecondProgram["steps"] =>
    values.map((value, k) => ({ time: k * each, value }));
  const program: SecondProgram =
    seed % 2 === 0
      ? { kind: "torque", steps: steps([0, level, -level, level / 2, 0], 0.35), length: 1.75 }
      : { kind: "speed", steps: steps([0, speed, -speed, speed / 3, 0], 0.5), length: 2.5 };
  const channels: ChannelRole[] = ["currentCommand", "current", "position", "speed", "speedCommand"];
  if (random() < 0.5) channels.push("currentD", "voltageD", "voltageQ");
  const currentGain = 1 + sensorError * gaussian(random);
  const bridgeLoss = random() < 0.5 ? 0 : 0.015 * random() * bench.busVoltage;
  const { recording, trials } = secondRun(
    { ...bench, setLines: bench.lines, currentGain, bridgeLoss },
    program,
    {
      rate: between(1000, 4000),
      currentNoise: rated * between(0.003, 0.02),
      channels,
      random,
      step: 2e-6,
    },
  );
  const truth = truthOf({ ...bench, inductanceD: bench.inductance, inductanceQ: bench.inductance });
  return {
    recording,
    trials,
    truth: {
      ...truth,
      ...bySense(truth, 0),
      offsetError: (bench.offset * 180) / Math.PI,
      torqueGain: Math.cos(bench.offset),
      kp: bench.kp,
      ki: bench.ki,
    },
    torqueFactor: Math.cos(bench.offset),
  };
}

/** A DC motor on a staircase, on reversals, or on random levels; half of them with the current logged. */
function dcCase(seed: number): Case {
  const random = seeded(seed);
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const constant = between(0.01, 0.1);
  const resistance = between(0.5, 5);
  const volts = between(6, 24);
  const coulomb = ((constant * volts) / resistance) * between(0.02, 0.15);
  const timeConstant = between(0.02, 0.3);
  const viscous = (constant ** 2 / resistance) * between(0.02, 0.3);
  const motor: DcTruth = {
    resistance,
    inductance: resistance * between(1e-4, 1e-3),
    constant,
    inertia: (timeConstant * (constant ** 2 + resistance * viscous)) / resistance,
    viscous,
    coulomb,
    currentNoise: (volts / resistance) * between(0.002, 0.01),
    disturbance: 0.03 * coulomb,
    disturbanceTime: 0.02,
    counts: [400, 1000, 2000, 4000][Math.floor(4 * random())],
  };
  const each = Math.round((4 * timeConstant) / 5e-3);
  const levels: (readonly [number, number])[] =
    seed % 3 === 0
      ? [0, 0.4, 0.6, 0.8, 1, 0.7, 0.5].map((l) => [volts * l, each] as const)
      : seed % 3 === 1
        ? [0, 1, -1, 0.6, -0.6].map((l) => [volts * l, each] as const)
        : Array.from({ length: 30 }, () => [volts * (0.4 + 0.6 * random()), Math.max(4, each >> 2)] as const);
  const log = runDc(motor, held(levels), 5e-3, seed + 7);
  const sensor = random() < 0.5 ? 1 + sensorError * gaussian(random) : undefined;
  const current = sensor === undefined ? {} : { current: log.current.map((i) => sensor * i) };
  const columns = { voltageCommand: log.voltage, position: log.position, ...current };
  const law = lawOf(motor);
  return {
    recording: plain(log.time, columns, (2 * Math.PI) / motor.counts),
    truth: {
      speedPerVolt: law.gain,
      speedTimeConstant: law.timeConstant,
      deadBandVoltage: law.deadBand,
      breakawayVoltage: law.deadBand,
      armatureResistance: resistance,
      armatureConstant: constant,
      torqueConstant: constant,
      electromechanicalTimeConstant: (motor.inertia * resistance) / constant ** 2,
      inertiaOverTorqueConstant: motor.inertia / constant,
      coulombOverTorqueConstant: coulomb / constant,
      viscousOverTorqueConstant: viscous / constant,
      inertia: motor.inertia,
      coulombFriction: coulomb,
      viscousFriction: viscous,
      coulombOverInertia: coulomb / motor.inertia,
      viscousOverInertia: viscous / motor.inertia,
    },
    torqueFactor: 1,
  };
}

/** A joint of a robot that follows a sum of slow waves within about a radian. */
function jointCase(seed: number): Case {
  const joint = randomJoint(seed);
  const log = runJoint(joint, 8, seed + 11);
  const columns = { position: log.angle, speed: log.speed, torque: log.effort };
  return {
    recording: plain(log.time, columns, (2 * Math.PI) / joint.counts),
    truth: {
      inertia: joint.inertia,
      coulombFriction: joint.coulomb,
      viscousFriction: joint.viscous,
      ...(joint.gravity > 0 ? { gravityTorque: joint.gravity } : {}),
    },
    torqueFactor: 1,
  };
}

function plain(
  time: Float64Array,
  columns: Partial<Record<ChannelRole, Float64Array>>,
  resolution: number,
): Recording {
  const channels = Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      {
        role,
        name: role,
        sourceUnit: "1",
        recognisedBy: "test",
        data,
        ...(role === "position" ? { resolution } : {}),
      },
    ]),
  );
  return { path: "made", time, channels, machine: {}, drive: {}, encoder: {}, findings: [] };
}

/** What is reported of a case, by name: constants, and the gains of its speed trial. */
export function reportedOf({ recording, trials }: Case): Record<string, Estimate | undefined> {
  const run = runOf(recording, trials);
  const { electrical, mechanical, ratios } = estimateConstants(recording, run.trials);
  const speed = run.trials.find((t) => t.kind === "speed");
  const gains = speed === undefined ? undefined : identifyGains(run, speed);
  return { ...electrical, ...mechanical, ...ratios, kp: gains?.kp, ki: gains?.ki };
}

/**
 * The true value of a reported constant: ratios to the torque constant carry the torque factor, unless the currents
 * were turned into the magnets' coordinates.
 */
export function trueValue(one: Case, name: string, reported: Estimate): number | undefined {
  const value = one.truth[name];
  if (value === undefined) return undefined;
  const carries = name.includes("OverTorqueConstant") || name === "breakawayCurrent";
  return carries && !reported.convention?.includes("turned") ? value / one.torqueFactor : value;
}
