/** Small recordings of many kinds, by name: made from fixed seeds, or tables of headings and files of the corpus. */
import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { ReadOptions } from "../../lib/recording/columns/readOptions.js";
import { recordingFromRandomBench } from "../../lib/recording/fromBench.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";
import type { ChannelRole, Finding, Recording, Trial } from "../../lib/recording/types.js";
import type { BenchFault } from "../../lib/simulation/benchFaults.js";
import { coastDown, handTurn, positionTrial } from "../../lib/simulation/programs.js";
import { type RandomBench, randomBench } from "../../lib/simulation/randomBench.js";
import { channelFaults } from "../calibration/channelFaults.js";
import { setScenario } from "../calibration/setScenario.js";
import { type HeadingTable, writeTable } from "../corpus/writeTable.js";
import { madeRecording } from "../house/madeRecording.js";
import { uniforms } from "../house/uniforms.js";
import { type DcTruth, held, runDc } from "../identify/dcBench.js";
import { randomJoint, runJoint } from "../identify/jointBench.js";
import { type Leg, randomTruth, runBench } from "../identify/testBench.js";
import { makeRig } from "../judge/rigBench.js";

/** What is given to the library for one case. */
export interface Given {
  readonly recordings: readonly Recording[];
  /** Trials of each recording, where they are stated. */
  readonly trials?: readonly (readonly Trial[])[];
  readonly problems?: readonly Finding[];
}
export interface Case {
  readonly name: string;
  /** Whether the reading of columns is all that is asked. */
  readonly columnsOnly?: boolean;
  /** Makes what is made once and kept. */
  readonly prepare?: () => void;
  readonly give: () => Given | Promise<Given>;
  /** What is recorded instead of the answers to recordings. */
  readonly answer?: () => string[] | Promise<string[]>;
}

/** A case in memory, made once. */
function made(name: string, make: () => Given): Case {
  let kept: Given | undefined;
  const give = (): Given => {
    kept ??= make();
    return kept;
  };
  return { name, prepare: give, give };
}

/** A rig of the judging bench. */
export const rig = (seed: number): Case =>
  made(`rig ${seed}`, () => ({ recordings: [makeRig(seed).recording] }));

const programs = {
  torque: (b: RandomBench) => b.torqueProgram,
  speed: (b: RandomBench) => b.speedProgram,
  coast: (b: RandomBench) => coastDown({ current: 0.4 * b.ratedCurrent, runUp: 0.4, coast: 1 }),
  hand: () => handTurn({ turns: 1.5, duration: 1.5 }),
  sweep: (b: RandomBench) => b.otherPrograms.alignmentSweep,
  position: () => positionTrial({ angle: 4, there: 0.6, back: 0.6 }),
};
export type ProgramName = keyof typeof programs;

/** A synthetic bench with a fault, put through a program; `damage` names what is wrong with its log. */
export const bench = (
  seed: number,
  fault: BenchFault,
  program: ProgramName,
  damage = "none",
  declare = false,
): Case =>
  made(`bench ${seed} ${fault} ${program}${damage === "none" ? "" : ` (${damage})`}`, () => {
    const drawn = randomBench(seed, { fault });
    const { recording } = recordingFromRandomBench(drawn, programs[program](drawn), { declare });
    const found = channelFaults.find(({ name }) => name === damage);
    return { recordings: [found?.apply(recording, uniforms(seed)) ?? recording] };
  });

/** All orders of one motor. */
export const set = (seed: number, fault?: string): Case =>
  made(`set ${seed}${fault ? ` ${fault}` : ""}`, () => {
    const { inputs } = setScenario(seed, fault);
    return {
      recordings: inputs.map(({ recording }) => recording),
      trials: inputs.map(({ trials }) => trials),
    };
  });

const legs: Readonly<Record<string, readonly Leg[]>> = {
  steps: [
    { kind: "torque", seconds: 0.1, command: 0 },
    { kind: "torque", seconds: 0.4, command: 2.5 },
    { kind: "torque", seconds: 0.4, command: -2.5 },
    { kind: "torque", seconds: 0.2, command: 0 },
  ],
  plateau: [
    { kind: "torque", seconds: 0.1, command: 0 },
    { kind: "torque", seconds: 0.7, command: 3 },
    { kind: "coast", seconds: 0.9, command: 0 },
  ],
  speeds: [
    { kind: "speed", seconds: 0.1, command: 0 },
    { kind: "speed", seconds: 0.4, command: 60 },
    { kind: "speed", seconds: 0.4, command: 140 },
    { kind: "speed", seconds: 0.5, command: -90 },
  ],
  ramp: [
    { kind: "torque", seconds: 0.6, command: 2, ramp: true },
    { kind: "torque", seconds: 0.3, command: -2, ramp: true },
  ],
};
export type LegsName = "steps" | "plateau" | "speeds" | "ramp";
const dq: readonly ChannelRole[] = [
  "currentCommand",
  "current",
  "currentD",
  "position",
  "speed",
  "speedCommand",
  "voltageQ",
  "voltageD",
  "voltageBus",
];

