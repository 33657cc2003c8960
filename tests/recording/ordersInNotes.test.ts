import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

let folder = "";
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "notes-"));
});
afterEach(() => rmSync(folder, { recursive: true }));

const rows = Array.from(
  { length: 40 },
  (_, k) => `${(k * 0.01).toFixed(2)},${k < 8 ? 0 : 1},${k < 8 ? 0 : 20 * k}`,
);
const write = (name: string): void =>
  writeFileSync(join(folder, name), `time [s],iq [A],speed [rpm]\n${rows.join("\n")}\n`);
const orders = async (): Promise<(string | undefined)[]> => {
  const { recordings } = await readRecordings([folder]);
  return recordings.map(({ ordering }) => ordering);
};

test("notes beside the files give them their lead orders, and each recording says so", async () => {
  for (const n of [1, 2, 3]) write(`run_0${n}.csv`);
  writeFileSync(
    join(folder, "notes.txt"),
    "Bench 4\n\nrun 1: leads VWU\nRun 2 - U-V-W, got warm\nrun_03.csv WVU\n",
  );
  expect(await orders()).toEqual(["VWU", "UVW", "WVU"]);
  const { recordings } = await readRecordings([1, 2, 3].map((n) => join(folder, `run_0${n}.csv`)));
  expect(recordings.map((r) => r.findings.find((f) => f.code === "ordering-from-notes")?.message)).toEqual(
    ["VWU", "UVW", "WVU"].map((o) => `the lead order ${o} is taken from "notes.txt" beside it`),
  );
});

test("an index table in other letters", async () => {
  for (const n of ["a", "b", "c"]) write(`motor-${n}.csv`);
  writeFileSync(join(folder, "index.csv"), "file;leads\nmotor-a.csv;ABC\nmotor-b.csv;BCA\nmotor-c.csv;ACB\n");
  expect(await orders()).toEqual(["UVW", "VWU", "UWV"]);
});

test("a line of several files or orders, a file said twice and a single example give nothing", async () => {
  for (const n of [1, 2, 10]) write(`t${n}.csv`);
  const notes = join(folder, "readme.md");
  writeFileSync(notes, "t1 and t2: UVW\nt1 UVW or VWU\nt10: WUV\n");
  expect(await orders()).toEqual([undefined, undefined, undefined]);
  writeFileSync(notes, "t1 UVW\nt2 VWU\nt1 WUV\nt10 WVU\n");
  expect(await orders()).toEqual([undefined, "VWU", "WVU"]);
});
