import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { partsByClock } from "../../lib/recording/columns/partsByClock.js";
import { resampled } from "../../lib/recording/columns/timeBases.js";
import { every } from "../../lib/recording/columns/wordsAndStamps.js";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "pieces-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test("values are thinned as the numbers beside them", () => {
  const values = Float64Array.of(0, 1, 2, 3, 4, 5, 6);
  expect([...every(values, 1)]).toEqual([...values]);
  expect([...every(values, 3)]).toEqual([0, 3, 6]);
});

test("a clock that begins anew is told from one that was set back", () => {
  const clock = (second: number) => {
    const time = Float64Array.from({ length: 100 }, (_, k) => (k < 60 ? 0.1 * k : second + 0.1 * (k - 60)));
    const parts = partsByClock([{ label: "", rows: undefined }], {
      time,
      scale: 1,
      clocked: true,
      marks: [],
      others: [],
      file: "clock.csv",
      firstLine: 2,
    });
    return parts.map(({ findings }) => findings.map(({ message }) => message).join());
  };
  expect(clock(0)).toEqual(["run 1 of 2 in this table", "run 2 of 2 in this table: its clock begins anew"]);
  expect(clock(2)[1]).toBe("run 2 of 2 in this table: the clock steps back by 3.9 s before it");
});

test("values on another clock that begins anew as often stay in their run; those of one clock need no other", () => {
  const coarse = Float64Array.from({ length: 20 }, (_, k) => k % 10);
  const values = coarse.map((t, k) => t + (k < 10 ? 0 : 100));
  const fine = Float64Array.from({ length: 38 }, (_, k) => 0.5 * (k % 19));
  // A straight line is interpolated without error.
  expect([...resampled(coarse, values, fine)]).toEqual([...fine.map((t, k) => t + (k < 19 ? 0 : 100))]);
  expect([...resampled(coarse, values, coarse)]).toEqual([...values]);
  // A row that is late is no run of its own.
  const late = Float64Array.of(0, 1, 2, 1.9, 3, 4);
  expect([...resampled(late, Float64Array.of(0, 1, 2, 9, 3, 4), Float64Array.of(0.5, 2.5, 3.5))]).toEqual([
    0.5, 2.5, 3.5,
  ]);
});

test("the counts of a turn are a round number where speed and counts leave one in reach: 500 lines, by four", async () => {
  const rows = Array.from({ length: 800 }, (_, k) => {
    const t = 0.002 * k;
    const speed = t < 0.2 ? 0 : 900 * (1 - Math.exp(-(t - 0.2) / 0.3));
    const turns = t < 0.2 ? 0 : (900 / 60) * (t - 0.2 - 0.3 * (1 - Math.exp(-(t - 0.2) / 0.3)));
    const current = t < 0.2 ? 0 : 2 + 0.02 * Math.sin(37 * k);
    return `${t.toFixed(3)},${current.toFixed(3)},${(speed + 0.5 * Math.sin(91 * k)).toFixed(1)},${Math.floor(2000 * turns)}`;
  });
  const path = join(folder, "counts.csv");
  writeFileSync(path, `time [s],current [A],speed [rpm],position [counts]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  expect(recordings[0].encoder.lines).toBe(500);
});

test("gaps are told of a log that lost rows to stamps that step back", async () => {
  const stamps = Array.from({ length: 200 }, (_, k) => 0.01 * (k < 120 ? k : k + 60));
  stamps[50] = 0.2;
  const rows = stamps.map((t, k) => `${t.toFixed(2)},${k < 40 ? 0 : 1},${k < 40 ? 0 : 5 * (k - 40)}`);
  const path = join(folder, "gap.csv");
  writeFileSync(path, `time [s],current [A],speed [rpm]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  const [{ findings, time }] = recordings;
  expect(time.length).toBe(199);
  expect(findings.find(({ code }) => code === "time-steps-back")?.value).toBe(1);
  // 60 samples of 10 ms and the usual one are missing between two rows.
  expect(findings.find(({ code }) => code === "time-gaps")?.value).toBeCloseTo(0.61, 6);
});
