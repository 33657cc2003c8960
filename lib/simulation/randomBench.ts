import type { Alignment, Bench, EncoderModel, Segment } from "../motor/bench.js";
import { alignmentLag, commutation } from "../motor/commutation.js";
import { type LeadOrder, leadOrders } from "../motor/facts.js";
import { parity } from "../motor/leadOrder.js";
import { seededRandom } from "../numeric/distributions/seededRandom.js";
import { alignmentSweep, coastDown, handTurn } from "./programs.js";
import { type SimulationOptions, voltageLimit } from "./simulate.js";

/** What is wrong with a made-up bench. */
export type BenchFault =
  | "none"
  | "leads-exchanged"
  | "stale-offset"
  | "offset-half-turn"
  | "offset-disturbed"
  | "pole-pairs"
  | "line-count"
  | "lead-open"
  | "jam"
  | "overload"
  /** The current does not follow its command: bridge disabled, or held below it by a limit the log does not show. */
  | "current-not-following"
  /** Encoder edges get lost. */
  | "counts-missing"
  /** The count stands still from some moment on. */
  | "encoder-stuck"
  /** Bursts of noise add and take away counts. */
  | "encoder-noise"
  /** Wiring and settings right, speed gains far too high, too low, or integral action out of proportion. */
  | "loop-mistuned"
  /** Speed and position displayed with the sign turned, control untouched. */
  | "display-reversed";

/** All of them. */
export const benchFaults: readonly BenchFault[] = [
  "none",
  "leads-exchanged",
  "stale-offset",
  "offset-half-turn",
  "offset-disturbed",
  "pole-pairs",
  "line-count",
  "lead-open",
  "jam",
  "overload",
  "current-not-following",
  "counts-missing",
  "encoder-stuck",
  "encoder-noise",
  "loop-mistuned",
  "display-reversed",
];

/** Channels a made-up log may hold, by the names that recordings use. */
export type LoggedChannel =
  | "currentCommand"
  | "current"
  | "currentDCommand"
  | "currentD"
  | "currentU"
  | "currentV"
  | "currentW"
  | "voltageD"
  | "voltageQ"
  | "voltageBus"
  | "speed"
  | "speedCommand"
  | "position"
  | "positionCommand"
  | "sweepAngle"
  | "index";

/** A made-up bench with its truth. */
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

const commonLines = [
  250, 256, 360, 400, 500, 512, 720, 1000, 1024, 2000, 2048, 2500, 3600, 4096, 5000, 10000,
];
const commonPolePairs = [2, 3, 4, 4, 5, 5, 6, 7, 8, 10, 11, 12, 14];

/**
 * A plausible motor with drive, encoder and fault, from 20 W to 5 kW, 2 to 14 pole pairs, 250 to 10,000 lines. The ranges are
 * common practice, no source; consistency (torque constant from flux, inductance from reactance, inertia from run-up time) is kept.
 *
 * @param seed the same seed gives the same bench on every machine
 * @param options `fault` to choose what is wrong; drawn evenly when absent
 * @example
 * const { bench, torqueProgram, truth } = randomBench(17, { fault: "stale-offset" });
 */
