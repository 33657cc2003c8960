import {
  type Alignment,
  type Bench,
  commutation,
  type LeadOrder,
  leadOrders,
  randomBench,
  simulate,
} from "../../lib/index.js";
import { recordingFromTrace } from "../../lib/recording/fromBench.js";
import type { ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { gaussian, secondRun, seeded } from "../diagnosis/secondBench.js";

/** One order of a set as it really was. */
export interface OrderTruth {
  readonly order: LeadOrder;
  readonly cause: string;
  readonly mismatch: number;
  /** Torque gain; 0 with a mismatch, NaN with an open lead or a shaft that is held. */
  readonly gain: number;
}

/** A whole set: some or all of the six orders of one motor, each with a torque trial and, half the time, a speed
 * trial. */
export interface SetScenario {
  readonly inputs: readonly { readonly recording: Recording; readonly trials: readonly Trial[] }[];
  readonly truth: readonly OrderTruth[];
  readonly fault: string;
  readonly simulator: "library" | "second";
}

/** What is wrong with a set, and how often each is drawn. */
export const setFaults: readonly (readonly [string, number])[] = [
  ["none", 0.28],
  ["offset kept from one order", 0.24],
  ["one order half a turn off", 0.09],
  ["one alignment disturbed", 0.11],
  ["pole pairs", 0.08],
  ["line count", 0.06],
  ["jam", 0.05],
  ["open lead", 0.05],
  ["no current", 0.04],
];

function draw<T>(random: () => number, list: readonly (readonly [T, number])[]): T {
  let left = random() * list.reduce((sum, [, w]) => sum + w, 0);
  for (const [value, weight] of list) {
    left -= weight;
    if (left <= 0) return value;
  }
  return list[list.length - 1][0];
}

const length = (program: readonly { readonly duration: number }[]): number =>
  program.reduce((sum, segment) => sum + segment.duration, 0);

/** Draws a motor, the encoder's sense, a fault and the orders that were tried, and simulates them. */
export function setScenario(seed: number, forced?: string): SetScenario {
  const random = seeded(seed * 104729 + 41);
  const fault = forced ?? draw(random, setFaults);
  const made = randomBench(seed, {
    fault:
      fault === "pole pairs"
        ? "pole-pairs"
        : fault === "line count"
          ? "line-count"
          : fault === "jam"
            ? "jam"
            : fault === "open lead"
              ? "lead-open"
              : fault === "no current"
                ? "current-not-following"
                : "none",
  });
  const simulator = random() < 0.3 ? "second" : "library";
  const size = draw(random, [
    [6, 0.4],
    [5, 0.15],
    [4, 0.15],
    [3, 0.15],
    [2, 0.15],
  ]);
  const shuffled = leadOrders
    .map((order) => [random(), order] as const)
    .sort((a, b) => a[0] - b[0])
    .map(([, order]) => order);
  const tried = shuffled.slice(0, size);
  // The order the leads should be in, of the three that fit the encoder's sense.
  const fitting = leadOrders.filter(
    (order) =>
      commutation({
        ...made.bench,
        order,
        drive: {
          ...made.bench.drive,
          polePairs: made.bench.motor.polePairs,
          encoderLines: made.bench.encoder.lines,
          alignment: { kind: "aligned" },
        },
      }).mismatch < 1e-9,
  );
  const first = fitting[Math.floor(random() * 3)];
  const bad = fitting.filter((order) => tried.includes(order));
  const odd = bad[Math.floor(random() * bad.length)];
  const disturbed = (0.45 + 1.05 * random()) * (random() < 0.5 ? -1 : 1);
  const logged: readonly ChannelRole[] = draw(random, [
    [["currentCommand", "current", "speed", "position", "speedCommand"], 0.7],
    [
      ["currentCommand", "current", "currentD", "voltageD", "voltageQ", "speed", "position", "speedCommand"],
      0.15,
    ],
    [["currentCommand", "current", "speed", "speedCommand"], 0.15],
  ] as const);
  const rate = Math.min(made.logRate, 2000);
  const withSpeed = random() < 0.5;
  const inputs: { recording: Recording; trials: Trial[] }[] = [];
  const truth: OrderTruth[] = [];
  tried.forEach((order, k) => {
    const small: Alignment = { kind: "disturbed", by: 0.06 * gaussian(random) };
    const alignment: Alignment =
      fault === "offset kept from one order"
        ? { kind: "stale", from: first }
        : fault === "one order half a turn off" && order === odd
          ? { kind: "disturbed", by: Math.PI + 0.06 * gaussian(random) }
          : fault === "one alignment disturbed" && order === odd
            ? { kind: "disturbed", by: disturbed }
            : small;
    const bench: Bench = { ...made.bench, order, drive: { ...made.bench.drive, alignment } };
    const { mismatch, torqueGain, offsetError } = commutation(bench);
    const startAngle = 2 * Math.PI * random();
    truth.push({
      order,
      mismatch,
      gain: fault === "jam" || fault === "open lead" ? Number.NaN : torqueGain,
      cause: causeOf(fault, made.bench, mismatch, offsetError),
    });
    inputs.push(
      simulator === "second"
        ? secondOrder(bench, made, { order, offsetError, startAngle, rate, fault, logged, random })
        : libraryOrder(bench, made, { startAngle, rate, logged, withSpeed, seed: seed * 8 + k }),
    );
  });
  return { inputs, truth, fault, simulator };
}

function causeOf(fault: string, bench: Bench, mismatch: number, offset: number): string {
  if (fault === "jam") return "jam";
  if (fault === "open lead") return "open-phase";
  if (fault === "no current") return "current-not-following";
  const p = bench.motor.polePairs;
  if (fault === "line count") {
    // With two leads exchanged on top there are two faults: the exchanged leads block as well, whichever is named is
    // half the truth.
    const ratio = bench.encoder.lines / bench.drive.encoderLines;
    return ratio === 4 || ratio === 0.25 ? "line-count-quadrature" : "line-count-wrong";
  }
  if (fault === "pole pairs") return "pole-pairs-wrong";
  if (mismatch > 1e-9) return Math.abs(mismatch - 2 * p) < 1e-6 ? "phases-swapped" : "pole-pairs-wrong";
  const degrees = (offset * 180) / Math.PI;
  if (Math.abs(Math.abs(degrees) - 120) < 20) return degrees > 0 ? "stale-offset-plus" : "stale-offset-minus";
  if (Math.abs(degrees) > 160) return "half-turn-offset";
  return Math.abs(degrees) > 15 ? "disturbed-offset" : "nothing-wrong";
}

function kept(all: Recording["channels"], logged: readonly ChannelRole[]): Recording["channels"] {
  return Object.fromEntries(
    Object.entries(all).filter(([role]) => (logged as readonly string[]).includes(role)),
  );
}

function libraryOrder(
  bench: Bench,
  made: ReturnType<typeof randomBench>,
  how: {
    readonly startAngle: number;
    readonly rate: number;
    readonly logged: readonly ChannelRole[];
    readonly withSpeed: boolean;
    readonly seed: number;
  },
): { recording: Recording; trials: Trial[] } {
  const torqueEnd = length(made.torqueProgram);
  const program = how.withSpeed
    ? [...made.torqueProgram, { kind: "coast" as const, duration: 1.5 }, ...made.speedProgram]
    : [...made.torqueProgram];
  const trace = simulate(bench, program, {
    logRate: how.rate,
    currentNoise: made.currentNoise,
    seed: how.seed,
    startAngle: how.startAngle,
  });
  const all = recordingFromTrace(trace, bench, { path: `order-${bench.order}`, motor: "m" });
  const recording = { ...all, channels: kept(all.channels, how.logged) };
  const at = (t: number): number => {
    const k = trace.time.findIndex((x) => x >= t - 1e-9);
    return k < 0 ? trace.time.length : k;
  };
  const base = { steps: [], source: "found" as const };
  const trials: Trial[] = [
    {
      ...base,
      kind: "torque",
      from: 0,
      to: at(torqueEnd),
      start: 0,
      end: torqueEnd,
      command: "currentCommand",
    },
  ];
  if (how.withSpeed)
    trials.push({
      ...base,
      kind: "speed",
      from: at(torqueEnd + 1.5),
      to: trace.time.length,
      start: torqueEnd + 1.5,
      end: trace.time[trace.time.length - 1],
      command: "speedCommand",
    });
  return { recording, trials };
}

function secondOrder(
  bench: Bench,
  made: ReturnType<typeof randomBench>,
  how: {
    readonly order: LeadOrder;
    readonly offsetError: number;
    readonly startAngle: number;
    readonly rate: number;
    readonly fault: string;
    readonly logged: readonly ChannelRole[];
    readonly random: () => number;
  },
): { recording: Recording; trials: Trial[] } {
  const { motor, drive, encoder } = bench;
  let t = 0;
  const steps = made.torqueProgram.map((segment) => {
    const step = { time: t, value: (segment as { readonly from: number }).from };
    t += segment.duration;
    return step;
  });
  const run = secondRun(
    {
      polePairs: motor.polePairs,
      resistance: motor.resistance,
      inductance: motor.inductanceQ,
      fluxLinkage: motor.fluxLinkage,
      inertia: motor.inertia,
      coulomb: motor.coulombFriction,
      viscous: motor.viscousFriction,
      stiction: motor.staticFriction ?? motor.coulombFriction,
      busVoltage: drive.busVoltage,
      currentLimit: drive.currentLimit,
      currentBandwidth: Math.min(2000, drive.currentBandwidth),
      kp: drive.speedLoop.kp,
      ki: drive.speedLoop.ki,
      lines: encoder.lines,
      order: how.order,
      encoderSense: encoder.sense,
      setPolePairs: drive.polePairs,
      setLines: drive.encoderLines,
      offset: how.offsetError,
      startAngle: how.startAngle,
      ...(how.fault === "jam" ? { jammed: true } : {}),
      ...(how.fault === "open lead" ? { openLead: true } : {}),
      ...(how.fault === "no current" ? { disabled: true } : {}),
    },
    { kind: "torque", steps, length: t },
    {
      rate: how.rate,
      currentNoise: made.currentNoise,
      currentOffset: 0.01 * made.ratedCurrent * gaussian(how.random),
      speedDelay: 0.004 * how.random(),
      speedFilter: 200 + 1000 * how.random(),
      speedNoise: 0.2,
      channels: how.logged.filter((role) => role !== "speedCommand"),
      random: how.random,
    },
  );
  return {
    recording: {
      ...run.recording,
      path: `order-${how.order}`,
      motor: "m",
      ordering: how.order,
      machine: { polePairs: drive.polePairs },
      encoder: { lines: drive.encoderLines },
      drive: { polePairs: drive.polePairs, encoderLines: drive.encoderLines },
    },
    trials: run.trials,
  };
}
