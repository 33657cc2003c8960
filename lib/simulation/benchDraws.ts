import type { Alignment, Bench, EncoderModel } from "../motor/bench.js";
import { alignmentLag } from "../motor/commutation.js";
import { type LeadOrder, leadOrders } from "../motor/facts.js";
import { parity } from "../motor/leadOrder.js";
import { voltageLimit } from "../motor/voltageLimit.js";
import type { SeededRandom } from "../numeric/distributions/seededRandom.js";
import type { BenchFault, LoggedChannel } from "./benchFaults.js";

const commonLines = [
  250, 256, 360, 400, 500, 512, 720, 1000, 1024, 2000, 2048, 2500, 3600, 4096, 5000, 10000,
];

const commonPolePairs = [2, 3, 4, 4, 5, 5, 6, 7, 8, 10, 11, 12, 14];

/** A stream of random numbers as this file draws them. */
interface Draws {
  readonly uniform: () => number;
  readonly between: (a: number, b: number) => number;
  readonly logBetween: (a: number, b: number) => number;
  readonly pick: <T>(values: readonly T[]) => T;
  readonly chance: (p: number) => boolean;
  readonly normal: () => number;
}

export function drawsOf(random: SeededRandom): Draws {
  const uniform = () => random.uniform();
  return {
    uniform,
    between: (a, b) => a + (b - a) * uniform(),
    logBetween: (a, b) => a * (b / a) ** uniform(),
    pick: (values) => values[Math.floor(uniform() * values.length)],
    chance: (p) => uniform() < p,
    normal: () => random.normal(),
  };
}

/** A plausible motor with its supply and encoder; torque constant from flux, inductance from reactance, inertia from
 * run-up time. */
export function drawMachine({ uniform, between, logBetween, pick }: Draws) {
  const power = logBetween(20, 5000);
  const busVoltage = power < 150 ? pick([24, 36, 48]) : power < 800 ? pick([48, 72, 325]) : pick([325, 565]);
  const modulation = uniform() < 0.75 ? ("space-vector" as const) : ("sine" as const);
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
  const saliency = uniform() < 0.3 ? between(1.1, 1.5) : 1;
  const inertia = (ratedTorque * logBetween(0.02, 0.25)) / ratedSpeed;
  const coulombFriction = ratedTorque * logBetween(0.008, 0.05);
  const staticFriction = coulombFriction * between(1.05, 1.8);
  const viscousFriction = (ratedTorque * logBetween(0.003, 0.04)) / ratedSpeed;
  const cogging =
    uniform() < 0.5 ? { amplitude: ratedTorque * between(0.002, 0.012), periods: 6 * polePairs } : undefined;
  const samplePeriod = Math.min(pick([5e-5, 6.25e-5, 1e-4, 1.25e-4]), 0.35 / (polePairs * plateau));
  const lines = pick(commonLines);
  return {
    ...{ power, busVoltage, modulation, polePairs, ratedSpeed, plateau, fluxLinkage, torqueConstant },
    ...{ ratedTorque, ratedCurrent, resistance, inductance, saliency, inertia, coulombFriction },
    ...{ staticFriction, viscousFriction, cogging, samplePeriod, lines },
  };
}

type Machine = ReturnType<typeof drawMachine>;

/** How the leads are connected, the offset was aligned and the drive was set, with what the fault spoils. */
export function drawSetting({ uniform, between, pick }: Draws, fault: BenchFault, machine: Machine) {
  const { polePairs, lines, ratedTorque } = machine;
  const sense = uniform() < 0.5 ? (1 as const) : (-1 as const);
  const matching = leadOrders.filter((order) => (parity(order) === "even") === (sense === 1));
  const crossed = leadOrders.filter((order) => !matching.includes(order));
  const order: LeadOrder = pick(fault === "leads-exchanged" ? crossed : matching);
  let alignment: Alignment = { kind: "disturbed", by: between(-0.1, 0.1) };
  let setPairs = polePairs;
  let setLines = lines;
  let openLead: Bench["openLead"];
  let extraFriction = 0;
  if (fault === "leads-exchanged") alignment = { kind: "aligned" };
  if (fault === "stale-offset") {
    const from = pick(matching.filter((other) => other !== order));
    alignment = { kind: "stale", from };
  }
  if (fault === "offset-half-turn") alignment = { kind: "disturbed", by: Math.PI + between(-0.12, 0.12) };
  if (fault === "offset-disturbed")
    alignment = { kind: "disturbed", by: between(0.35, 1.55) * (uniform() < 0.5 ? -1 : 1) };
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
  if (fault === "overload") extraFriction = ratedTorque * between(1.5, 3);
  return { sense, order, alignment, setPairs, setLines, openLead, jammed: fault === "jam", extraFriction };
}

