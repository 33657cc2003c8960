import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import type { Diagnosis } from "../../lib/diagnosis/types.js";
import { decideScales } from "../../lib/run/scaleDecision.js";
import type { ScaleEvidence } from "../../lib/run/scaleEvidence.js";
import { openRuns } from "../../lib/toolkit/index.js";
import { capture } from "../house/capture.js";
import { writeDamagedSet } from "./damagedSet.js";
import { column, type Damage, mapped } from "./shippedDamages.js";

let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-scales-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

const orders = ["uvw", "vwu", "vuw"];
const setOf = (name: string, change: Damage["change"], described = true): string =>
  writeDamagedSet(join(home, name), orders, change, described);

async function diagnosed(folder: string): Promise<{ status: number; told: Diagnosis }> {
  const { status, out } = await capture(diagnose, [folder, "--json"]);
  return { status, told: JSON.parse(out) };
}

const corrections = ({ recordings }: Diagnosis) =>
  Object.fromEntries(
    recordings.map(({ ordering, attention = [] }) => [
      String(ordering),
      attention.map(({ code, column, value }) => `${code} ${column} ${Number(value?.toPrecision(4))}`),
    ]),
  );

test("a speed a quarter too small is put right alike in every log of the motor, whatever each shows by itself", async () => {
  const folder = setOf("quarter", (rows) => mapped(rows, [column.speed], (v) => v / 4));
  const { status, told } = await diagnosed(folder);
  expect(status).toBe(3);
  const alike = ["unit-corrected speed [rev/min] 4"];
  expect(corrections(told)).toEqual({ UVW: alike, VWU: alike, VUW: alike });
  expect(told.recordings.flatMap(({ trials }) => trials.map(({ verdict }) => verdict))).toContain("runaway");
  const runs = await openRuns(folder);
  expect(runs.order("VUW").checks.some(({ code }) => code === "unit-corrected")).toBe(true);
});

test("a blocked log does not tell of a thousandfold travel where the moving logs of its motor show the factor", async () => {
  const folder = setOf("thousand", (rows) => mapped(rows, [column.position], (v) => v * 1000));
  const { told } = await diagnosed(folder);
  const blocked = told.recordings.find(({ ordering }) => ordering === "VUW");
  expect(corrections(told).VUW).toEqual(["unit-corrected position [counts] 0.001"]);
  expect(blocked?.trials[0].text).toMatch(/1[89](\.\d+)? deg/);
});

test("a reference that one log misses by a factor leaves the scale of the others open too", async () => {
  const folder = setOf("reference", (rows) => mapped(rows, [column.speed], (v) => v / 4), false);
  const { status, told } = await diagnosed(folder);
  expect(status).toBe(3);
  const said = corrections(told);
  expect(said.UVW).toEqual(["speed-factor speed [rev/min] 0.2498"]);
  expect(said.VWU).toEqual(said.UVW);
});

/** Evidence of a log whose speed and position differ by a factor. */
function evidence(ratio: number | undefined, part?: number, says = 0): ScaleEvidence {
  const mistake = { factor: 4, mistake: "quadrature", text: "", says, follows: 0 } as const;
  const differs = ratio !== undefined && ratio !== 1;
  return {
    rig: "",
    ...(ratio === undefined ? {} : { compared: { ratio, differs, mistakes: differs ? [mistake] : [] } }),
    answered: { speed: { sameUnit: true, ...(part === undefined ? {} : { part }) } },
    top: 100,
  };
}

describe("the logs of one rig, decided together", () => {
  test("one whose reference goes with the position decides for all, also for one that stood still", () => {
    const found = decideScales([evidence(4, 4), evidence(4), evidence(undefined)]);
    for (const one of found) expect(one).toMatchObject({ kind: "wrong", role: "speed", factor: 1 / 4 });
    expect(found[2]).toMatchObject({ fromSet: true, command: false });
  });
  test("where none tells, all are open alike", () => {
    expect(decideScales([evidence(4), evidence(4), evidence(undefined)])).toEqual([
      { kind: "open", ratio: 4 },
      { kind: "open", ratio: 4 },
      { kind: "open", ratio: 4, fromSet: true },
    ]);
  });
  test("what the mistake says counts once, however many logs show it", () => {
    const logs = Array.from({ length: 6 }, () => evidence(4, undefined, -1.2));
    for (const one of decideScales(logs)) expect(one.kind).toBe("open");
  });
  test("votes of references that contradict each other weigh each other up", () => {
    const [one] = decideScales([evidence(4, 4), evidence(4, 1, -1), evidence(4, 1, -1)]);
    expect(one.kind).toBe("open");
  });
  test("a log in which the two agree keeps the still ones out of it", () => {
    const [, sound, still] = decideScales([evidence(4, 4), evidence(1), evidence(undefined)]);
    expect(sound).toEqual({ kind: "none" });
    expect(still).toEqual({ kind: "none" });
  });
  test("a log by itself is decided as ever", () => {
    expect(decideScales([evidence(4, 4)])).toMatchObject([{ kind: "wrong", role: "speed", command: false }]);
    expect(decideScales([evidence(undefined)])).toEqual([{ kind: "none" }]);
  });
});
