import { mkdtempSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { gridOf, gridScore } from "../../lib/recording/columns/gridOfTurn.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";
import type { Recording } from "../../lib/recording/types.js";

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "like-"));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const counts = 4 * 1000;

/** A torque step on a free shaft (or a held one), logged in turns and turns a second by somebody who names no unit. */
function log(turns: boolean, seed: number, { head = "t,pos,vel,i_set,i" } = {}): string {
  let state = seed;
  const noise = (): number => {
    state = (1103515245 * state + 12345) % 2 ** 31;
    return state / 2 ** 31 - 0.5;
  };
  const rows = Array.from({ length: 600 }, (_, k) => {
    const t = 0.002 * k;
    const on = t < 0.2 ? 0 : 1.5;
    const speed = turns && t > 0.2 ? 25 * (1 - Math.exp(-(t - 0.2) / 0.3)) : 0;
    const angle = turns && t > 0.2 ? 25 * (t - 0.2 - 0.3 * (1 - Math.exp(-(t - 0.2) / 0.3))) : 0;
    const place = Math.floor(angle * counts) / counts;
    return [
      t.toFixed(3),
      (0.00275 + place).toFixed(5),
      (speed + 0.05 * noise()).toFixed(4),
      on.toFixed(3),
      (on + 0.05 * noise()).toFixed(4),
    ].join();
  });
  return `${head}\n${rows.join("\n")}\n`;
}

const unitsOf = (recordings: readonly Recording[], column: string): (string | undefined)[] =>
  recordings.map((r) => r.understanding?.find((c) => c.column === column)?.unit);

describe("columns of like tables", () => {
  test("a shaft that never moves is logged in the unit of those that do", async () => {
    const names = ["UVW.csv", "VUW.csv", "VWU.csv", "UWV.csv"];
    for (const [k, name] of names.entries()) writeFileSync(join(folder, name), log(k % 2 === 0, k + 1));
    const { recordings } = await readRecordings([folder]);
    expect(recordings).toHaveLength(4);
    expect(unitsOf(recordings, "pos")).toEqual(Array(4).fill("{rev}"));
    expect(unitsOf(recordings, "vel")).toEqual(Array(4).fill("{rev}/s"));
    const still = recordings.find(({ path }) => path.endsWith("VUW.csv"));
    const vel = still?.understanding?.find(({ column }) => column === "vel");
    expect(vel?.why.map(({ text }) => text)).toContain("so do tables like this one");
  });

  test("a file that is named alone is read as with its folder", async () => {
    for (const name of ["UVW.csv", "VUW.csv", "VWU.csv"])
      writeFileSync(join(folder, name), log(name !== "VUW.csv", 7));
    const { recordings: all } = await readRecordings([folder]);
    const { recordings: alone } = await readRecordings([join(folder, "VUW.csv")]);
    const inFolder = all.find(({ path }) => path.endsWith("VUW.csv"));
    expect(alone[0].understanding).toEqual(inFolder?.understanding);
  });

  test("tables of another hand say nothing", async () => {
    writeFileSync(join(folder, "VUW.csv"), log(false, 3));
    const { recordings: before } = await readRecordings([join(folder, "VUW.csv")]);
    writeFileSync(join(folder, "other.csv"), log(true, 4, { head: "zeit,lage,tempo,soll,i" }));
    writeFileSync(join(folder, "photo.csv"), Buffer.from([0, 1, 2, 255, 254, 0, 0, 13]));
    const { recordings: after } = await readRecordings([join(folder, "VUW.csv")]);
    expect(after[0].understanding).toEqual(before[0].understanding);
  });

  test("a neighbour that is a link is not followed", async () => {
    const away = mkdtempSync(join(tmpdir(), "like-away-"));
    writeFileSync(join(away, "UVW.csv"), log(true, 2));
    writeFileSync(join(folder, "VUW.csv"), log(false, 3));
    const { recordings: before } = await readRecordings([join(folder, "VUW.csv")]);
    symlinkSync(join(away, "UVW.csv"), join(folder, "UVW.csv"));
    const { recordings: after } = await readRecordings([join(folder, "VUW.csv")]);
    rmSync(away, { recursive: true });
    expect(after[0].understanding).toEqual(before[0].understanding);
  });

  test("columns without names are held only against files that are named alike", async () => {
    const bare = (text: string): string => text.slice(text.indexOf("\n") + 1);
    writeFileSync(join(folder, "a bench.csv"), bare(log(false, 3)));
    const { recordings: before } = await readRecordings([join(folder, "a bench.csv")]);
    writeFileSync(join(folder, "pump.csv"), bare(log(true, 5)));
    const { recordings: after } = await readRecordings([join(folder, "a bench.csv")]);
    expect(after.map((r) => r.understanding)).toEqual(before.map((r) => r.understanding));
  });
});

describe("the step of a position", () => {
  const steps = (step: number): Float64Array =>
    Float64Array.from({ length: 400 }, (_, k) => step * Math.floor((k * k) / 400));

  test("a turn has a whole, usual number of counts in the right unit", () => {
    const step = gridOf(steps(1 / 4000));
    expect(step).toBeCloseTo(1 / 4000, 9);
    expect(gridScore(step, "{rev}")).toBeGreaterThan(gridScore(step, "rad"));
    const angle = gridOf(steps((2 * Math.PI) / 4096));
    expect(gridScore(angle, "rad")).toBeGreaterThan(gridScore(angle, "{rev}"));
    expect(gridScore(angle, "rad")).toBeGreaterThan(gridScore(angle, "deg"));
  });

  test("the last digit that was written says nothing of an encoder", () => {
    expect(gridOf(steps(0.001))).toBeUndefined();
    expect(gridOf(steps(0.02))).toBeUndefined();
    expect(gridScore(undefined, "rad")).toBe(0);
  });
});
