import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { type BenchFault, benchFaults, type RandomBench, randomBench } from "../../lib/simulation/index.js";

const seeds = Array.from({ length: 400 }, (_, k) => k + 1);
const drawn = new Map<BenchFault | undefined, RandomBench[]>();
const benches = (fault?: BenchFault): RandomBench[] => {
  const made = drawn.get(fault) ?? seeds.map((seed) => randomBench(seed, { fault }));
  drawn.set(fault, made);
  return made;
};

/**
 * Largest distance between the shares of a sample and a distribution; beyond 1.63/sqrt(n) one sample in a hundred falls
 * (Kolmogorov and Smirnov; the asymptotic value, from memory).
 */
function distance(shares: readonly number[]): number {
  const sorted = [...shares].sort((a, b) => a - b);
  return Math.max(
    ...sorted.map((share, i) => Math.max(share - i / sorted.length, (i + 1) / sorted.length - share)),
  );
}

const ratedTorque = ({ ratedCurrent, truth }: RandomBench) => ratedCurrent * truth.torqueConstant;
const plateau = ({ bench: { motor, drive } }: RandomBench) =>
  (drive.modulation === "sine" ? drive.busVoltage / 2 : drive.busVoltage / Math.sqrt(3)) /
  (motor.polePairs * motor.fluxLinkage);
const duration = (made: RandomBench, k: number) => made.torqueProgram[k].duration;

type Draw = readonly [
  name: string,
  fault: BenchFault,
  spread: "evenly" | "evenly in the logarithm",
  low: number,
  high: number,
  value: (made: RandomBench) => number | undefined,
];
const draws: readonly Draw[] = [
  ["start angle, rad", "none", "evenly", 0, 2 * Math.PI, (m) => m.startAngle],
  [
    "current noise over rated current",
    "none",
    "evenly in the logarithm",
    0.002,
    0.02,
    (m) => m.currentNoise / m.ratedCurrent,
  ],
  [
    "trial current over rated current",
    "none",
    "evenly",
    0.2,
    0.6,
    (m) => (m.torqueProgram[1] as { from: number }).from / m.ratedCurrent,
  ],
  [
    "current limit over rated current",
    "none",
    "evenly",
    1,
    2,
    (m) => m.bench.drive.currentLimit / m.ratedCurrent,
  ],
  [
    "static over Coulomb friction",
    "none",
    "evenly",
    1.05,
    1.8,
    ({ bench: { motor } }) => motor.staticFriction / motor.coulombFriction,
  ],
  [
    "Coulomb friction over rated torque",
    "none",
    "evenly in the logarithm",
    0.008,
    0.05,
    (m) => m.bench.motor.coulombFriction / ratedTorque(m),
  ],
  [
    "resistance the drive is tuned to",
    "none",
    "evenly",
    0.8,
    1.25,
    ({ bench }) => (bench.drive.tunedResistance ?? 0) / bench.motor.resistance,
  ],
  [
    "inductance the drive is tuned to",
    "none",
    "evenly",
    0.8,
    1.25,
    ({ bench }) => (bench.drive.tunedInductance ?? 0) / bench.motor.inductanceD,
  ],
  [
    "saliency of salient motors",
    "none",
    "evenly",
    1.1,
    1.5,
    ({ bench: { motor } }) =>
      motor.inductanceQ > motor.inductanceD ? motor.inductanceQ / motor.inductanceD : undefined,
  ],
  [
    "current bandwidth by sample period",
    "none",
    "evenly",
    0.08,
    0.2,
    ({ bench: { drive } }) => drive.currentBandwidth * drive.samplePeriod,
  ],
  ["speed filter, s", "none", "evenly in the logarithm", 5e-4, 4e-3, (m) => m.bench.drive.speedFilter],
  [
    "corner of the speed loop's integral below its bandwidth",
    "none",
    "evenly",
    4,
    10,
    ({ bench: { drive, motor }, truth }) =>
      (((drive.speedLoop.kp * truth.torqueConstant) / motor.inertia) * drive.speedLoop.kp) /
      drive.speedLoop.ki,
  ],
  [
    "trip current of nine drives in ten over the current limit",
    "none",
    "evenly",
    1.8,
    3,
    ({ bench: { drive } }) =>
      (drive.tripCurrent ?? 0) / drive.currentLimit > 5
        ? undefined
        : (drive.tripCurrent ?? 0) / drive.currentLimit,
  ],
  [
    "trip speed over the plateau",
    "none",
    "evenly",
    0.7,
    1.1,
    (m) => (m.bench.drive.tripSpeed === undefined ? undefined : m.bench.drive.tripSpeed / plateau(m)),
  ],
  [
    "braking load over rated torque",
    "none",
    "evenly",
    0.01,
    0.12,
    (m) => (m.bench.motor.brakingLoad === undefined ? undefined : m.bench.motor.brakingLoad / ratedTorque(m)),
  ],
  [
    "load over static friction",
    "none",
    "evenly",
    -0.7,
    0.7,
    ({ bench: { motor } }) => (motor.load === undefined ? undefined : motor.load / motor.staticFriction),
  ],
  [
    "dead voltage over bus voltage",
    "none",
    "evenly in the logarithm",
    0.001,
    0.012,
    ({ bench: { drive } }) =>
      drive.deadVoltage === undefined ? undefined : drive.deadVoltage / drive.busVoltage,
  ],
  [
    "cogging over rated torque",
    "none",
    "evenly",
    0.002,
    0.012,
    (m) =>
      m.bench.motor.cogging === undefined ? undefined : m.bench.motor.cogging.amplitude / ratedTorque(m),
  ],
  ["time before the command, s", "none", "evenly", 0.1, 0.4, (m) => duration(m, 0)],
  ["time after the command, s", "none", "evenly", 0.1, 0.4, (m) => duration(m, 3)],
  ["reverse hold over forward hold", "none", "evenly", 1, 1.6, (m) => duration(m, 2) / duration(m, 1)],
  ["speed step forward, s", "none", "evenly", 0.5, 1, (m) => m.speedProgram[1].duration],
  ["speed step back, s", "none", "evenly", 0.5, 1, (m) => m.speedProgram[2].duration],
  ["hand turn, s", "none", "evenly", 2, 5, (m) => m.otherPrograms.handTurn[1].duration],
  [
    "half-turn offset beside half a turn, rad",
    "offset-half-turn",
    "evenly",
    -0.12,
    0.12,
    ({
      bench: {
        drive: { alignment },
      },
    }) => (alignment.kind === "disturbed" ? alignment.by - Math.PI : undefined),
  ],
  [
    "disturbed offset either way, rad",
    "offset-disturbed",
    "evenly",
    0.35,
    1.55,
    ({
      bench: {
        drive: { alignment },
      },
    }) => (alignment.kind === "disturbed" ? Math.abs(alignment.by) : undefined),
  ],
  ["counts lost", "counts-missing", "evenly in the logarithm", 0.002, 0.15, (m) => m.bench.encoder.missing],
  [
    "bursts a second",
    "encoder-noise",
    "evenly in the logarithm",
    3,
    60,
    (m) => m.bench.encoder.bursts?.perSecond,
  ],
  [
    "moment a count stops, s",
    "encoder-stuck",
    "evenly",
    0.2,
    0.8,
    (m) => (m.bench.encoder.stuckFrom === 0 ? undefined : m.bench.encoder.stuckFrom),
  ],
  [
    "hidden current limit over trial current",
    "current-not-following",
    "evenly",
    0.03,
    0.5,
    (m) =>
      m.bench.drive.hiddenCurrentLimit === undefined
        ? undefined
        : m.bench.drive.hiddenCurrentLimit / (m.torqueProgram[1] as { from: number }).from,
  ],
];

