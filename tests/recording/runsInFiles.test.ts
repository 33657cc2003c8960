import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { clockRuns } from "../../lib/recording/columns/clockRuns.js";
import { carryOn } from "../../lib/recording/columns/clockWraps.js";
import { type ReadOptions, type ReadResult, readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "runs-in-files-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function read(name: string, text: string | Buffer, options: ReadOptions = {}): Promise<ReadResult> {
  const path = join(folder, name);
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, text);
  return readRecordings([path], options);
}

/** Rows of time, current and speed, the time from zero on. */
function run(n: number, dt = 0.01, separator = ","): string[] {
  return Array.from({ length: n }, (_, i) =>
    [(i * dt).toFixed(3), (2 * Math.sin(i / 9)).toFixed(3), (10 * i * dt).toFixed(2)].join(separator),
  );
}

const heading = "time [s],current [A],speed [rpm]";

describe("each run of a file is a recording of its own", () => {
  test("a clock that begins anew, and nothing that says so", async () => {
    const { recordings } = await read("anew.csv", [heading, ...run(80), ...run(60), ...run(70)].join("\n"));
    expect(recordings.map((r) => r.time.length)).toEqual([80, 60, 70]);
    expect(recordings.map((r) => r.path.split("#")[1])).toEqual(["run=1", "run=2", "run=3"]);
    for (const r of recordings) expect(r.time[0]).toBe(0);
    expect(recordings[1].findings.find((f) => f.code === "clock-restarts")).toMatchObject({
      value: 3,
      row: 82,
    });
  });

  test("the heading written again, titles between blocks, blank lines", async () => {
    const block = (title: string, n: number): string[] => ["", `=== ${title} ===`, heading, ...run(n)];
    const text = [...block("Test 1: VUW", 50), ...block("Test 2: UVW", 40), ""].join("\r\n");
    const { recordings } = await read("titles.txt", text);
    expect(recordings.map((r) => r.time.length)).toEqual([50, 40]);
    expect(recordings.map((r) => r.title)).toEqual(["Test 1: VUW", "Test 2: UVW"]);
    expect(recordings.map((r) => r.ordering)).toEqual(["VUW", "UVW"]);
  });

  test("a heading that a logger writes every so often parts nothing while its clock goes on", async () => {
    const rows = run(90);
    const text = [heading, ...rows.slice(0, 30), heading, ...rows.slice(30, 60), heading, ...rows.slice(60)];
    const { recordings } = await read("pages.csv", text.join("\n"));
    expect(recordings.map((r) => r.time.length)).toEqual([90]);
  });

  test("tables of other columns in one text", async () => {
    const text = [heading, ...run(30), "", "t [ms];phi [deg];i [mA]", ...run(25, 5, ";").map((l) => l)].join(
      "\n",
    );
    const { recordings } = await read("two-tables.csv", text, {
      map: { current: "#2", position: "phi [deg]" },
    });
    expect(recordings.reduce((sum, r) => sum + r.time.length, 0)).toBe(55);
  });

  test("a step back of the clock is a run and said at the head, and no row is lost", async () => {
    const rows = run(200);
    const set = rows.slice(100).map((l) => l.replace(/^[^,]*/, (t) => (Number(t) - 0.4).toFixed(3)));
    const { recordings } = await read("set.csv", [heading, ...rows.slice(0, 100), ...set].join("\n"));
    expect(recordings.map((r) => r.time.length)).toEqual([100, 100]);
    expect(recordings[1].findings.find((f) => f.code === "clock-restarts")).toMatchObject({
      severity: "error",
    });
  });

  test("a stamp that leaps ahead parts nothing", async () => {
    const rows = run(100);
    rows[40] = rows[40].replace(/^[^,]*/, "99.000");
    const { recordings } = await read("leap.csv", [heading, ...rows].join("\n"));
    expect(recordings.map((r) => r.time.length)).toEqual([99]);
    expect(recordings[0].findings.find((f) => f.code === "time-steps-back")).toMatchObject({ value: 1 });
  });
});

