import { describe, expect, test } from "vitest";

import { splitHeading, unitOfText } from "../../lib/recording/columns/unitText.js";
import { readRecordings } from "../../lib/recording/index.js";

/** What one logged unit is in the unit of the code. */
const factor = (text: string): number => unitOfText(text)?.scale?.factor ?? 1;

describe("parts and multiples of units as people write them", () => {
  test.each([
    ["cdeg", "deg", 1e-2],
    ["mdeg", "deg", 1e-3],
    ["millidegrees/s", "deg/s", 1e-3],
    ["decidegrees", "deg", 1e-1],
    ["millirad", "rad", 1e-3],
    ["mrpm", "{rev}/min", 1e-3],
    ["Umdr./min", "{rev}/min", 1],
    ["U·min⁻¹", "{rev}/min", 1],
    ["N·mm", "N.m", 1e-3],
    ["mNcm", "N.m", 1e-5],
    // Standard gravity 9.80665 m/s2 (ISO 80000-4): one kgf·cm is 0.0980665 N·m.
    ["kgf·m", "N.m", 9.80665],
    ["kgcm", "N.m", 0.0980665],
    ["gf·cm", "N.m", 9.80665e-5],
  ])("%s", (text, code, size) => {
    expect(unitOfText(text)?.code).toBe(code);
    expect(factor(text)).toBeCloseTo(size, 12);
  });

  test.each(["gm", "kgm", "MNmm", "modeg", "mode", "kg", "speed", "um", "cm"])(
    "%s is no angle, turn or torque",
    (text) => expect(["deg", "rad", "N.m", "{rev}/min"]).not.toContain(unitOfText(text)?.code),
  );
});

test("a current in effective amperes is told, once", async () => {
  const { mkdtempSync, rmSync, writeFileSync } = await import("node:fs");
  const { tmpdir } = await import("node:os");
  const { join } = await import("node:path");
  const folder = mkdtempSync(join(tmpdir(), "effective-"));
  const rows = Array.from({ length: 40 }, (_, i) => `${i / 100},${i < 10 ? 0 : 1},${i < 10 ? 0 : i - 10}`);
  writeFileSync(join(folder, "a.csv"), `time [s],iq [Arms],speed [rpm]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([join(folder, "a.csv")]);
  const told = recordings[0].findings.filter(({ code }) => code === "effective-value");
  expect(told).toHaveLength(1);
  expect(told[0].meaning).toContain("1.41421 A");
  rmSync(folder, { recursive: true });
});

describe("a heading that ends in a rate keeps the whole of it", () => {
  test.each([
    ["omega rad/s", "omega", "rad/s"],
    ["rad/s", "", "rad/s"],
    ["Drehzahl U/min", "Drehzahl", "U/min"],
    ["i/A", "i", "A"],
    ["pos/counts", "pos", "counts"],
  ])("%s", (heading, name, unit) =>
    expect(splitHeading(heading)).toMatchObject({ words: name, unit: { spelling: unit }, plain: true }),
  );
});

describe("few rows without a clock", () => {
  const rows = (n: number, held: number): string =>
    Array.from({ length: n }, (_, i) => {
      const asked = Math.floor(i / held) % 2 === 0 ? 0 : 300;
      const since = i % held;
      return `${asked},${(asked === 0 ? 300 * 0.5 ** since * (i < held ? 0 : 1) : 300 * (1 - 0.5 ** since)).toFixed(1)}`;
    }).join("\n");

  test("are judged by their order where the command rests, and refused where it changes with every row", async () => {
    const { mkdtempSync, rmSync, writeFileSync } = await import("node:fs");
    const { tmpdir } = await import("node:os");
    const { join } = await import("node:path");
    const folder = mkdtempSync(join(tmpdir(), "few-"));
    const read = async (name: string, body: string) => {
      writeFileSync(join(folder, name), `speed_cmd [rpm],speed [rpm]\n${body}\n`);
      return readRecordings([join(folder, name)], { withoutClock: false });
    };
    const held = await read("held.csv", rows(52, 26));
    expect(held.recordings[0].unclocked).toBeDefined();
    const points = await read("points.csv", rows(52, 2));
    expect(points.recordings).toEqual([]);
    expect(points.problems[0].code).toBe("no-time");
    rmSync(folder, { recursive: true });
  });
});
