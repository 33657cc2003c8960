import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-questions-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function written(name: string, text: string): string {
  const file = join(folder, name);
  writeFileSync(file, text);
  return file;
}

const rows = (of: (k: number) => string, count = 200): string =>
  `${Array.from({ length: count }, (_, k) => of(k)).join("\n")}\n`;

test("a remark that comes again and again is no heading", async () => {
  const lost = (k: number): string => (k % 7 === 0 ? "# no reply seen\n" : "");
  const text = `time [s],a1 velocity [rad/s],brake torque [Nm]\n# no reply seen\n\n# no reply seen\n# no reply seen\n# no reply seen\n# no reply seen\n${rows(
    (k) =>
      `${lost(k)}${(0.01 * k).toFixed(2)},${Math.sin(0.1 * k).toFixed(4)},${Math.cos(0.1 * k).toFixed(4)}`,
  )}`;
  const { recordings } = await readRecordings([written("remarks.csv", text)]);
  expect(Object.keys(recordings[0].channels).sort()).toEqual(["speed", "torque"]);
  expect(recordings[0].time.length).toBe(200);
});

test("a row of units says more than the letter of a channel", async () => {
  const text = `Time,Channel A,Channel B\n(s),(V),(mV)\n\n${rows((k) => `${0.001 * k},${k % 40 < 20 ? 0 : 5},${(k % 17) * 3.1}`)}`;
  const { recordings, problems } = await readRecordings([written("letters.csv", text)]);
  const columns = [...problems, ...recordings].flatMap((t) => t.understanding ?? []);
  expect(columns.find((c) => c.column === "Channel A")?.role ?? "").toMatch(/^voltage|^$/);
});

test("units of channels in a line above the heading are taken", async () => {
  const text = `Model,X1,,\nHorizontal Units,s,,\nSample Interval,1e-04,,\nVertical Units,A,A,V\nLabel,,,\n\nTIME,CH1,CH2,CH3\n${rows(
    (k) =>
      `${(1e-4 * k).toFixed(4)},${Math.sin(0.1 * k).toFixed(4)},${Math.sin(0.1 * k - 2.1).toFixed(4)},48.${k % 9}`,
  )}`;
  const { recordings, problems } = await readRecordings([written("scope.csv", text)]);
  const columns = [...problems, ...recordings].flatMap((t) => t.understanding ?? []);
  expect(columns.map((c) => c.unit).slice(0, 3)).toEqual(["s", "A", "A"]);
});

test("the question for the time does not propose a column of another unit, and works when answered", async () => {
  const text = `Load/Nm,Speed/rpm,Current/A\n${rows((k) => `${0.1 * k},${3000 - 5 * k},${(1 + 0.02 * k).toFixed(3)}`, 120)}`;
  const file = written("points.csv", text);
  const { problems } = await readRecordings([file]);
  expect(problems).toHaveLength(1);
  expect(problems[0].meaning).toContain("--interval");
  expect(problems[0].meaning).not.toContain("--map time=");
  const answered = await readRecordings([file], { rate: 100 });
  expect(answered.problems).toEqual([]);
  expect(Object.keys(answered.recordings[0].channels)).toContain("speed");
});

test("a table without a heading and a clock asks for both at once, and works when answered", async () => {
  const file = written(
    "bare.csv",
    rows((k) => (0.4 + 0.01 * ((k * 7919) % 13)).toFixed(3)),
  );
  const { problems } = await readRecordings([file]);
  expect(problems[0].meaning).toContain("--interval");
  const option = /--map (\w+)=(#\d+)/.exec(problems[0].meaning ?? "");
  expect(option).not.toBeNull();
  const answered = await readRecordings([file], {
    rate: 100,
    map: { [option?.[1] ?? ""]: option?.[2] ?? "" },
  });
  expect(answered.recordings).toHaveLength(1);
});

test("turns of the field are asked for the pole pairs, and are those of the shaft with them", async () => {
  const file = written(
    "field.csv",
    `time [s],ERPM\n${rows((k) => `${(0.01 * k).toFixed(2)},${(7 * 3000 * Math.sin(k / 20)).toFixed(0)}`)}`,
  );
  const [asked] = (await readRecordings([file], { map: { speed: "ERPM" } })).recordings;
  expect(asked.findings.find(({ code }) => code === "electrical-speed")?.answers?.[0].option).toBe(
    "pole-pairs",
  );
  const [told] = (await readRecordings([file], { map: { speed: "ERPM" }, machine: { polePairs: 7 } }))
    .recordings;
  expect(told.channels.speed?.data[100]).toBeCloseTo((3000 * Math.sin(5) * 2 * Math.PI) / 60, 1);
  expect(told.findings.map(({ code }) => code)).not.toContain("electrical-speed");
});