describe("clocks that wrap are carried on", () => {
  const wrapped = (from: number, dt: number, size: number, n: number, jitter = 0): Float64Array =>
    Float64Array.from({ length: n }, (_, i) => (from + i * dt + (i % 3) * jitter) % size);

  test.each([
    [65536, 51_000, 1000, 3],
    [2 ** 32, 2 ** 32 - 70_000, 1000, 5],
    [1000, 730, 7, 0],
    [60, 31.5, 0.13, 0],
  ])("at %d", (size, from, dt, jitter) => {
    const time = wrapped(from, dt, size, 900, jitter);
    const carried = carryOn(time, 1);
    expect(carried?.size).toBe(size);
    expect([...(carried?.time ?? [])].every((t, i, all) => i === 0 || t > all[i - 1])).toBe(true);
  });

  test("runs that each begin at zero and end at no round number are no wraps; nor are runs of one second whose values jump", () => {
    const anew = Float64Array.from([...wrapped(0, 10, 1e9, 83), ...wrapped(0, 10, 1e9, 91)]);
    expect(carryOn(anew, 1)).toBeUndefined();
    const second = Float64Array.from({ length: 300 }, (_, i) => (i % 100) * 10);
    const speed = Float64Array.from({ length: 300 }, (_, i) => Math.min(50, i % 100));
    expect(carryOn(second, 1, () => [speed])).toBeUndefined();
    expect(clockRuns(second, 300).map((s) => s.from)).toEqual([0, 100, 200]);
    const through = Float64Array.from({ length: 300 }, (_, i) => Math.sin(i / 40));
    expect(carryOn(second, 1, () => [through])?.times).toBe(2);
  });
});

describe("files that belong together", () => {
  const write = (name: string, lines: readonly string[]): string => {
    const path = join(folder, name);
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, `${lines.join("\n")}\n`);
    return path;
  };

  test("channels of one capture in files of their own, sampled differently", async () => {
    const at = (n: number, dt: number, from: number, value: (t: number) => number): string[] =>
      Array.from({ length: n }, (_, i) => `${(from + i * dt).toFixed(4)},${value(from + i * dt).toFixed(4)}`);
    write("capture/current.csv", ["t [s],iq [A]", ...at(400, 0.001, 0, (t) => 3 * t)]);
    write("capture/speed.csv", ["t [s],n [rpm]", ...at(200, 0.002, 0.0005, (t) => 100 * t)]);
    const { recordings, problems } = await readRecordings([join(folder, "capture")], {
      map: { current: "iq [A]", speed: "n [rpm]" },
    });
    expect(problems).toEqual([]);
    expect(recordings.map((r) => r.time.length)).toEqual([400]);
    const { current, speed } = recordings[0].channels;
    expect(current?.data[200]).toBeCloseTo(0.6, 9);
    // A straight line is the same between its samples.
    expect(speed?.data[200]).toBeCloseTo((100 * 0.2 * 2 * Math.PI) / 60, 4);
    expect(recordings[0].source?.files.length).toBe(2);
  });

  test("runs of the same signals in files of their own stay apart", async () => {
    write("apart/a1.csv", [
      "time [s],speed [rpm]",
      ...run(50).map((l) => l.split(",").slice(0, 2).join(",")),
    ]);
    write("apart/a2.csv", [
      "time [s],speed [rpm]",
      ...run(50).map((l) => l.split(",").slice(0, 2).join(",")),
    ]);
    const { recordings } = await readRecordings([join(folder, "apart")]);
    expect(recordings.map((r) => r.time.length)).toEqual([50, 50]);
  });

  test("a log kept by date is one while time goes on", async () => {
    const stamp = (i: number): string => new Date(Date.UTC(2024, 2, 31, 23, 59, 59) + i * 20).toISOString();
    const row = (i: number): string => `${stamp(i)},${(i % 40) / 10},${i % 7}`;
    const rows = Array.from({ length: 100 }, (_, i) => row(i));
    write("daily/log_2024-03-31.csv", ["stamp,current [A],speed [rpm]", ...rows.slice(0, 50)]);
    write("daily/log_2024-04-01.csv", ["stamp,current [A],speed [rpm]", ...rows.slice(50)]);
    const { recordings } = await readRecordings([join(folder, "daily")]);
    expect(recordings.map((r) => r.time.length)).toEqual([100]);
  });
});

