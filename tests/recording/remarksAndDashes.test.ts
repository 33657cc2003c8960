import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { titleOf } from "../../lib/recording/formats/blocks.js";
import { pairsOf } from "../../lib/recording/formats/labelledLines.js";
import { readPreamble } from "../../lib/recording/formats/preamble.js";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-dashes-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test("dashes in place of a value leave its label and its unit to it", async () => {
  expect(pairsOf("speed=--- rpm current=1.5 A").pairs).toEqual([
    { key: "speed", value: "---", unit: "rpm" },
    { key: "current", value: "1.5", unit: "A" },
  ]);
  const { time, speed, current } = runTrial("speed", machines.small, 3);
  const lines = Array.from(time, (t, k) => {
    const w = k % 40 === 7 ? "---" : speed[k].toFixed(2);
    return `time=${t.toFixed(3)} speed=${w} rad/s current=${current[k].toFixed(3)} A`;
  });
  const file = join(folder, "dashes.log");
  writeFileSync(file, `${lines.join("\n")}\n`);
  const { recordings } = await readRecordings([file]);
  expect(recordings[0].understanding?.map(({ column, role }) => [column, role])).toEqual([
    ["time", "time"],
    ["speed [rad/s]", "speed"],
    ["current [A]", "current"],
  ]);
  expect(recordings[0].time.length).toBe(time.length);
  expect(recordings[0].channels.speed?.data.filter((v) => Number.isNaN(v)).length).toBe(
    lines.filter((l) => l.includes("---")).length,
  );
});

test.each([
  ["# turning the field, by hand; motor 4", "turning the field, by hand; motor 4"],
  ["Versuch 7;;;;", "Versuch 7"],
  ["run 3,motor B,,", "run 3 motor B"],
])("signs between cells are no part of a title, those of a sentence are: %s", (text, title) => {
  expect(titleOf([text])).toBe(title);
});

test.each([
  ["; one line per control period (4 ms)", 250],
  ["# a row each cycle of 250 us", 4000],
  ["% jede Zeile = 2 ms", 500],
])("%s says the rate", (text, rate) => {
  expect(readPreamble([text]).rate?.hertz).toBeCloseTo(rate, 6);
});