/** What else a bench has or lacks: drawn from a second stream, so that a seed keeps its motor. */
export function drawConditions(
  { between, logBetween, chance, uniform }: Draws,
  fault: BenchFault,
  machine: Machine,
  given: Alignment,
  current: number,
) {
  const { polePairs, fluxLinkage, staticFriction, ratedCurrent, busVoltage, power, plateau, ratedTorque } =
    machine;
  let alignment = given;
  if (fault === "none" && chance(0.7)) {
    // A sound alignment leaves what friction held back.
    const lag = alignmentLag({ polePairs, fluxLinkage, staticFriction }, ratedCurrent * between(0.5, 1));
    alignment = { kind: "disturbed", by: lag * between(-1, 1) };
  }
  const disabled = fault === "current-not-following" && chance(0.35);
  const hiddenCurrentLimit =
    fault === "current-not-following" && !disabled ? current * between(0.03, 0.5) : undefined;
  const turning = Math.abs(Math.cos(alignment.kind === "disturbed" ? alignment.by : 2));
  const voltagePriority = turning > 0.7 && chance(0.2) ? ("d" as const) : ("vector" as const);
  const deadVoltage = chance(0.5) ? busVoltage * logBetween(0.001, 0.012) : undefined;
  const busResistance = chance(0.4) ? (between(0.005, 0.03) * busVoltage ** 2) / power : undefined;
  const tripSpeed = chance(0.12) ? plateau * between(0.7, 1.1) : undefined;
  const tripFactor = chance(0.9) ? between(1.8, 3) : 6;
  const brakingLoad = chance(0.3) ? ratedTorque * between(0.01, 0.12) : undefined;
  const load = chance(0.15) ? staticFriction * between(-0.7, 0.7) : undefined;
  const mistuned = fault === "loop-mistuned" ? Math.floor(3 * uniform()) : -1;
  const kpFactor = mistuned === 0 ? logBetween(12, 60) : mistuned === 1 ? logBetween(0.01, 0.06) : 1;
  const kiFactor = mistuned === 2 ? logBetween(30, 200) : kpFactor;
  return {
    ...{ alignment, disabled, hiddenCurrentLimit, voltagePriority, deadVoltage, busResistance },
    ...{ tripSpeed, tripFactor, brakingLoad, load, kpFactor, kiFactor },
  };
}

/** The encoder, with what the fault does to its counts. */
export function drawEncoder(
  { between, logBetween, chance }: Draws,
  fault: BenchFault,
  lines: number,
  sense: 1 | -1,
): EncoderModel {
  return {
    lines,
    sense,
    ...(fault === "counts-missing" ? { missing: logBetween(0.002, 0.15) } : {}),
    ...(fault === "encoder-stuck" ? { stuckFrom: chance(0.3) ? 0 : between(0.2, 0.8) } : {}),
    ...(fault === "encoder-noise"
      ? { bursts: { perSecond: logBetween(3, 60), counts: Math.ceil(lines * logBetween(0.01, 0.5)) } }
      : {}),
  };
}

/** What the log holds: at least the current, its command, and speed or position. */
export function drawChannels({ uniform, chance }: Draws): LoggedChannel[] {
  const channels: LoggedChannel[] = ["currentCommand", "current"];
  const motion = uniform();
  if (motion < 0.85) channels.push("speed");
  if (motion < 0.7 || motion >= 0.85) channels.push("position");
  channels.push("speedCommand", "positionCommand", "sweepAngle");
  if (chance(0.4)) channels.push("currentD", "voltageD", "voltageQ");
  if (chance(0.25)) channels.push("currentU", "currentV", "currentW");
  if (chance(0.3)) channels.push("voltageBus");
  if (channels.includes("position") && chance(0.3)) channels.push("index");
  return channels;
}