export function randomBench(seed: number, options: { readonly fault?: BenchFault } = {}): RandomBench {
  const random = seededRandom(seed ^ 0x5eed);
  const u = () => random.uniform();
  const between = (a: number, b: number) => a + (b - a) * u();
  const logBetween = (a: number, b: number) => a * (b / a) ** u();
  const pick = <T>(values: readonly T[]): T => values[Math.floor(u() * values.length)];
  const fault = options.fault ?? pick(benchFaults);

  const power = logBetween(20, 5000);
  const busVoltage = power < 150 ? pick([24, 36, 48]) : power < 800 ? pick([48, 72, 325]) : pick([325, 565]);
  const modulation = u() < 0.75 ? ("space-vector" as const) : ("sine" as const);
  const polePairs = pick(commonPolePairs);
  const ratedSpeed = Math.min(logBetween(1200, 6000), 36000 / polePairs) * ((2 * Math.PI) / 60);
  const plateau = ratedSpeed * between(1.15, 1.7);
  const limit = voltageLimit(busVoltage, modulation);
  const fluxLinkage = limit / (polePairs * plateau);
  const torqueConstant = 1.5 * polePairs * fluxLinkage;
  const ratedTorque = power / ratedSpeed;
  const ratedCurrent = ratedTorque / torqueConstant;
  const copperShare = between(0.04, 0.12) * (power < 200 ? 1.6 : 1);
  const resistance = (copperShare * power) / (1.5 * ratedCurrent ** 2);
  const reactanceShare = between(0.08, 0.35);
  const inductance = Math.min(
    (reactanceShare * limit) / (polePairs * ratedSpeed * ratedCurrent),
    resistance * 0.012,
  );
  const saliency = u() < 0.3 ? between(1.1, 1.5) : 1;
  const inertia = (ratedTorque * logBetween(0.02, 0.25)) / ratedSpeed;
  const coulombFriction = ratedTorque * logBetween(0.008, 0.05);
  const staticFriction = coulombFriction * between(1.05, 1.8);
  const viscousFriction = (ratedTorque * logBetween(0.003, 0.04)) / ratedSpeed;
  const cogging =
    u() < 0.5 ? { amplitude: ratedTorque * between(0.002, 0.012), periods: 6 * polePairs } : undefined;
  const samplePeriod = Math.min(pick([5e-5, 6.25e-5, 1e-4, 1.25e-4]), 0.35 / (polePairs * plateau));
  const lines = pick(commonLines);
  const sense = u() < 0.5 ? (1 as const) : (-1 as const);
  const matching = leadOrders.filter((order) => (parity(order) === "even") === (sense === 1));
  const crossed = leadOrders.filter((order) => !matching.includes(order));

  const order: LeadOrder = pick(fault === "leads-exchanged" ? crossed : matching);
  let alignment: Alignment = { kind: "disturbed", by: between(-0.1, 0.1) };
  let setPairs = polePairs;
  let setLines = lines;
  let openLead: Bench["openLead"];
  let jammed = false;
  let extraFriction = 0;
  if (fault === "leads-exchanged") alignment = { kind: "aligned" };
  if (fault === "stale-offset") {
    const from = pick(matching.filter((other) => other !== order));
    alignment = { kind: "stale", from };
  }
  if (fault === "offset-half-turn") alignment = { kind: "disturbed", by: Math.PI + between(-0.12, 0.12) };
  if (fault === "offset-disturbed") {
    alignment = { kind: "disturbed", by: between(0.35, 1.55) * (u() < 0.5 ? -1 : 1) };
  }
  if (fault === "pole-pairs") {
    const wrong = [polePairs - 2, polePairs - 1, polePairs + 1, polePairs + 2, 2 * polePairs].filter(
      (p) => p >= 1,
    );
    setPairs = pick(wrong.filter((p) => p !== polePairs));
  }
  if (fault === "line-count") {
    const wrong = [
      4 * lines,
      lines / 4,
      lines === 1024 ? 1000 : lines === 1000 ? 1024 : Math.round(lines * pick([0.5, 2, 1.024])),
    ];
    setLines = pick(wrong.filter((n) => Number.isInteger(n) && n !== lines));
  }
  if (fault === "lead-open") openLead = pick(["U", "V", "W"] as const);
  if (fault === "jam") jammed = true;
  if (fault === "overload") extraFriction = ratedTorque * between(1.5, 3);

  const bandwidth = between(0.08, 0.2) / samplePeriod;
  const speedBandwidth = Math.min(between(15, 60), (0.1 * bandwidth) / 4);
  const kp = (inertia * speedBandwidth) / torqueConstant;
  // A second stream for what was added later, so that a seed keeps its motor.
  const more = seededRandom(seed ^ 0x1a57);
  const chance = (p: number) => more.uniform() < p;
  const within = (a: number, b: number) => a + (b - a) * more.uniform();
  const logWithin = (a: number, b: number) => a * (b / a) ** more.uniform();
  const current = ratedCurrent * between(0.2, 0.6);
  if (fault === "none" && chance(0.7)) {
    // A sound alignment leaves what friction held back.
    const lag = alignmentLag({ polePairs, fluxLinkage, staticFriction }, ratedCurrent * within(0.5, 1));
    alignment = { kind: "disturbed", by: lag * within(-1, 1) };
  }
  const disabled = fault === "current-not-following" && chance(0.35);
  const hiddenCurrentLimit =
    fault === "current-not-following" && !disabled ? current * within(0.03, 0.5) : undefined;
  const turning = Math.abs(Math.cos(alignment.kind === "disturbed" ? alignment.by : 2));
  const voltagePriority = turning > 0.7 && chance(0.2) ? ("d" as const) : ("vector" as const);
  const deadVoltage = chance(0.5) ? busVoltage * logWithin(0.001, 0.012) : undefined;
  const busResistance = chance(0.4) ? (within(0.005, 0.03) * busVoltage ** 2) / power : undefined;
  const tripSpeed = chance(0.12) ? plateau * within(0.7, 1.1) : undefined;
  const tripFactor = chance(0.9) ? within(1.8, 3) : 6;
  const brakingLoad = chance(0.3) ? ratedTorque * within(0.01, 0.12) : undefined;
  const load = chance(0.15) ? staticFriction * within(-0.7, 0.7) : undefined;
  const mistuned = fault === "loop-mistuned" ? Math.floor(3 * more.uniform()) : -1;
  const kpFactor = mistuned === 0 ? logWithin(12, 60) : mistuned === 1 ? logWithin(0.01, 0.06) : 1;
  const kiFactor = mistuned === 2 ? logWithin(30, 200) : kpFactor;

  const motor: Bench["motor"] = {
    polePairs,
    resistance,
    inductanceD: inductance,
    inductanceQ: inductance * saliency,
    fluxLinkage,
    inertia,
    coulombFriction: coulombFriction + extraFriction,
    viscousFriction,
    staticFriction: staticFriction + 1.1 * extraFriction,
    ...(cogging === undefined ? {} : { cogging }),
    ...(jammed ? { jammed } : {}),
    ...(brakingLoad === undefined ? {} : { brakingLoad }),
    ...(load === undefined ? {} : { load }),
  };
  const encoder: EncoderModel = {
    lines,
    sense,
    ...(fault === "counts-missing" ? { missing: logWithin(0.002, 0.15) } : {}),
    ...(fault === "encoder-stuck" ? { stuckFrom: chance(0.3) ? 0 : within(0.2, 0.8) } : {}),
    ...(fault === "encoder-noise"
      ? { bursts: { perSecond: logWithin(3, 60), counts: Math.ceil(lines * logWithin(0.01, 0.5)) } }
      : {}),
  };
  const currentLimit = ratedCurrent * between(1, 2);
  const bench: Bench = {
    motor,
    drive: {
      busVoltage,
      modulation,
      currentLimit,
      tripCurrent: tripFactor * currentLimit,
      ...(tripSpeed === undefined ? {} : { tripSpeed }),
      samplePeriod,
      currentBandwidth: bandwidth,
      polePairs: setPairs,
      encoderLines: setLines,
      speedLoop: { kp: kp * kpFactor, ki: ((kp * speedBandwidth) / between(4, 10)) * kiFactor },
      speedDivider: pick([1, 2, 5, 10]),
      speedFilter: logBetween(0.5e-3, 4e-3),
      alignment,
      voltagePriority,
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
  const channels: LoggedChannel[] = ["currentCommand", "current"];
  const motion = more.uniform();
  if (motion < 0.85) channels.push("speed");
  if (motion < 0.7 || motion >= 0.85) channels.push("position");
  channels.push("speedCommand", "positionCommand", "sweepAngle");
  if (chance(0.4)) channels.push("currentD", "voltageD", "voltageQ");
  if (chance(0.25)) channels.push("currentU", "currentV", "currentW");
  if (chance(0.3)) channels.push("voltageBus");
  if (channels.includes("position") && chance(0.3)) channels.push("index");
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
      handTurn: handTurn({ turns: within(1.1, 2.5), duration: within(2, 5) }),
      alignmentSweep: alignmentSweep({ current: 0.8 * ratedCurrent, turns: Math.min(polePairs, 6), rate: 2 }),
    },
    truth: { fault, ...truth, torqueConstant },
  };
}
