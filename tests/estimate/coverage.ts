/**
 * Measures how often the 95 % intervals of `estimateConstants` hold the truth, over seeded simulated recordings, and how large the bias is
 * beside the interval's width.
 *
 *     npx tsx tests/estimate/coverage.ts [trials] [first seed] [studies, for instance 0,2]
 */
import { type EstimateOptions, estimateConstants } from "../../lib/estimate/index.js";
import type { ChannelRole } from "../../lib/recording/types.js";
import { type Leg, randomTruth, runBench, type Truth } from "./testBench.js";

/** Tally of one route. */
export interface Tally {
  held: number;
  count: number;
  /** Sum of (value - truth) / (high - low). */
  bias: number;
  /** Sum of half widths relative to the truth. */
  half: number;
  /** |value - truth| in half widths, of each recording. */
  errors: number[];
}

/** The true value of each constant of a bench. */
export function trueValues(t: Truth): Record<string, number> {
  const psi = t.polePairs * t.fluxLinkage;
  const Kt = 1.5 * psi;
  const g = Math.abs(Math.cos(t.offset));
  return {
    kv: 60 / (2 * Math.PI * Math.sqrt(3) * psi),
    backEmfConstant: Math.sqrt(3) * psi,
    fluxLinkage: t.fluxLinkage,
    torqueConstant: Kt,
    resistance: t.resistance,
    inductanceD: t.inductance,
    inductanceQ: t.inductance,
    electricalTimeConstant: t.inductance / t.resistance,
    offsetError: (t.offset * 180) / Math.PI,
    breakawayCurrent: t.staticFriction / Kt / g,
    staticFriction: t.staticFriction,
    inertia: t.inertia,
    coulombFriction: t.coulomb,
    viscousFriction: t.viscous,
    mechanicalTimeConstant: t.inertia / t.viscous,
    electromechanicalTimeConstant: (t.inertia * t.resistance) / (1.5 * psi * psi),
    coulombOverInertia: t.coulomb / t.inertia,
    viscousOverInertia: t.viscous / t.inertia,
    inertiaOverTorqueConstant: t.inertia / Kt / g,
    coulombOverTorqueConstant: t.coulomb / Kt / g,
    viscousOverTorqueConstant: t.viscous / Kt / g,
  };
}

/** A program of the coverage study: what is run, what is logged. */
export interface Study {
  readonly name: string;
  readonly legs: readonly Leg[];
  readonly channels: readonly ChannelRole[];
  readonly change?: (truth: Truth) => Truth;
}

const motion: readonly ChannelRole[] = ["currentCommand", "current", "position"];
const voltages: readonly ChannelRole[] = [...motion, "currentD", "voltageQ", "voltageD"];

export const studies: readonly Study[] = [
  {
    name: "torque trial and coast-down, currents and position",
    legs: [
      { kind: "torque", seconds: 0.8, command: 3 },
      { kind: "torque", seconds: 1.2, command: -3 },
      { kind: "torque", seconds: 1.2, command: 3 },
      { kind: "coast", seconds: 1.5, command: 0 },
    ],
    channels: motion,
  },
  {
    name: "speed steps, dq voltages",
    legs: [
      { kind: "speed", seconds: 0.8, command: 60 },
      { kind: "speed", seconds: 0.8, command: 120 },
      { kind: "speed", seconds: 0.8, command: -60 },
      { kind: "speed", seconds: 0.8, command: -120 },
    ],
    channels: voltages,
  },
  {
    name: "torque trial with an offset error, dq voltages",
    legs: [
      { kind: "torque", seconds: 0.8, command: 3 },
      { kind: "torque", seconds: 1.2, command: -3 },
    ],
    channels: voltages,
    change: (t) => ({ ...t, offset: 0.5 }),
  },
  {
    name: "slow ramps from rest, both ways, without torque disturbance",
    legs: [
      { kind: "torque", seconds: 2, command: 1.2, ramp: true },
      { kind: "torque", seconds: 0.5, command: 0 },
      { kind: "torque", seconds: 2, command: -1.2, ramp: true },
    ],
    channels: motion,
    change: (t) => ({ ...t, disturbance: 0 }),
  },
  {
    name: "slow speeds both ways, with cogging",
    legs: [
      { kind: "speed", seconds: 3, command: 6 },
      { kind: "speed", seconds: 3, command: -6 },
      { kind: "speed", seconds: 1, command: 60 },
      { kind: "speed", seconds: 1, command: 120 },
    ],
    channels: motion,
    change: (t) => ({ ...t, cogging: 0.15 * t.coulomb, coggingOrder: 6 * t.polePairs }),
  },
];

