import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { writeBenches } from "./contradictionBenches.js";
import { contradictionsIn } from "./contradictions.js";
import { writeDamagedSet } from "./damagedSet.js";
import { column, mapped, type Rows } from "./shippedDamages.js";

let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-contradictions-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

test("no answer contradicts another on the shipped set: verdicts, constants, loop, report, study", async () => {
  const { found, compared } = await contradictionsIn(["datasets/parcel-sorter"], join(home, "demo"));
  expect(found).toEqual([]);
  expect(compared).toBeGreaterThan(100);
}, 240_000);

test("nor where the logs of the motor show together another scale than each by itself", async () => {
  const quarter = (rows: Rows): Rows => mapped(rows, [column.speed], (v) => v / 4);
  const folder = writeDamagedSet(join(home, "quarter"), ["uvw", "vwu", "vuw"], quarter);
  const { found, compared } = await contradictionsIn([folder], join(home, "of-quarter"));
  expect(found).toEqual([]);
  expect(compared).toBeGreaterThan(100);
}, 240_000);

test("nor on synthetic benches, each a motor of its own", async () => {
  const folder = join(home, "benches");
  await writeBenches(folder, 910_000, 8);
  const { found, compared } = await contradictionsIn([folder], join(home, "of-benches"));
  expect(found).toEqual([]);
  expect(compared).toBeGreaterThan(100);
}, 240_000);
