/**
 * Measures how often the 95 % intervals of `estimateConstants` hold the truth, over seeded simulated recordings, and
 * how large the bias is beside the interval's width.
 *
 *     npx tsx tests/estimate/coverage.ts [trials] [first seed] [studies, for instance 0,2] [recordings again without model errors]
 */
import { type EstimateOptions, estimateConstants } from "../../lib/identify/index.js";
import type { ChannelRole } from "../../lib/recording/types.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { type Leg, randomTruth, runBench, type Truth } from "./testBench.js";

/** Tally of one route. */
export interface Tally {
  held: number;
  count: number;
  /** Sum of (value - truth) / (high - low). */
  bias: number;
  /** Sum of half widths relative to the truth. */
  half: number;
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
    stribeckSpeed: t.stribeckSpeed,
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
  {
    name: "ten steady speeds from very slow to fast, friction falling first",
    legs: [1, 1.5, 2.2, 3.2, 4.7, 7, 10, 20, 60, 120].map((command) => ({
      kind: "speed",
      seconds: Math.max(1.2, 7 / command),
      command,
    })),
    channels: motion,
    change: (t) => ({ ...t, stribeckSpeed: 3 * t.stribeckSpeed, stiffness: 20 }),
  },
  {
    name: "blocked shaft, four levels of current, dq voltages",
    legs: [1, -2, 3, -4].map((command) => ({ kind: "torque", seconds: 0.4, command })),
    channels: voltages,
    change: (t) => ({ ...t, staticFriction: 10 }),
  },
];

/** Runs one study over seeds and tallies every route; where a constant has several, also the one that is reported. */
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
    values.coggingAmplitude = truth.cogging / (constants.electrical.torqueConstant ? 1 : torqueConstant);
    const tally = (quantity: string, estimate: Estimate, key: string): void => {
      const carried = values[quantity.replace(/Positive$|Negative$/, "")];
      if (carried === undefined) return;
      // Ratios from currents turned into the magnets' coordinates carry no torque gain.
      const turned = quantity.includes("OverTorqueConstant") && estimate.convention?.includes("turned");
      const value = turned ? carried * Math.abs(Math.cos(truth.offset)) : carried;
      const one = tallies.get(key) ?? { held: 0, count: 0, bias: 0, half: 0 };
      one.count++;
      if (estimate.low <= value && value <= estimate.high) one.held++;
      one.bias += (estimate.value - value) / (estimate.high - estimate.low);
      one.half += (estimate.high - estimate.low) / 2 / Math.abs(value);
      tallies.set(key, one);
    };
    const seen = new Map<string, number>();
    for (const { quantity, estimate } of constants.routes) {
      tally(quantity, estimate, `${quantity}: ${estimate.method.split(",")[0].replace(/\d+/g, "n")}`);
      seen.set(quantity, (seen.get(quantity) ?? 0) + 1);
    }
    for (const h of constants.harmonics)
      if (h.order === truth.coggingOrder)
        tally("coggingAmplitude", h.amplitude, `coggingAmplitude: ${h.amplitude.method.split(",")[0]}`);
    const reported: Record<string, Estimate | undefined> = {
      ...constants.electrical,
      ...constants.mechanical,
      ...constants.ratios,
    };
    for (const [quantity, count] of seen)
      if (count > 1) tally(quantity, reported[quantity]!, `${quantity}: the one reported, of several routes`);
  }
  return tallies;
}

const percent = (t: Tally): string => ((100 * t.held) / t.count).toFixed(1);

if (process.argv[1]?.endsWith("coverage.ts")) {
  const trials = Number(process.argv[2] ?? 1000);
  const first = Number(process.argv[3] ?? 1);
  const chosen = process.argv[4]?.split(",").map(Number) ?? studies.map((_, k) => k);
  // The second pass, without model errors, is there to tell them from scatter: fewer recordings will do.
  const again = Number(process.argv[5] ?? Math.min(trials, 400));
  for (const study of chosen.map((k) => studies[k])) {
    const start = performance.now();
    const tallies = runStudy(study, trials, first);
    const without = again > 0 ? runStudy(study, again, first, { modelErrors: false }) : null;
    console.log(
      `\n### ${study.name} (${trials} recordings from seed ${first}, ${((performance.now() - start) / 1000).toFixed(0)} s)\n`,
    );
    console.log(
      `| constant: route | recordings | coverage % | bias / width | half width % |${without ? ` coverage % without model errors (${again}) |` : ""}\n|---|---|---|---|---|${without ? "---|" : ""}`,
    );
    for (const [key, t] of tallies) {
      if (t.count < Math.min(20, trials / 2)) continue;
      const half = (100 * t.half) / t.count;
      const other = without?.get(key);
      console.log(
        `| ${key} | ${t.count} | ${percent(t)} | ${(t.bias / t.count).toFixed(3)} | ${half < 100 ? half.toPrecision(2) : half < 1e9 ? "> 100" : "-"} |${without ? ` ${other === undefined ? "-" : percent(other)} |` : ""}`,
      );
    }
  }
}
