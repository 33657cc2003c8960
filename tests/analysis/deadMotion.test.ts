import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { diagnoseFiles } from "../../lib/analysis/analyseFiles.js";
import { writeDamagedSet } from "./damagedSet.js";
import { column, mapped, type Rows } from "./shippedDamages.js";

let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-dead-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

/** The position stands at zero, and the speed column is empty. */
const dead = (rows: Rows): Rows =>
  mapped(rows, [column.position], () => 0).map((row) => row.with(column.speed, ""));

test("a position that stood while the current of one log tells of a turning shaft calls no other order blocked", async () => {
  const both = await diagnoseFiles([writeDamagedSet(join(home, "both"), ["uvw", "vwu"], dead)]);
  const trials = both.recordings.flatMap(({ trials }) => trials.filter(({ kind }) => kind === "torque"));
  expect(trials.map(({ verdict }) => verdict)).toEqual(["undetermined", "undetermined"]);
  expect(trials[1].text).toContain("in another log of this motor");
});
