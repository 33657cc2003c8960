import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { attempt } from "./attempt.js";
import { type SeedFile, seedFiles } from "./seeds.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-hostile-"));
let seeds: readonly SeedFile[];
beforeAll(async () => {
  seeds = await seedFiles();
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// A short run of `npx tsx tests/hostile/run.ts`, whose 20,000 files and findings are in docs/hostile-input.md.
test("damaged files of every format are judged or refused in one clear line, never a crash", async () => {
  const failed: unknown[] = [];
  const counts = { judged: 0, refused: 0, gaveUp: 0, failed: 0 };
  for (let number = 1; number <= 100; number += 1) {
    const result = await attempt(seeds, number, folder);
    counts[result.outcome] += 1;
    if (result.outcome === "failed") failed.push(result);
  }
  expect(failed).toEqual([]);
  expect(counts.judged).toBeGreaterThan(20);
  expect(counts.refused).toBeGreaterThan(5);
}, 300_000);

test("damaged archives, workbooks and array files too", async () => {
  const failed: unknown[] = [];
  for (let number = 100_001; number <= 100_060; number += 1) {
    const result = await attempt(seeds, number, folder);
    if (result.outcome === "failed") failed.push(result);
  }
  expect(failed).toEqual([]);
}, 300_000);

test.each([
  [10498, "the Arrow reader's stumbling was shown as it is"],
  [11249, "a field of many digits took minutes"],
  [13602, "the odds of the causes were no numbers"],
  [700044, "the eigenvalues of numbers near the end of their range ran out of their array"],
  [705357, "gains in use were no numbers, which the loop refuses"],
  [2000171, "the library went round in a heap of an HDF5 file that ended nowhere"],
  [2002764, "three columns that are never known together made the odds of columns no numbers"],
  [2004694, "a refusal named ninety columns one by one"],
  [2001171, "squares beyond the range of numbers made the odds of columns none"],
])("file %i, on which a long run once failed: %s", async (number) => {
  expect((await attempt(seeds, number, folder)).failure).toBeUndefined();
});

test.each([
  [810453, "the stumbling of the library for workbooks was shown as it is"],
  [810620, "the same, in an older workbook"],
])("file %i of known structure, on which a long run once failed: %s", async (number) => {
  expect((await attempt(seeds, number, folder, "structure")).failure).toBeUndefined();
});
