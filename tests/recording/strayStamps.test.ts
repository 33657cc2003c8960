import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { strayStamps } from "../../lib/recording/columns/strayStamps.js";
import { readRecordings } from "../../lib/recording/index.js";

// A log whose logger counted from 1970, and one or two rows that it stamped otherwise: their count, and the clock
// without them.

const folder = mkdtempSync(join(tmpdir(), "stray-stamps-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const epoch = 1_747_000_000;
const rows = 400;
/** A torque trial, its stamps given. */
function log(stamps: readonly (number | string)[], heading = "timestamp"): string {
  const lines = stamps.map((stamp, i) => {
    const command = i % 200 < 40 ? 0 : i % 200 < 120 ? 2 : -2;
    return `${typeof stamp === "number" ? stamp.toFixed(3) : stamp},${command},${(command + 0.01 * ((i * 7) % 5)).toFixed(3)},${(0.3 * (i % 200)).toFixed(2)}`;
  });
  return [`${heading},current_cmd [A],current [A],speed [rpm]`, ...lines].join("\n");
}
const even = (from: number, count = rows, step = 0.005): number[] =>
  Array.from({ length: count }, (_, i) => from + i * step);

async function read(name: string, text: string) {
  const path = join(folder, name);
  writeFileSync(path, text);
  const { recordings } = await readRecordings([path]);
  return recordings;
}

describe.each([
  ["first", 0],
  ["second", 1],
  ["in the middle", 200],
  ["last but one", rows - 2],
  ["last", rows - 1],
] as const)("one bad stamp, %s", (where, at) => {
  test.each([
    ["from before the clock was set", 1000],
    ["zero", 0],
    ["far ahead", 4_294_967_295],
    ["of another day", epoch - 86_400],
  ])("%s", async (_, stamp) => {
    const stamps = even(epoch);
    stamps[at] = stamp;
    const recordings = await read(`${where} ${stamp}.csv`, log(stamps));
    expect(recordings).toHaveLength(1);
    const [{ time, findings, source }] = recordings;
    expect(time.length).toBe(rows - 1);
    expect(time[0]).toBeCloseTo(at === 0 ? 0 : 0, 6);
    expect(time[time.length - 1]).toBeLessThanOrEqual(0.005 * rows);
    const told = findings.filter(({ code }) => code === "time-stray");
    expect(told).toMatchObject([{ value: 1, severity: "warning", row: at + 2 }]);
    expect(source?.startedAt).toBe(new Date(1000 * (epoch + (at === 0 ? 0.005 : 0))).toISOString());
  });
});

test("the first stamps may be bad together, and stamps with a date too", async () => {
  const two = even(epoch);
  [two[0], two[1]] = [12, 12.005];
  const [numbers] = await read("two.csv", log(two));
  expect(numbers.time.length).toBe(rows - 2);
  expect(numbers.findings.find(({ code }) => code === "time-stray")).toMatchObject({ value: 2 });
  const dates = even(epoch).map((t) => new Date(Math.round(1000 * t)).toISOString());
  dates[0] = "1970-01-01T00:16:40.000Z";
  const [stamped] = await read("dates.csv", log(dates));
  expect(stamped.time[0]).toBe(0);
  expect(stamped.time[stamped.time.length - 1]).toBeCloseTo(0.005 * (rows - 2), 3);
  expect(stamped.source?.startedAt).toBe(new Date(1000 * epoch + 5).toISOString());
});

describe("what is no bad stamp", () => {
  test("a logger that restarts at zero: two runs, and no row is lost", async () => {
    const recordings = await read("restart.csv", log([...even(epoch, 200), ...even(0, 200)]));
    expect(recordings.map(({ time }) => time.length)).toEqual([200, 200]);
    for (const { time, findings } of recordings) {
      expect(time[0]).toBe(0);
      expect(time[199]).toBeCloseTo(0.995, 6);
      expect(findings.some(({ code }) => code === "time-stray")).toBe(false);
    }
    expect(recordings[1].source?.startedAt).toBeUndefined();
  });

  test("a clock that is set to the date while the log runs: two runs", async () => {
    const recordings = await read("set.csv", log([...even(0, 200), ...even(epoch, 200)]));
    expect(recordings.map(({ time }) => time.length)).toEqual([200, 200]);
    for (const { time } of recordings) expect(time[199]).toBeCloseTo(0.995, 6);
    expect(recordings[1].findings.find(({ code }) => code === "several-runs")?.message).toBe(
      "run 2 of 2 in this table: the clock leaps ahead by 55.4 years before it",
    );
    expect(recordings[1].source?.startedAt).toBe(new Date(1000 * epoch).toISOString());
  });

  test.each([
    ["a pause in a log", [...even(0, 200), ...even(3600, 200)]],
    ["a late last row", [...even(0, 399), 60]],
    ["bursts an hour apart", [...even(0, 100), ...even(3600, 100), 5000, ...even(7200, 100)]],
    ["a few rows", [0, 1, 2, 1000]],
    ["irregular rows", Array.from({ length: 300 }, (_, i) => i ** 3)],
    ["no rows", []],
    ["one stamp throughout", Array.from({ length: 50 }, () => 5)],
  ])("%s", (_, stamps) => {
    expect(strayStamps(Float64Array.from(stamps))).toEqual([]);
  });
});
