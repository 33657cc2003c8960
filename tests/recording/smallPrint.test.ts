import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";

// Found by mutation testing: what no other test noticed when it was wrong.

const folder = mkdtempSync(join(tmpdir(), "shaftwise-small-print-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function read(name: string, lines: readonly string[], options = {}): ReturnType<typeof readRecordings> {
  const path = join(folder, name);
  writeFileSync(path, `${lines.join("\n")}\n`);
  return readRecordings([path], options);
}
const values = (i: number): string =>
  `${(2 * Math.sin(i / 9)).toFixed(3)},${(90 * Math.sin(i / 15)).toFixed(2)}`;

test("stamps with AM and PM: noon and midnight lie where they should", async () => {
  // Half a second from row to row, over noon and past one o'clock.
  const stamp = (i: number): string => {
    const all = 2 * (11 * 3600 + 59 * 60 + 30) + i;
    const hours = Math.floor(all / 7200);
    const two = (v: number): string => String(v).padStart(2, "0");
    return `3/14/2024 ${((hours + 11) % 12) + 1}:${two(Math.floor(all / 120) % 60)}:${two(Math.floor(all / 2) % 60)}.${all % 2 === 0 ? "000" : "500"} ${hours < 12 ? "AM" : "PM"}`;
  };
  const lines = Array.from({ length: 7400 }, (_, i) => `${stamp(i)},${values(i)}`);
  const { recordings } = await read("noon.csv", ["timestamp,current [A],speed [rad/s]", ...lines]);
  expect(recordings).toHaveLength(1);
  const { time, source } = recordings[0];
  expect(time).toHaveLength(7400);
  expect(time[7399] - time[0]).toBeCloseTo(3699.5, 6);
  expect(Math.max(...time.subarray(1).map((t, i) => t - time[i]))).toBeCloseTo(0.5, 6);
  expect(source?.startedAt).toMatch(/^2024-03-14T11:59:30/);
});

test("with AM and PM the month comes first, though the number could be a day", async () => {
  const lines = Array.from(
    { length: 300 },
    (_, i) =>
      `3/4/2024 1:${String(10 + Math.floor(i / 60))}:${String(i % 60).padStart(2, "0")} PM,${values(i)}`,
  );
  const { recordings } = await read("month.csv", ["timestamp,current [A],speed [rad/s]", ...lines]);
  expect(recordings[0].source?.startedAt).toMatch(/^2024-03-04T13:10:00/);
});

test("a word `current` before another quantity is the present value, and before none an electric current", async () => {
  const lines = Array.from({ length: 400 }, (_, i) => `${i / 100},${values(i)},${(i / 7).toFixed(2)},1.5`);
  const { recordings } = await read("present.csv", [
    "time [s],Current [A],CurrentSpeed [rpm],CurrentAngle [deg],Current Limit [A]",
    ...lines,
  ]);
  const roles = recordings[0].understanding?.map(({ role }) => role);
  expect(roles?.slice(1, 4)).toEqual(["current", "speed", "position"]);
});

test("a clock of seconds within the minute goes on although nothing beside it moves", async () => {
  const lines = Array.from({ length: 900 }, (_, i) => `${((40 + i / 10) % 60).toFixed(1)},1.5,0`);
  const { recordings } = await read("minute.csv", ["time [s],current [A],speed [rad/s]", ...lines]);
  expect(recordings.map(({ time }) => time.length)).toEqual([900]);
  expect(recordings[0].time[899] - recordings[0].time[0]).toBeCloseTo(89.9, 6);
});

test("why a column became no channel: ignored, empty", async () => {
  const lines = Array.from({ length: 300 }, (_, i) => `${i / 100},${values(i)},`);
  const { recordings } = await read(
    "unused.csv",
    ["time [s],current [A],speed [rad/s],spare [V]", ...lines],
    {
      ignore: ["speed [rad/s]"],
    },
  );
  const reasons = new Map(recordings[0].source?.unused.map(({ name, reason }) => [name, reason]));
  expect(reasons.get("speed [rad/s]")).toBe("ignored");
  expect(reasons.get("spare [V]")).toMatch(/^empty/);
});

test("stamps without a year, in a table and in lines of JSON, give the time and tell no date", async () => {
  const two = (v: number): string => String(v).padStart(2, "0");
  // Over midnight and the end of a month; RFC 3164, section 4.1.2, for the third.
  const forms = [
    (day: number, month: number, clock: string) => `${two(day)}/${two(month)} ${clock}`,
    (day: number, month: number, clock: string) => `${day}.${month}. ${clock}`,
    (day: number, month: number, clock: string) =>
      `${["", "Jan", "Feb", "Mar"][month]} ${String(day).padStart(2)} ${clock}`,
  ];
  for (const [k, form] of forms.entries()) {
    const stamps = Array.from({ length: 400 }, (_, i) => {
      const all = 86_400 - 200 + i;
      const clock = `${two(Math.floor(all / 3600) % 24)}:${two(Math.floor(all / 60) % 60)}:${two(all % 60)}`;
      return all < 86_400 ? form(29, 2, clock) : form(1, 3, clock);
    });
    const csv = stamps.map((stamp, i) => `${stamp},${values(i)}`);
    const json = stamps.map((stamp, i) => {
      const [current, speed] = values(i).split(",").map(Number);
      return JSON.stringify({ timestamp: stamp, "current [A]": current, "speed [rad/s]": speed });
    });
    for (const [name, lines] of [
      [`year-${k}.csv`, ["timestamp,current [A],speed [rad/s]", ...csv]],
      [`year-${k}.jsonl`, json],
    ] as const) {
      const { recordings, problems } = await read(name, lines);
      expect(problems.filter(({ severity }) => severity === "error")).toEqual([]);
      expect(recordings).toHaveLength(1);
      expect(recordings[0].time.length).toBe(400);
      expect(recordings[0].time[399] - recordings[0].time[0]).toBeCloseTo(399, 6);
      expect(recordings[0].source?.startedAt).toBeUndefined();
    }
  }
});

test("units spelled in words behind a name: parts of a thousand, degrees Fahrenheit, turns a minute", async () => {
  const lines = Array.from({ length: 300 }, (_, i) => {
    const [current, speed] = values(i).split(",").map(Number);
    return `${10 * i},${Math.round(current * 100)},${Math.round(speed * 9)},${97 + Math.round(i / 4)}`;
  });
  const { recordings } = await read("words.csv", ["t_ms,Ia_promil,vong_phut,Motor Temp F", ...lines]);
  const units = recordings[0].understanding?.map(({ unit }) => unit);
  expect(units).toEqual(["ms", "[ppth]", "{rev}/min", "[degF]"]);
});
