import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { columnLegend } from "../../lib/recording/formats/columnLegend.js";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-legend-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// Habits of people who write numbers alone and list their columns above (common practice, no source).
const names = ["time (s)", "shaft speed, mechanical (rad/s)", "motor current (A)"];
test.each<[string, readonly string[]]>([
  ["words", ["a title", "", "# col 1: time (s)", `# col 2: ${names[1]}`, `# col 3: ${names[2]}`]],
  ["numbers", [`% 1 = ${names[0]}`, `% 2 = ${names[1]}`, `% 3 = ${names[2]}`]],
  ["from nought", [`; column 0 - ${names[0]}`, `; column 1 - ${names[1]}`, `; column 2 - ${names[2]}`]],
  ["brackets", [`1) ${names[0]}`, `2) ${names[1]}`, `3) ${names[2]}`]],
  ["letters", [`// C1 ${names[0]}; C2 ${names[1]}; C3 ${names[2]}`]],
  ["in another language", [`# Spalte 1: ${names[0]}`, `# Spalte 2: ${names[1]}`, `# Spalte 3: ${names[2]}`]],
  ["signs", [`# 第1列：${names[0]}`, `# 第2列：${names[1]}`, `# 第3列：${names[2]}`]],
])("a list of columns by number: %s", (_, lines) => {
  expect(columnLegend(lines, 3)?.names).toEqual(names);
});

test.each<[string, readonly string[], number]>([
  ["of another number of columns", ["# col 1: t", "# col 2: i", "# col 3: w"], 2],
  ["with a gap", ["# col 1: t", "# col 3: i"], 2],
  ["of what was done", ["# 1. mount the motor on the bench", "# 2. switch the drive on"], 2],
  ["of values", ["# 1: 0.5", "# 2: 7"], 2],
  ["of moments", ["12:30:01 start of it", "12:30:02 end of it"], 2],
])("none is a list %s", (_, lines, fields) => {
  expect(columnLegend(lines, fields)).toBeUndefined();
});

const { time, speed, current } = runTrial("speed", machines.small, 5);
const rows = Array.from(time, (t, k) => [t.toFixed(4), speed[k].toExponential(4), current[k].toFixed(4)]);
/** A text of over 256 KB is read by other readers than a short one. */
const many = Array.from({ length: 14 }, (_, n) =>
  rows.map(([t, ...rest]) => [(Number(t) + 20 * n).toFixed(4), ...rest]),
).flat();

describe.each([" ", ","])("cells parted by '%s'", (delimiter) => {
  test.each([
    ["short", rows],
    ["long", many],
  ])("a %s table under such a list has its names and units", async (name, own) => {
    const head = names.map((n, k) => `# col ${k + 1}: ${n}`);
    const file = join(folder, `${name}.dat`);
    writeFileSync(file, `# run 4\n${head.join("\n")}\n${own.map((r) => r.join(delimiter)).join("\n")}\n`);
    const { recordings } = await readRecordings([file]);
    expect(recordings[0].understanding?.map(({ column, role, unit }) => [column, role, unit])).toEqual([
      [names[0], "time", "s"],
      [names[1], "speed", "rad/s"],
      [names[2], "current", "A"],
    ]);
    expect(recordings[0].time.length).toBe(own.length);
  });
});

test("a line of names below the list is the heading", async () => {
  const file = join(folder, "heading.csv");
  const list = names.map((n, k) => `# ${k + 1}: ${n}`);
  writeFileSync(file, `${list.join("\n")}\nt_s,w_rad_s,i_A\n${rows.map((r) => r.join(",")).join("\n")}\n`);
  const { recordings } = await readRecordings([file]);
  expect(recordings[0].understanding?.map(({ column }) => column)).toEqual(["t_s", "w_rad_s", "i_A"]);
});