test("every row of numbers ends in a recording or is counted, whatever stands between them", async () => {
  const random = seededRandom(7);
  for (let k = 0; k < 40; k += 1) {
    const lines: string[] = [];
    let rows = 0;
    const blocks = 1 + Math.floor(random.uniform() * 3);
    for (let b = 0; b < blocks; b += 1) {
      if (random.uniform() < 0.5) lines.push(`Test ${b + 1}`);
      if (b === 0 || random.uniform() < 0.5) lines.push(heading);
      const n = 20 + Math.floor(random.uniform() * 60);
      for (const row of run(n)) {
        lines.push(row);
        rows += 1;
        const chance = random.uniform();
        if (chance < 0.02) lines.push("");
        else if (chance < 0.04) lines.push("# remark");
        else if (chance < 0.06) lines.push("WARNING: bus voltage low");
      }
    }
    const { recordings } = await read(`mixed-${k}.csv`, lines.join("\n"));
    expect(
      recordings.reduce((sum, r) => sum + r.time.length, 0),
      lines.join("\n"),
    ).toBe(rows);
  }
});

test("a measured value that goes round a few whole numbers tells no devices apart", async () => {
  const rows = Array.from({ length: 60 }, (_, i) => `${i / 100},${i % 5},${3 * i}`).join("\n");
  const named = await read("steps.csv", `time [s],current [A],speed [rad/s]\n${rows}\n`);
  expect(named.recordings.map((r) => r.time.length)).toEqual([60]);
  const bare = await read("stated.csv", `t,a,n\n${rows}\n`, {
    map: { time: "t", current: "a", speed: "n" },
    unit: { t: "s", a: "A", n: "rad/s" },
  });
  expect(bare.recordings.map((r) => r.time.length)).toEqual([60]);
  // The same numbers under a name of devices part the rows.
  const devices = await read("devices.csv", `t,motor_id,n\n${rows}\n`, { unit: { n: "rad/s" } });
  expect(devices.recordings).toHaveLength(5);
});

test("a fast counter that wraps every few rows is carried on at its own size", () => {
  // Ten milliseconds a row in a counter of microseconds with 16 bits: not the seconds of a day, which fit nearly.
  const time = Float64Array.from({ length: 300 }, (_, k) => (60_000 + 10_000 * k) % 65_536);
  const carried = carryOn(time, 1);
  expect(carried?.size).toBe(65_536);
  expect(carried?.time.at(-1)).toBe(60_000 + 10_000 * 299);
  // Lost rows at one of many wraps are no matter.
  const lost = Float64Array.from({ length: 300 }, (_, k) => (60_000 + 1000 * (k < 100 ? k : k + 3)) % 65_536);
  expect(carryOn(lost, 1)?.time.at(-1)).toBe(60_000 + 1000 * 302);
});

test("an order in the lines of a file that its name contradicts is told", async () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-contradicts-"));
  const file = join(folder, "VUW torque.csv");
  const rows = Array.from(
    { length: 200 },
    (_, k) => `${(0.01 * k).toFixed(2)},${k % 60 < 30 ? 1 : 0},${k % 7}`,
  );
  writeFileSync(file, `# ordering: UVW\ntime [s],iq_cmd [A],speed [rpm]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([file]);
  rmSync(folder, { recursive: true, force: true });
  expect(recordings[0].ordering).toBe("UVW");
  expect(recordings[0].findings.map(({ code }) => code)).toContain("ordering-contradicts");
});
