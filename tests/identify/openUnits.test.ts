import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";
import { run as fit } from "../../lib/cli/fit.js";
import { isPossible } from "../../lib/identify/possible.js";
import { unitText } from "../../lib/units/forPeople.js";
import { capture } from "../house/capture.js";
import { field } from "./fieldLogs.js";

// Figures of logs whose headings say no unit. Fitted with numpy and SciPy from the same files, without this library, in
// the numbers of the file; they stand in the README of the recordings.

const analysed = async (file: string, reading = {}) => {
  const { recordings } = await analyseFiles([join(field as string, file)], {
    parts: { constants: true, steps: true },
    reading,
  });
  return recordings[0];
};

describe.skipIf(field === undefined)("what figures rest on", () => {
  const step = "teaching-kit-motor-a/DCmotor_step_open_exp.csv";

  test("an open unit: the figure in the numbers of the file, and never a speed that no machine has", async () => {
    const { assumptions, constants } = await analysed(step);
    expect(assumptions.map(({ column, of }) => `${column} ${of}`)).toContain("y unit");
    const all = [...(constants?.routes ?? []), ...(constants?.unscaled ?? [])];
    const gain = all.find(({ quantity }) => quantity === "speedPerDuty" || quantity === "speedPerVolt")!;
    const own = gain.estimate.own ?? gain.estimate;
    expect(own.unit).toBe("{y}/{u}");
    // 1214 ± 6 deg/s per V, fitted.
    expect(own.low).toBeLessThanOrEqual(1214 + 6);
    expect(own.high).toBeGreaterThanOrEqual(1214 - 6);
    expect(constants?.electrical.speedPerDuty?.low ?? 0).toBeLessThan(1.1e5);
    // Seconds are sure: no figure of theirs has another scale.
    expect(constants?.mechanical.speedTimeConstant?.own).toBeUndefined();
  });

  test("stated units leave nothing open", async () => {
    const { assumptions, constants } = await analysed(step, {
      map: { voltageCommand: "u" },
      unit: { u: "V", y: "deg/s" },
    });
    expect(assumptions.filter(({ role, of }) => of === "unit" && role !== "time")).toEqual([]);
    expect(constants?.electrical.speedPerVolt).toBeDefined();
    expect(constants?.electrical.speedPerVolt?.own).toBeUndefined();
    expect(constants?.unscaled).toBeUndefined();
  });

  test("fit says it beside the figures, with the options", async () => {
    const { out } = await capture(fit, [join(field as string, step)]);
    expect(out).toMatch(/^rests on: .*"u"/m);
    expect(out.replaceAll(/\s+/g, " ")).toContain("--unit y=<unit>");
    expect(out).toContain("y/u");
    // The path of the file is printed whole, however long it is.
    const lines = out.split("\n").filter((line) => !line.includes(step));
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
  });
});

test("a speed is possible up to a million turns a minute", () => {
  expect(isPossible("speedPerDuty", { low: 120_074, high: 122_682 })).toBe(false);
  expect(isPossible("speedPerDuty", { low: 90_000, high: 122_682 })).toBe(true);
  expect(isPossible("speedTimeConstant", { low: 1e-9, high: 1e9 })).toBe(true);
});

test("headings in units keep their digits and points", () => {
  expect(unitText("{vel2}/{u.k-1}")).toBe('vel2/"u.k-1"');
  expect(unitText("{count}/s")).toBe("counts/s");
  expect(unitText("A.s2/rad")).toBe("A·s²/rad");
});
