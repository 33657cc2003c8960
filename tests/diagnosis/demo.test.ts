import { resolve } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { explain } from "../../lib/cli/explain.js";
import { type Diagnosis, diagnose } from "../../lib/diagnosis/index.js";
import { cutTrials, readRecordings } from "../../lib/recording/index.js";

const folder = resolve(import.meta.dirname, "../../datasets/parcel-sorter");
let diagnosis: Diagnosis;

beforeAll(async () => {
  const { recordings } = await readRecordings([folder]);
  diagnosis = diagnose(
    recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
    { wanted: "clockwise" },
  );
});

const trialsOf = (ordering: string) =>
  diagnosis.recordings.filter((r) => r.ordering === ordering).flatMap((r) => r.trials);

test("one order is usable, one turns against its command and runs away, four are blocked", () => {
  expect(Object.fromEntries(diagnosis.orderings.map((o) => [o.ordering, o.verdict]))).toEqual({
    UVW: "tracking",
    VWU: "runaway",
    WUV: "blocked",
    VUW: "blocked",
    UWV: "blocked",
    WVU: "blocked",
  });
  expect(diagnosis.orderings.filter((o) => o.usable).map((o) => o.ordering)).toEqual(["UVW"]);
});

test("the tempting order is observed as turning, says against, and its forecast held", () => {
  const [torque, speed] = trialsOf("VWU");
  expect([torque.verdict, torque.sense]).toEqual(["reversed", "against"]);
  expect(torque.text).toMatch(/AGAINST/);
  expect(torque.forecast?.verdict).toBe("runaway");
  expect(torque.forecast?.held).toBe(true);
  expect(speed.verdict).toBe("runaway");
  // The truth is g = cos(120 deg) = -0.5 (theory, section 1).
  expect(torque.torqueFactor?.low).toBeLessThan(-0.5);
  expect(torque.torqueFactor?.high).toBeGreaterThanOrEqual(-0.5);
  expect(torque.torqueFactor?.high).toBeLessThan(0);
});

test("the odd orders are blocked because two leads are exchanged, the even one for another reason that the log leaves open", () => {
  for (const ordering of ["VUW", "UWV", "WVU"])
    expect(trialsOf(ordering)[0].causes[0].cause).toBe("phases-swapped");
  const [torque] = trialsOf("WUV");
  expect(torque.causes[0].cause).not.toBe("phases-swapped");
  expect(torque.inseparable).toEqual(expect.arrayContaining(["jam", "disturbed-offset"]));
  expect(diagnosis.nextTest?.test).toMatch(/by hand/);
});

test("the odds of every trial add up to one", () => {
  for (const { causes } of diagnosis.recordings.flatMap((r) => r.trials))
    expect(causes.reduce((sum, { probability }) => sum + probability, 0)).toBeCloseTo(1, 9);
});

test("the advice names the order to keep, the one to avoid and the sense by IEC 60034-8, and calls none safe", () => {
  const text = diagnosis.advice.join("\n");
  expect(text).toMatch(/Keep UVW/);
  expect(text).toMatch(/Not VWU/);
  expect(text).toMatch(/IEC 60034-8.*clockwise/);
  expect(text).not.toMatch(/\bsafe\b/i);
});

test("the explanation of a recording keeps to 80 columns", () => {
  const text = explain(diagnosis, "VWU");
  expect(text).toMatch(/RUN AWAY/);
  for (const line of text?.split("\n") ?? []) expect(line.length).toBeLessThanOrEqual(80);
  expect(explain(diagnosis, "no such recording")).toBeUndefined();
});