/** Runs one study over seeds and tallies every route. */
export function runStudy(
  study: Study,
  trials: number,
  firstSeed: number,
  options: EstimateOptions = {},
): Map<string, Tally> {
  const tallies = new Map<string, Tally>();
  for (let seed = firstSeed; seed < firstSeed + trials; seed++) {
    const plain = randomTruth(seed);
    const truth = study.change?.(plain) ?? plain;
    const { recording, trials: cut } = runBench(truth, study.legs, seed + 1000003, study.channels);
    const constants = estimateConstants(
      { ...recording, machine: { polePairs: truth.polePairs }, drive: { busVoltage: truth.busVoltage } },
      cut,
      options,
    );
    const values = trueValues(truth);
    const torqueConstant = 1.5 * truth.polePairs * truth.fluxLinkage;
    const harmonics = constants.harmonics
      .filter((h) => h.order === truth.coggingOrder)
      .map(({ amplitude }) => ({
        quantity: "coggingAmplitude",
        estimate: amplitude,
      }));
    values.coggingAmplitude = truth.cogging / (constants.electrical.torqueConstant ? 1 : torqueConstant);
    for (const { quantity, estimate } of [...constants.routes, ...harmonics]) {
      const carried = values[quantity.replace(/Positive$|Negative$/, "")];
      if (carried === undefined) continue;
      // Ratios from currents turned into the magnets' coordinates carry no torque gain.
      const turned = quantity.includes("OverTorqueConstant") && estimate.convention?.includes("turned");
      const value = turned ? carried * Math.abs(Math.cos(truth.offset)) : carried;
      const key = `${quantity}: ${estimate.method.split(",")[0].replace(/\d+/g, "n")}`;
      const tally = tallies.get(key) ?? { held: 0, count: 0, bias: 0, half: 0, errors: [] };
      tally.count++;
      if (estimate.low <= value && value <= estimate.high) tally.held++;
      tally.bias += (estimate.value - value) / (estimate.high - estimate.low);
      tally.errors.push((2 * Math.abs(estimate.value - value)) / (estimate.high - estimate.low));
      tally.half += (estimate.high - estimate.low) / 2 / Math.abs(value);
      tallies.set(key, tally);
    }
  }
  return tallies;
}

if (process.argv[1]?.endsWith("coverage.ts")) {
  const trials = Number(process.argv[2] ?? 1000);
  const first = Number(process.argv[3] ?? 1);
  const chosen = process.argv[4]?.split(",").map(Number) ?? studies.map((_, k) => k);
  for (const study of chosen.map((k) => studies[k])) {
    const start = performance.now();
    const tallies = runStudy(study, trials, first, { modelErrors: process.argv[5] !== "plain" });
    console.log(
      `\n${study.name} (${trials} recordings, ${((performance.now() - start) / 1000).toFixed(0)} s)\n`,
    );
    console.log(
      "| constant: route | recordings | coverage % | bias / width | half width % | q50 q95 |\n|---|---|---|---|---|---|",
    );
    for (const [key, t] of tallies)
      console.log(
        `| ${key} | ${t.count} | ${((100 * t.held) / t.count).toFixed(1)} | ${(t.bias / t.count).toFixed(3)} | ${((100 * t.half) / t.count).toPrecision(2)} | ${[0.5, 0.95].map((x) => t.errors.sort((a, b) => a - b)[Math.floor(x * t.count)].toFixed(2)).join(" ")} |`,
      );
  }
}