/** A servo motor of the bench of the estimators, with the voltages in its log or without. */
export const servo = (
  seed: number,
  program: LegsName,
  more: "voltages" | "torque" | "plain",
  offset = 0,
): Case =>
  made(`servo ${seed} ${program} ${more}${offset === 0 ? "" : ` ${offset}`}`, () => {
    const roles: readonly ChannelRole[] | undefined =
      more === "voltages" ? dq : more === "torque" ? [...dq, "torque"] : undefined;
    const truth = { ...randomTruth(seed), offset, cogging: seed % 2 === 0 ? 0.004 : 0 };
    const { recording, trials } = runBench(truth, legs[program], seed, roles);
    const { polePairs, busVoltage, lines } = truth;
    const stated = {
      ...recording,
      machine: { polePairs },
      drive: { busVoltage, polePairs, encoderLines: lines, currentLimit: 6 },
      encoder: { lines },
    };
    return { recordings: [stated], trials: [trials] };
  });

const dcTruth = (seed: number): DcTruth => {
  const random = uniforms(seed * 31 + 7);
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const constant = between(0.01, 0.3);
  const stall = between(1, 20);
  const coulomb = constant * stall * between(0.01, 0.06);
  return {
    resistance: 24 / stall,
    inductance: (24 / stall) * between(3e-4, 5e-3),
    constant,
    inertia: between(0.03, 0.3) * constant * stall * (constant / 24),
    viscous: ((coulomb * constant) / 24) * between(0.2, 2),
    coulomb,
    currentNoise: 0.005 * stall,
    disturbance: 0.1 * coulomb,
    disturbanceTime: 0.05,
    counts: [0, 48, 400, 2000][seed % 4],
    opens: seed % 5 === 0,
  };
};
const voltages: Readonly<Record<string, () => Float64Array>> = {
  step: () => held([[0, 60], [12, 300], [-9, 250], [0, 90]]), // biome-ignore format: a list of levels
  stairs: () => held([0, 1, 3, 6, 9, 12, 6, 0, -3, -6, -12, 0].map((v) => [v, 60])),
  slow: () => Float64Array.from({ length: 600 }, (_, k) => (k < 40 ? 0 : (k - 40) / 50)),
  random: () => held(Array.from({ length: 24 }, (_, k) => [((k * 7919) % 13) - 4, 30])),
};
export type VoltageName = "step" | "stairs" | "slow" | "random";

/** A DC motor on a voltage or a duty. */
export const dc = (
  seed: number,
  shape: VoltageName,
  roles: readonly ("voltage" | "voltageCommand" | "duty" | "current" | "speed" | "position")[],
  interval = 0.002,
): Case =>
  made(`dc ${seed} ${shape} ${roles.join("+")}${interval === 0.002 ? "" : ` ${interval}`}`, () => {
    const log = runDc(dcTruth(seed), voltages[shape](), interval, seed);
    const all = {
      voltage: log.voltage,
      voltageCommand: log.voltage,
      duty: log.voltage.map((v) => v / 24),
      current: log.current,
      speed: log.speed,
      position: log.position,
    };
    const columns = Object.fromEntries(roles.map((role) => [role, all[role]]));
    return { recordings: [madeRecording(log.time, columns)] };
  });

/** A joint of a robot with gravity, torque and motion logged. */
export const joint = (seed: number, seconds = 4): Case =>
  made(`joint ${seed}`, () => {
    const log = runJoint(randomJoint(seed), seconds, seed);
    const columns = { position: log.angle, speed: log.speed, torque: log.effort };
    return { recordings: [madeRecording(log.time, columns)] };
  });

/** A text as a file, read anew every time. */
export const text = (
  name: string,
  file: string,
  write: () => string | Buffer,
  options: ReadOptions = {},
  columnsOnly = false,
): Case => {
  let kept: string | Buffer | undefined;
  const prepare = (): string | Buffer => {
    kept ??= write();
    return kept;
  };
  return {
    name,
    columnsOnly,
    prepare,
    give: async () => {
      // Letters drawn at random may spell the name of a trial.
      const folder = join(tmpdir(), "answers", String(process.pid));
      mkdirSync(folder, { recursive: true });
      try {
        writeFileSync(join(folder, file), prepare());
        return await readRecordings([join(folder, file)], options);
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
    },
  };
};

/** A table of headings with the numbers of a simulated rig, every `keep`-th row. */
export const headings = (table: HeadingTable, seed: number, keep = 2, bare?: "nameless" | "channels"): Case =>
  text(
    `headings: ${table.habit}${bare ? ` (${bare})` : ""}`,
    table.file ?? "table.csv",
    () => {
      const lines = writeTable(table, seed, bare).text.split("\n");
      const from = bare === "nameless" ? 0 : 1;
      return lines.filter((_, k) => k < from || (k - from) % keep === 0).join("\n");
    },
    {},
    true,
  );

/** Files that stand in this repository. */
export const stored = (name: string, paths: readonly string[], options: ReadOptions = {}): Case => ({
  name,
  give: () =>
    readRecordings(
      paths.map((path) => join(import.meta.dirname, "../..", path)),
      options,
    ),
});
