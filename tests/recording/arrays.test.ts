import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

// Arrays as programs save them; the files are written by SciPy (arrays/make.py).

const at = (name: string): string => join(import.meta.dirname, "arrays", name);
const folder = mkdtempSync(join(tmpdir(), "shaftwise-arrays-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test("words beside a matrix name its columns", async () => {
  const [log] = (await readRecordings([at("matrix-and-names.mat")])).recordings;
  expect(log.time.length).toBe(60);
  expect(log.channels.current?.name).toBe("iq [A]");
  expect(log.channels.speed?.sourceUnit).toBe("rad/s");
});

test("structures of several signals, each at a rate of its own, come onto one time", async () => {
  const [log, ...others] = (await readRecordings([at("two-rates.mat")])).recordings;
  expect(others).toEqual([]);
  expect(log.time.length).toBe(60);
  expect(Object.keys(log.channels).sort()).toEqual(["current", "currentCommand", "speed"]);
  expect(log.findings.some((f) => f.code === "time-bases")).toBe(true);
});

test("matrices of one width, each with a clock of its own, are runs", async () => {
  const map = { time: "#1", currentCommand: "#2", current: "#3", speed: "#4" };
  const { recordings } = await readRecordings([at("runs-in-cells.mat")], { map });
  expect(recordings.length).toBe(2);
  const [a, b] = recordings.map((r) => r.channels.speed?.data ?? new Float64Array());
  expect(a[40]).toBeCloseTo(-b[40], 9);
});

test.each([
  ["flight.ulg", "ULog\u0001\u0012\u0035", /ULog.*CSV/],
  ["log.pkl", "\u0080\u0004\u0095\u0000", /pickled.*NPY/],
  ["bus.blf", "LOGG\u0090\u0000\u0000\u0000", /bus.*CSV/],
  ["chart.png", "\u0089PNG\r\n\u001a\n", /picture/],
  ["scope.wav", "RIFF\u0000\u0000\u0000\u0000WAVEfmt ", /sound.*CSV/],
  ["trace.tdms", "TDSm\u000e\u0000\u0000\u0000", /TDMS.*CSV/],
  ["trace.mf4", "MDF     4.10    ", /MDF.*CSV/],
  ["bag.db3", "SQLite format 3\u0000", /database.*CSV/],
])("%s is known by its first bytes, and told what to export", async (name, start, told) => {
  const file = join(folder, name);
  writeFileSync(file, Buffer.concat([Buffer.from(start, "latin1"), Buffer.alloc(600)]));
  const { recordings, problems } = await readRecordings([file]);
  expect(recordings).toEqual([]);
  expect(problems.map((p) => p.code)).toEqual(["format"]);
  expect(problems[0].message).toMatch(told);
});

test("frames of a bus are told to be such, and a question for the time names no column that does not rise", async () => {
  const frames = Array.from(
    { length: 30 },
    (_, k) => `(17410.${100 + k}) can0 201#0006000000${10 + k}\n`,
  ).join("");
  writeFileSync(join(folder, "bus.log"), frames);
  const [problem] = (await readRecordings([join(folder, "bus.log")])).problems;
  expect(problem.meaning).toMatch(/frames of a bus/);
  const rows = Array.from({ length: 60 }, (_, k) => `${((k * 7) % 11) / 10},${(k % 9) - 4}\n`).join("");
  writeFileSync(join(folder, "bare.csv"), `current,ERROR\n${rows}`);
  const [asked] = (await readRecordings([join(folder, "bare.csv")])).problems;
  expect(asked.code).toBe("no-time");
  expect(asked.meaning).toMatch(/--interval/);
  expect(asked.meaning).not.toMatch(/--map time/);
});
