import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { inspect } from "node:util";
import { expect, test } from "vitest";
import "../../lib/index.js";
import { openRuns } from "../../lib/toolkit/index.js";

const runs = await openRuns(join(import.meta.dirname, "../../datasets/parcel-sorter"));

test("runs are opened, found by their order, and cut into trials whose signals come in any unit", () => {
  expect(runs.list).toHaveLength(6);
  expect(runs.problems).toEqual([]);
  const trial = runs.order("UVW").trial("speed");
  const si = trial?.speed() as Float64Array;
  const rpm = trial?.speed("{rev}/min") as Float64Array;
  expect(rpm[500]).toBeCloseTo((si[500] * 60) / (2 * Math.PI), 9);
  // The trial asks for 120 rad/s (datasets/parcel-sorter/make.ts).
  expect(Math.max(...rpm)).toBeGreaterThan(1146);
  expect(() => runs.order("XYZ" as never)).toThrow("no run has the order XYZ; the orders are: UVW");
});

test("the diagnosis is made once and is the one that the command prints", () => {
  const judged = runs.diagnose();
  expect(runs.diagnose()).toBe(judged);
  expect(judged.usable).toEqual(["UVW"]);
  expect(judged.answer).toContain("Keep UVW");
  expect(judged.order("VUW").causes[0].cause).toBe("phases-swapped");
  expect(judged.order("VWU").trials.map(({ verdict }) => verdict)).toEqual(["reversed", "runaway"]);
  expect(judged.table()).toHaveLength(judged.document.recordings.flatMap(({ trials }) => trials).length);
});

test("constants and margins are kept, and a loop's charts carry its own margins", () => {
  const run = runs.order("UVW");
  expect(run.constants()).toBe(run.constants());
  const kt = run.constants().electrical.torqueConstant;
  // The roller's true torque constant: 1.5 * 4 * 0.0155.
  expect(kt?.low).toBeLessThanOrEqual(0.093);
  expect(kt?.high).toBeGreaterThanOrEqual(0.093);
  const loop = run.speedLoop({ sampleTime: 5e-4 });
  expect(loop.report?.stable).toBe(true);
  expect(loop.curve?.phaseMargin).toBeCloseTo(loop.margins?.phaseMargin?.value as number, 6);
  expect(loop.bode()?.description).toContain("phase margin");
  expect(loop.nyquist()?.description).toContain("-1");
});

test("each shows itself as text in a terminal, never as a dump", () => {
  for (const [shown, words] of [
    [runs, "6 runs"],
    [runs.order("VWU"), "order VWU"],
    [runs.diagnose(), "Keep UVW"],
    [runs.order("UVW").speedLoop({ sampleTime: 5e-4 }), "phase margin"],
  ] as const) {
    const text = inspect(shown);
    expect(text).toContain(words);
    expect(text).not.toMatch(/Float64Array|\[Object\]|NaN|undefined/);
  }
});

test("constants and step responses have tables and charts, and nothing of that is part of their data", () => {
  const run = runs.order("UVW");
  const constants = run.constants();
  expect(constants.table()).toEqual(run.constantsTable());
  expect(Object.keys(constants)).not.toContain("table");
  expect(inspect(constants)).toContain("interval, 95 %");
  const steps = run.stepResponses();
  expect(run.stepResponses()).toBe(steps);
  expect(inspect(steps)).toMatch(/step at \(s\) +trial +model/);
  const step = steps.find(({ fit }) => fit.fit !== undefined);
  expect(inspect(step)).toMatch(/^Step at \d+\.\d\d s: /);
  expect(step?.chart().description).toContain("with the fitted response");
  // The table's numbers are the fit's own.
  const [first] = step?.table() ?? [];
  expect(String(first.value)).toMatch(/\d/);
});

test("errors are one line that says what to do", async () => {
  const [run] = (await openRuns(join(import.meta.dirname, "../../datasets/field/gearmotor-432-counts"))).list;
  const loop = run.speedLoop();
  expect(loop.curve).toBeUndefined();
  for (const picture of [() => loop.bode(), () => loop.nyquist()]) {
    expect(picture).toThrow(/^no picture of the open loop: .*speedLoop\(\{ \.\.\. \}\)$/);
  }
  await expect(run.chart().save("/tmp/chart.bmp")).rejects.toThrow(
    /^\/tmp\/chart\.bmp: .*\.png, \.svg, \.html or \.json/,
  );
});

test("a chart is saved as picture, page and specification", async () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-save-"));
  try {
    const chart = runs.order("VWU").chart();
    for (const name of ["a.png", "a.svg", "a.html", "a.json"]) await chart.save(join(folder, name));
    expect(readFileSync(join(folder, "a.png")).subarray(1, 4).toString()).toBe("PNG");
    expect(readFileSync(join(folder, "a.svg"), "utf8")).toMatch(/^<svg /);
    expect(readFileSync(join(folder, "a.html"), "utf8")).toContain('class="live"');
    expect(JSON.parse(readFileSync(join(folder, "a.json"), "utf8"))).toEqual(
      JSON.parse(JSON.stringify(chart)),
    );
    writeFileSync(join(folder, "theirs.txt"), "theirs");
    symlinkSync(join(folder, "theirs.txt"), join(folder, "b.json"));
    await expect(chart.save(join(folder, "b.json"))).rejects.toThrow(/b\.json is a link, and links are not/);
    mkdirSync(join(folder, "c.svg"));
    await expect(chart.save(join(folder, "c.svg"))).rejects.toThrow(/c\.svg is no regular file/);
    expect(readFileSync(join(folder, "theirs.txt"), "utf8")).toBe("theirs");
    // Saved again it takes the place of the first, and leaves no draft.
    await chart.save(join(folder, "a.json"));
    expect(readdirSync(folder).sort()).toEqual([
      "a.html",
      "a.json",
      "a.png",
      "a.svg",
      "b.json",
      "c.svg",
      "theirs.txt",
    ]);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("a report is written where it is asked for", async () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-toolkit-"));
  try {
    const report = await runs.report(join(folder, "out"), { customer: "Hillside Sorting" });
    expect(report.html).toContain("Hillside Sorting");
    expect(readdirSync(join(folder, "out")).sort()).toEqual([
      ".shaftwise",
      "letter.md",
      "letter.txt",
      "report.html",
      "report.json",
      "report.md",
    ]);
  } finally {
    rmSync(folder, { recursive: true });
  }
});