describe("the numbers of synthetic benches lie as they are said to be drawn", () => {
  test.each(draws)("%s (%s): %s from %d to %d", (_, fault, spread, low, high, value) => {
    const values = benches(fault)
      .map(value)
      .filter((v) => v !== undefined);
    expect(values.length).toBeGreaterThan(30);
    const shares = values.map((v) =>
      spread === "evenly" ? (v - low) / (high - low) : Math.log(v / low) / Math.log(high / low),
    );
    expect(Math.min(...shares)).toBeGreaterThan(-1e-9);
    expect(Math.max(...shares)).toBeLessThan(1 + 1e-9);
    expect(distance(shares)).toBeLessThan(1.63 / Math.sqrt(shares.length));
  });
});

type Chance = readonly [
  name: string,
  fault: BenchFault,
  chance: number,
  holds: (made: RandomBench) => boolean,
];
const chances: readonly Chance[] = [
  ["space-vector modulation", "none", 0.75, (m) => m.bench.drive.modulation === "space-vector"],
  ["salient", "none", 0.3, ({ bench: { motor } }) => motor.inductanceQ > motor.inductanceD],
  ["cogging", "none", 0.5, (m) => m.bench.motor.cogging !== undefined],
  ["encoder counting up", "none", 0.5, (m) => m.bench.encoder.sense === 1],
  ["dead voltage", "none", 0.5, (m) => m.bench.drive.deadVoltage !== undefined],
  ["soft bus", "none", 0.4, (m) => m.bench.drive.busResistance !== undefined],
  ["speed trip", "none", 0.12, (m) => m.bench.drive.tripSpeed !== undefined],
  ["braking load", "none", 0.3, (m) => m.bench.motor.brakingLoad !== undefined],
  ["load one way", "none", 0.15, (m) => m.bench.motor.load !== undefined],
  ["voltage kept for the d axis first", "none", 0.2, (m) => m.bench.drive.voltagePriority === "d"],
  [
    "offset ahead",
    "offset-disturbed",
    0.5,
    ({
      bench: {
        drive: { alignment },
      },
    }) => alignment.kind === "disturbed" && alignment.by > 0,
  ],
  ["count that never moved", "encoder-stuck", 0.3, (m) => m.bench.encoder.stuckFrom === 0],
  ["bridge disabled", "current-not-following", 0.35, (m) => m.bench.drive.disabled === true],
  ["speed logged", "none", 0.85, (m) => m.channels.includes("speed")],
  ["position logged", "none", 0.85, (m) => m.channels.includes("position")],
  ["voltages logged", "none", 0.4, (m) => m.channels.includes("voltageD") && m.channels.includes("voltageQ")],
  ["phase currents logged", "none", 0.25, (m) => m.channels.includes("currentU")],
  ["bus voltage logged", "none", 0.3, (m) => m.channels.includes("voltageBus")],
  ["index logged", "none", 0.85 * 0.3, (m) => m.channels.includes("index")],
];

