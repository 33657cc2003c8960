import { cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { exitStatus } from "../../lib/cli/io.js";
import { run } from "../../lib/cli/triage.js";
import type { Triage } from "../../lib/report/triage.js";

const root = join(import.meta.dirname, "../..");
let desk: string;

/** Four customers: a whole set deep in folders, one order under the name everybody uses, a note, and nothing at all. */
beforeAll(() => {
  desk = mkdtempSync(join(tmpdir(), "shaftwise-desk-"));
  cpSync(join(root, "datasets/parcel-sorter"), join(desk, "north/2026/bench"), { recursive: true });
  for (const name of ["left", "right"]) {
    mkdirSync(join(desk, "east", name), { recursive: true });
    cpSync(join(root, "datasets/parcel-sorter/order-vwu.csv"), join(desk, "east", name, "log.csv"));
  }
  mkdirSync(join(desk, "south"));
  writeFileSync(join(desk, "south/readme.txt"), "The motor hums. Please call back.\n");
});
afterAll(() => rmSync(desk, { recursive: true, force: true }));

async function said(...args: string[]): Promise<{ text: string; status: number }> {
  let text = "";
  const io = { out: (part: string) => (text += part), err: () => {}, color: false, columns: 80, live: false };
  return { status: await run(args, io as never), text };
}

test("a row for each customer and motor, the dangerous first, nothing skipped in silence", async () => {
  const { text, status } = await said(desk, "--json");
  const { rows, notRead } = JSON.parse(text) as Triage;
  // Worst first; of the same verdict those without a usable order.
  expect(rows.map(({ customer, motor }) => `${customer}/${motor}`)).toEqual([
    "east/left",
    "east/right",
    "north/roller-07",
    "south/",
  ]);
  expect(rows[2]).toMatchObject({ worst: "runaway", recordings: 6 });
  expect(rows[2].finding).toContain("Keep UVW");
  expect(rows[2].caution).toBeUndefined();
  expect(rows[0].files).toEqual(["left/log.csv"]);
  for (const row of rows) expect(row.ask.length).toBeGreaterThan(10);
  for (const row of rows.slice(0, 2)) {
    // Its speed reference, blank under torque control, is read without a descriptor too.
    expect(row.worst).toBe("runaway");
    expect(row.caution).toContain("Do not close a speed or position loop");
  }
  expect(rows[3]).toMatchObject({ finding: "Nothing could be read.", recordings: 0, files: [] });
  expect(notRead.some(({ file }) => file?.endsWith("readme.txt"))).toBe(true);
  expect(status).toBe(exitStatus.partly);
});

test("as text it fits 80 columns and says what customers have in common; as a table it is RFC 4180", async () => {
  const { text } = await said(desk);
  expect(Math.max(...text.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
  expect(text).not.toMatch(/NaN|undefined\b(?!$)|\{rev\}/);
  const table = await said(desk, "--csv");
  const lines = table.text.split("\r\n").filter((line) => line !== "");
  expect(lines[0].startsWith("customer,motor,recordings")).toBe(true);
  expect(lines).toHaveLength(5);
  for (const line of lines.slice(1)) expect(line.match(/"(?:[^"]|"")*"/g)).toHaveLength(14);
});
