import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { constantsOf } from "../../lib/identify/estimateConstants.js";
import { randomBench } from "../../lib/index.js";
import { linesInDoubt } from "../../lib/recording/columns/linesInDoubt.js";
import { recordingFromRandomBench } from "../../lib/recording/fromBench.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { sharedFolder } from "../house/shared.js";
import { damages } from "./damages.js";

/** A sound bench of a fresh seed that logs current, speed and position; a stranger states nothing about it. */
function benchOf(seed: number): Recording {
  const made = randomBench(seed, { fault: "none" });
  const program = [...made.torqueProgram, ...made.speedProgram];
  const { recording } = recordingFromRandomBench(made, program, { path: `bench-${seed}` });
  return { ...recording, ordering: undefined, encoder: {}, drive: {}, machine: {} };
}

const scaled = ["inertiaOverTorqueConstant", "coulombOverInertia", "viscousOverTorqueConstant"] as const;

function judged(recording: Recording) {
  const [one] = diagnose([{ recording }] as never).recordings;
  return {
    codes: (one.attention ?? []).map(({ code }) => code),
    trials: one.trials.filter(({ kind }) => kind === "torque" || kind === "speed"),
  };
}

describe.each([46110001, 46110004])("the bench of seed %i", (seed) => {
  const sound = benchOf(seed);
  test("sound, is judged without a word at the head", () => {
    const { codes, trials } = judged(sound);
    expect(codes).toEqual([]);
    expect(trials.map(({ kind, verdict }) => `${kind} ${verdict}`)).toEqual([
      "torque tracking",
      "speed tracking",
    ]);
  });
  test.each(damages)("$name", ({ apply, said, withheld, noScale }) => {
    const damaged = apply(sound);
    const { codes, trials } = judged(damaged);
    // Both of its trials follow their command: anything else that is claimed is wrong.
    for (const { verdict } of trials) expect(["tracking", "undetermined"]).toContain(verdict);
    for (const { kind, verdict } of trials)
      if (withheld?.includes(kind)) expect(verdict).toBe("undetermined");
    if (said.length > 0) expect(codes.filter((code) => said.includes(code))).not.toEqual([]);
    if (noScale) {
      const { ratios } = constantsOf(runOf(damaged));
      expect(scaled.filter((name) => ratios[name] !== undefined)).toEqual([]);
    }
  });
});

test("a drive that tripped in its torque trial and coasts through its speed trial is no runaway", () => {
  const { trials } = judged(benchOf(46110002));
  const speed = trials.find(({ kind }) => kind === "speed");
  expect(speed?.verdict).toBe("undetermined");
  expect(speed?.text).toContain("No current flowed although it was commanded");
});

describe("lines inferred from a speed whose unit may be wrong", () => {
  test.each([
    ["rad/s declared as rev/min", (4096 * 2 * Math.PI) / 60, 0.3, 4096],
    ["rev/min declared as rad/s", (2000 * 60) / (2 * Math.PI), 15, 2000],
    ["an electrical speed of five pole pairs", 4096 / 5, 0.6, 4096],
  ])("%s: the counts of a usual encoder show under the true unit", (_, turn, half, counts) => {
    expect(linesInDoubt(turn, half)?.counts).toBe(counts);
  });
  test.each([
    ["a usual encoder", 4096, 3],
    // 64 counts a turn of the motor behind a gear of 18.75 and of 131.25 (the ratios of gearmotors in many shops; from
    // memory).
    ["a gear of 18.75", 1200, 1],
    ["a gear of 131.25", 8400, 8],
    ["a gear of 46.8512 on 44 counts", 2061.45, 4],
    ["a count known too badly", 429, 9],
  ])("%s is not doubted", (_, turn, half) => {
    expect(linesInDoubt(turn, half)).toBeUndefined();
  });
});

// Published logs (see the README of that folder), which are no part of this project.
const field = sharedFolder("recordings/field");
describe.skipIf(!field)("published logs", () => {
  const gearmotor = async (): Promise<Recording> => {
    const path = join(field as string, "gearmotor-700-counts/step_response.csv");
    return (await readRecordings([path])).recordings[0];
  };
  test("a step of a real gearmotor raises no alarm of shifted or unsigned channels", async () => {
    const { codes } = judged(await gearmotor());
    expect(codes.filter((code) => /shift|unsigned|implausible|clipped|lines-doubtful/.test(code))).toEqual(
      [],
    );
  });
});