describe("what a synthetic bench has by chance, it has as often as it is said to", () => {
  test.each(chances)("%s (%s): %d", (_, fault, chance, holds) => {
    // Three standard deviations of a binomial count.
    const count = benches(fault).filter(holds).length;
    const n = seeds.length;
    expect(Math.abs(count - n * chance)).toBeLessThan(3 * Math.sqrt(n * chance * (1 - chance)));
  });
});

test("every fault is drawn as often as every other", () => {
  const counts = benchFaults.map((fault) => benches().filter(({ truth }) => truth.fault === fault).length);
  const expected = seeds.length / benchFaults.length;
  // Chi square with 15 degrees of freedom: 30.6 at 1 % (Abramowitz and Stegun, table 26.8, from memory).
  expect(counts.reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0)).toBeLessThan(30.6);
});

test("a made-up motor is consistent: power, speeds, run-up and electrical time constant", () => {
  for (const made of benches("none").slice(0, 200)) {
    const { motor, drive } = made.bench;
    // The plateau lies 1.15 to 1.7 times above the rated speed, which is 1200 to 6000 rev/min and at most 600 Hz
    // electrical.
    const top = (plateau(made) * 60) / (2 * Math.PI);
    const most = Math.min(6000, 36000 / motor.polePairs) * 1.7;
    expect(top).toBeGreaterThan(1200 * 1.15);
    expect(top).toBeLessThan(most);
    const power = ratedTorque(made) * plateau(made);
    expect(power).toBeGreaterThan(20 * 1.15);
    expect(power).toBeLessThan(5000 * 1.7);
    // Copper loss at rated current: 4 to 12 % of the power, 1.6 times that below 200 W.
    const copper = (1.5 * made.ratedCurrent ** 2 * motor.resistance) / power;
    expect(copper).toBeGreaterThan(0.04 / 1.7);
    expect(copper).toBeLessThan((0.12 * (power < 200 * 1.7 ? 1.6 : 1)) / 1.15);
    expect(motor.inductanceD / motor.resistance).toBeLessThanOrEqual(0.012 * (1 + 1e-12));
    // Reactance drop at rated speed and current: 8 to 35 % of the voltage limit, less only where the time constant is
    // capped.
    const drop =
      (motor.polePairs * motor.inductanceD * made.ratedCurrent) / (motor.polePairs * motor.fluxLinkage);
    expect(drop).toBeLessThan(0.35 * 1.7);
    if (motor.inductanceD / motor.resistance < 0.01199) expect(drop).toBeGreaterThan(0.08 * 1.15);
    // Run-up at rated torque to the plateau, without friction.
    const runUp = (motor.inertia * plateau(made)) / ratedTorque(made);
    expect(runUp).toBeGreaterThan(0.02 * 1.15);
    expect(runUp).toBeLessThan(0.25 * 1.7);
    expect(motor.viscousFriction * plateau(made)).toBeLessThan(0.04 * 1.7 * ratedTorque(made));
    expect(motor.viscousFriction * plateau(made)).toBeGreaterThan(0.003 * 1.15 * ratedTorque(made));
    if (motor.cogging) expect(motor.cogging.periods).toBe(6 * motor.polePairs);
    // At the plateau the electrical angle turns at most 0.35 rad in a sample.
    expect(drive.samplePeriod * motor.polePairs * plateau(made)).toBeLessThanOrEqual(0.35 * (1 + 1e-12));
    expect(drive.samplePeriod).toBeLessThanOrEqual(1.25e-4);
    expect(made.logRate).toBeGreaterThanOrEqual(200);
    expect(made.logRate * drive.samplePeriod).toBeLessThanOrEqual(1 + 1e-12);
    const [, forward, reverse] = made.torqueProgram as readonly { from: number; duration: number }[];
    expect(reverse.from).toBe(-forward.from);
    expect(forward.duration).toBeGreaterThanOrEqual(0.25);
    expect(forward.duration).toBeLessThanOrEqual(3);
  }
});

