import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { machines, runTrial, type Trial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "runs-by-numbers-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Log {
  readonly name: string;
  readonly trials: number;
  /** What stands in the column, by the trial, the part of it that has passed, and the turns of the shaft. */
  readonly value: (trial: number, part: number, turns: number) => number | string;
  /** Pause between two trials, s; none where the clock begins anew. */
  readonly pause?: number;
  readonly trial?: Trial;
}

/** Trials one below the other, with a column beside them. */
async function read({ name, trials, value, pause, trial = "speed" }: Log): Promise<readonly Recording[]> {
  const machine = machines.servo;
  const rows: string[] = [`t [s],${name},n ref [rpm],n act [rpm],I [A]`];
  let zero = 0;
  for (let k = 0; k < trials; k += 1) {
    const s = runTrial(trial, machine, 300 + k);
    for (let i = 0; i < machine.rows; i += 1)
      rows.push(
        [
          (zero + s.time[i]).toFixed(4),
          value(k, i / machine.rows, Math.floor(s.position[i] / 6.283)),
          (s.speedCommand[i] * 9.5493).toFixed(1),
          (s.speed[i] * 9.5493).toFixed(1),
          s.current[i].toFixed(3),
        ].join(","),
      );
    if (pause !== undefined) zero += machine.rows * machine.dt + pause;
  }
  const path = join(folder, "log.csv");
  writeFileSync(path, `${rows.join("\n")}\n`);
  return (await readRecordings([path])).recordings;
}

describe("a column that numbers the trials parts the runs", () => {
  test.each([
    ["in words of no table, the clock goes on", { name: "Zkx", value: (k) => k + 1, pause: 0 }],
    ["in a language of few", { name: "Réf", value: (k) => k + 7, pause: 4 }],
    ["labels", { name: "shot", value: (k) => `a-${k}`, pause: 0 }],
    ["with the sign of a number", { name: "N°", value: (k) => k, pause: 2 }],
    ["named", { name: "Koe", value: (k) => k, pause: 0 }],
  ] as const satisfies readonly (readonly [string, Omit<Log, "trials">])[])("%s", async (_, log) => {
    const recordings = await read({ trials: 3, ...log });
    expect(recordings.map((r) => r.time.length)).toEqual([1600, 1600, 1600]);
  });
});

describe("numbers that stay for long and part nothing", () => {
  test.each([
    ["steps of a sequence", (_: number, part: number) => Math.floor(7 * part)],
    ["a status", (_: number, part: number) => (part < 0.05 || part > 0.95 ? 0 : 1)],
    ["a gear", (_: number, part: number) => (part < 0.3 ? 1 : part < 0.6 ? 2 : 3)],
    ["a counter of turns", (_: number, __: number, turns: number) => turns],
    ["a counter of equal times", (_: number, part: number) => Math.floor(5 * part)],
  ] as const)("%s", async (_, value) => {
    expect(await read({ name: "Zkx", trials: 1, value, pause: 0 })).toHaveLength(1);
  });
});
