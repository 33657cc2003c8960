import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { codeTables } from "./codeTables.js";
import { headingTables, moreHeadingTables } from "./headingTables.js";
import { type ColumnScore, figures, scoreFile, summary } from "./score.js";
import { writeTable } from "./writeTable.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-headings-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function headings(
  bare?: "nameless" | "channels",
  tables = [...headingTables, ...moreHeadingTables],
): Promise<Readonly<Record<string, number>>> {
  const every: ColumnScore[] = [];
  for (const [k, table] of tables.entries()) {
    const { text, truth } = writeTable(table, 100 + k, bare);
    const file = join(folder, table.file ?? `table ${k} ${bare ?? ""}.csv`);
    writeFileSync(file, text);
    every.push(...(await scoreFile(file, truth)).columns);
  }
  console.log(summary(every));
  return figures(every);
}

// Before anything was changed for them: the first set of tables 95.9 % of roles right and 1.3 % wrong and sure, the
// second 95.5 % and 1.5 %.
test("headings in many habits and languages are understood", async () => {
  const f = await headings();
  expect(f.role).toBeGreaterThanOrEqual(0.98);
  expect(f.both).toBeGreaterThanOrEqual(0.97);
  expect(f.sureAndWrong).toBeLessThanOrEqual(0.004);
});

// At first sight 94.4 % of roles right and 0.4 % wrong and sure.
test("headings that public programs write are understood", async () => {
  const f = await headings(undefined, [...codeTables]);
  expect(f.role).toBeGreaterThanOrEqual(0.955);
  expect(f.sureAndWrong).toBeLessThanOrEqual(0.0075);
});

test.each(["nameless", "channels"] as const)(
  "without headings (%s) nothing wrong is said surely",
  async (bare) => {
    const f = await headings(bare);
    expect(f.role).toBeGreaterThanOrEqual(0.57);
    expect(f.sureAndWrong).toBeLessThanOrEqual(0.01);
    expect(f.sureRight).toBeGreaterThanOrEqual(0.98);
  },
);