test("only the fault that is named is in a bench", () => {
  for (const fault of benchFaults) {
    for (const { bench, truth } of benches(fault).slice(0, 80)) {
      const { motor, drive, encoder } = bench;
      expect(motor.jammed === true).toBe(fault === "jam");
      expect(bench.openLead !== undefined).toBe(fault === "lead-open");
      expect(drive.polePairs !== motor.polePairs).toBe(fault === "pole-pairs");
      expect(drive.encoderLines !== encoder.lines).toBe(fault === "line-count");
      expect(encoder.missing !== undefined).toBe(fault === "counts-missing");
      expect(encoder.stuckFrom !== undefined).toBe(fault === "encoder-stuck");
      expect(encoder.bursts !== undefined).toBe(fault === "encoder-noise");
      expect(drive.displaySense === -1).toBe(fault === "display-reversed");
      expect(drive.disabled === true || drive.hiddenCurrentLimit !== undefined).toBe(
        fault === "current-not-following",
      );
      expect(truth.mismatch > 1e-9).toBe(["leads-exchanged", "pole-pairs", "line-count"].includes(fault));
      if (fault === "leads-exchanged") expect(truth.mismatch).toBeCloseTo(2 * motor.polePairs, 9);
      if (fault === "pole-pairs")
        expect(truth.mismatch).toBeCloseTo(Math.abs(drive.polePairs - motor.polePairs), 9);
      if (fault === "line-count")
        expect(truth.mismatch).toBeCloseTo(
          motor.polePairs * Math.abs(encoder.lines / drive.encoderLines - 1),
          9,
        );
      if (fault === "stale-offset") expect(truth.torqueGain).toBeCloseTo(-0.5, 9);
      if (fault === "none" || fault === "loop-mistuned") expect(truth.torqueGain).toBeGreaterThan(0.85);
    }
  }
});

test("pole pairs set wrong are off by one or two either way, or doubled, each as often", () => {
  const kinds = new Map<string, number>();
  const many = benches("pole-pairs").filter(({ bench }) => bench.motor.polePairs > 2);
  for (const { bench } of many) {
    const [set, right] = [bench.drive.polePairs, bench.motor.polePairs];
    const kind = set === 2 * right ? "doubled" : String(set - right);
    kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
  }
  expect([...kinds.keys()].sort()).toEqual(["-1", "-2", "1", "2", "doubled"]);
  const n = many.length;
  for (const count of kinds.values())
    expect(Math.abs(count - n / 5)).toBeLessThan(3 * Math.sqrt(n * 0.2 * 0.8));
});

test("a mistuned loop has gains far too high, far too low, or an integral out of proportion", () => {
  const kinds = new Set<string>();
  for (const { bench, truth } of benches("loop-mistuned")) {
    const { kp, ki } = bench.drive.speedLoop;
    const bandwidth = (kp * truth.torqueConstant) / bench.motor.inertia;
    const corner = ki / kp;
    if (corner > 60 / 4) kinds.add("integral");
    else if (bandwidth > 60) kinds.add("high");
    else if (bandwidth < 15 * 0.06 + 60 * 0.06) kinds.add("low");
    else kinds.add("sound");
  }
  expect(kinds.has("sound")).toBe(false);
  expect([...kinds].sort()).toEqual(["high", "integral", "low"]);
});

test("a seed keeps its bench: stored studies and calibrations name benches by their seeds", () => {
  const file = join(import.meta.dirname, "files/randomBenches.json");
  const plain = (value: unknown): unknown =>
    JSON.parse(JSON.stringify(value, (_, v) => (typeof v === "number" ? Number(v.toPrecision(7)) : v)));
  const now = benchFaults.flatMap((fault) => [17, 18].map((seed) => plain(randomBench(seed, { fault }))));
  if (process.env.UPDATE_BENCHES) writeFileSync(file, `${now.map((b) => JSON.stringify(b)).join("\n")}\n`);
  const stored = readFileSync(file, "utf8")
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line) as unknown);
  expect(now).toEqual(stored);
});
