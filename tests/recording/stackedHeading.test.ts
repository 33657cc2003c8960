import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { stackedHeading } from "../../lib/recording/formats/stackedHeading.js";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-stacked-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, speedCommand, speed, current } = runTrial("speed", machines.small, 9);
const width = 12;
const line = (cells: readonly string[], left: boolean): string =>
  cells.map((c) => (left ? c.padEnd(width) : c.padStart(width))).join("");
const row = (k: number, later: number): string[] => [
  (time[k] + later).toFixed(3),
  speedCommand[k].toFixed(2),
  speed[k].toFixed(2),
  current[k].toFixed(3),
];
// Listings in columns of fixed width, as programs have printed them since line printers (common practice, no source).
const words = [
  ["", "Shaft", "Shaft", "Motor"],
  ["Time", "Speed", "Speed", "Curr."],
  ["", "Setpoint", "", ""],
  ["(s)", "(rad/s)", "(rad/s)", "(A)"],
];
const names = ["Time (s)", "Shaft Speed Setpoint (rad/s)", "Shaft Speed (rad/s)", "Motor Curr. (A)"];

describe.each([
  ["short", 1],
  ["long", 13],
])("a %s listing", (name, times) => {
  test.each([
    ["at the right", false, true],
    ["at the left", true, true],
    ["without a rule", false, false],
  ])("whose words stand %s", async (way, left, ruled) => {
    const head = [...words.map((w) => line(w, left)), ...(ruled ? ["-".repeat(4 * width)] : [])];
    const rows = Array.from({ length: times }, (_, n) =>
      Array.from(time, (_t, k) => line(row(k, 10 * n), left)),
    ).flat();
    const file = join(folder, `${name} ${way}.prn`);
    writeFileSync(file, `LISTING OF BENCH 4\n\n${[...head, ...rows].join("\n")}\n`);
    const { recordings, problems } = await readRecordings([file]);
    expect(problems).toEqual([]);
    expect(recordings[0].understanding?.map(({ column }) => column.replace(/ \(.*/, ""))).toEqual(
      names.map((n) => n.replace(/ \(.*/, "")),
    );
    expect(recordings[0].understanding?.map(({ role, unit }) => [role, unit])).toEqual([
      ["time", "s"],
      ["speedCommand", "rad/s"],
      ["speed", "rad/s"],
      ["current", "A"],
    ]);
    expect(recordings[0].time.length).toBe(rows.length);
  });
});

test("the heading printed again on every page parts nothing", async () => {
  const head = words.map((w) => line(w, false)).join("\n");
  const rows = Array.from(time, (_, k) => line(row(k, 0), false));
  const pages = Array.from({ length: Math.ceil(rows.length / 60) }, (_, p) =>
    rows.slice(60 * p, 60 * p + 60),
  );
  const file = join(folder, "pages.prn");
  writeFileSync(file, `${pages.map((p) => `${head}\n\n${p.join("\n")}\n`).join("\n")}`);
  const { recordings } = await readRecordings([file]);
  expect(recordings.map((r) => r.time.length)).toEqual([rows.length]);
  expect(recordings[0].channels.speed?.data.length).toBe(rows.length);
});

const isUnit = (word: string): boolean => /^\(/.test(word);
test.each<[string, readonly string[], readonly string[] | undefined]>([
  [
    "a title above",
    ["Bench four of the second floor", "  Time    Motor", "          Volts"],
    ["Time", "Motor Volts"],
  ],
  ["a word over two columns", ["     Motor", "  Time   Volts"], undefined],
  ["a column without a word", ["         Motor", "         Volts"], undefined],
  ["one line", ["  Time    Volts"], undefined],
  ["a parted word", ["  Time    Cur-", "          rent"], ["Time", "Current"]],
])("%s", (_, above, want) => {
  expect(stackedHeading(above, [" 0.000     1.20", " 0.001    -1.20"], 2, isUnit)?.names).toEqual(want);
});
