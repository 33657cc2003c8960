import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { statedInLines } from "../../lib/recording/formats/statedInLines.js";
import { readRecordings } from "../../lib/recording/index.js";

describe("facts in the lines above a table", () => {
  test.each([
    ["# motor 400 W, 4 pole pairs, encoder 2500 ppr", { polePairs: 4 }, {}, { lines: 2500 }],
    ["Polpaarzahl: 5; Drehgeber 2048 Striche", { polePairs: 5 }, {}, { lines: 2048 }],
    ["poles;8", { polePairs: 4 }, {}, {}],
    // Four edges of a line are four counts.
    ["encoder 4096 counts/rev", {}, {}, { lines: 1024 }],
    ["48 V supply, current limit 10 A", {}, { busVoltage: 48, currentLimit: 10 }, {}],
    ["Nennstrom [A];3,5", { ratedCurrent: 3.5 }, {}, {}],
  ])("%s", (line, machine, drive, encoder) => {
    const found = statedInLines([line]);
    expect([found.machine, found.drive, found.encoder]).toEqual([machine, drive, encoder]);
  });

  test("a rated current in r.m.s. is an amplitude of sqrt(2) times it, a speed is taken in rad/s", () => {
    const { machine, said } = statedInLines(["rated speed 3000 rpm   rated current 4.2 A rms"]);
    expect(machine.ratedCurrent).toBeCloseTo(5.94, 2);
    expect(machine.ratedSpeed).toBeCloseTo(314.16, 2);
    expect(said).toEqual(["rated current 4.2 A rms", "rated speed 3000 rev/min"]);
  });

  test.each([
    ["a current that is none of these", "current 2.5 A"],
    ["a rated value without a unit", "rated current 4.2"],
    ["an impossible number", "pole pairs: 0"],
    ["a date and a bus without volts", "2025-11-03 14:03:22 bus 1"],
    ["half a pole pair", "7 poles"],
  ])("%s says nothing", (_, line) => {
    expect(statedInLines([line])).toEqual({ machine: {}, drive: {}, encoder: {}, said: [] });
  });

  test("what two lines state differently is left out", () => {
    expect(statedInLines(["pole pairs: 4", "pole pairs: 7"]).machine).toEqual({});
  });

  test("a line of any length is looked at in a moment", () => {
    expect(statedInLines([`rated ${" ".repeat(1e6)}`, "bus".repeat(1e5)]).said).toEqual([]);
  });
});

describe("a log with its facts above the table", () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-facts-"));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  test("per mille of what is rated and counts are in SI, and it is said what was taken", async () => {
    const rows = Array.from({ length: 400 }, (_, k) => {
      const w = 100 * (1 - Math.exp(-k / 80));
      return `${k};${k < 20 ? 0 : 500};${Math.round((w / 314.159) * 1000)};${Math.round((w * k * 4e3) / 6.283e3)}`;
    });
    const file = join(folder, "trace.csv");
    writeFileSync(
      file,
      `;Drive trace   cycle 2 ms   rated speed 3000 rpm   encoder 1000 lines\nSample;N_CMD[0.1%];N_ACT[0.1%];POS[inc]\n${rows.join("\n")}\n`,
    );
    const { recordings } = await readRecordings([file]);
    const [log] = recordings;
    expect(log.time[399] - log.time[0]).toBeCloseTo(0.798, 6);
    expect(log.channels.speed?.data[399]).toBeCloseTo(99.3, 0);
    expect(log.channels.position?.data[399]).toBeCloseTo((99.3 * 399) / 1e3, 0);
    expect(log.findings.find(({ code }) => code === "facts-in-file")?.message).toBe(
      "the file itself states encoder lines 1000, rated speed 3000 rev/min",
    );
  });
});
