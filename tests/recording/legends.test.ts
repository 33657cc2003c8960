/** Legends of registers above a table, scales of whole numbers, sides behind a letter, lengths along a line. */
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import { runOf } from "../../lib/run/index.js";
import { reversingLoop } from "./reversingLoop.js";

let folder = "";
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), "legends-"));
});
afterAll(() => rm(folder, { recursive: true }));

/** A speed loop that reverses after a rest. */
const rows = () =>
  reversingLoop((k) => (k < 60 ? 0 : Math.floor(k / 120) % 2 === 0 ? 50 : -50)).map(
    ({ k, ref, a, v, x, n }) => ({
      k,
      ref,
      v: v + 0.3 * n,
      x,
      i: a / 100 + 0.3 * Math.tanh(v / 3) + 0.02 * n,
    }),
  );

async function read(lines: readonly string[], name = "a.csv") {
  const path = join(folder, name);
  await writeFile(path, `${lines.join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  return recordings;
}

const channel = (recording: Awaited<ReturnType<typeof read>>[number], role: string) =>
  recording.channels[role as "speed"]?.data ?? new Float64Array();

test("a legend of registers names the columns and their scales, in base sixteen too", async () => {
  const hex = (v: number): string => (Math.round(v) & 0xffff).toString(16).toUpperCase().padStart(4, "0");
  const [recording] = await read([
    "R20 = speed 1/min s16, R21 = motor current 0.01 A s16, R22 = speed command 1/min s16, R30 = bus 0.1 V",
    "t(ms)\tR20\tR21\tR22\tR30",
    ...rows().map(({ k, ref, v, i }) =>
      [10 * k, hex(9.5493 * v), hex(100 * i), hex(9.5493 * ref), "016B"].join("\t"),
    ),
  ]);
  expect(recording.understanding?.map((c) => c.role)).toEqual([
    "time",
    "speed",
    "current",
    "speedCommand",
    "voltageBus",
  ]);
  const last = rows()[599];
  expect(channel(recording, "speed")[599]).toBeCloseTo(last.v, 1);
  expect(channel(recording, "speedCommand")[599]).toBeCloseTo(last.ref, 1);
  expect(channel(recording, "current")[599]).toBeCloseTo(last.i, 2);
  expect(channel(recording, "voltageBus")[0]).toBeCloseTo(36.3, 6);
});

test("scales in a legend of comments are multiplied with, a temperature's as well", async () => {
  const [recording] = await read([
    "; P0x11 speed reference x0.1 rpm, P0x12 speed feedback x0.1 rpm",
    "; P0x13 motor current x0.01 A, P0x15 winding temperature x0.1 degC",
    "tick_ms,P0x11,P0x12,P0x13,P0x15",
    ...rows().map(({ k, ref, v, i }) =>
      [
        10 * k,
        Math.round(95.493 * ref),
        Math.round(95.493 * v),
        Math.round(100 * i),
        242 + Math.floor(k / 100),
      ].join(","),
    ),
  ]);
  expect(channel(recording, "speedCommand")[200]).toBeCloseTo(rows()[200].ref, 2);
  expect(channel(recording, "temperature")[0]).toBeCloseTo(273.15 + 24.2, 6);
  expect(recording.findings.filter((f) => f.code === "unit-assumed")).toEqual([]);
});

test("one line that happens to name a column is no legend", async () => {
  const [recording] = await read([
    "# M1 speed controller, second commissioning day",
    "t_s,M1,rpm_set,rpm",
    ...rows().map(({ k, ref, v, i }) =>
      [0.01 * k, i.toFixed(3), 9.5493 * ref, (9.5493 * v).toFixed(1)].join(","),
    ),
  ]);
  expect(recording.understanding?.[1].role).not.toBe("speed");
});

test("wl and wr are the two sides of a machine, each a recording of its own", async () => {
  const recordings = await read([
    "t_s,wl_cmd,wl_meas,wl_cur,wr_cmd,wr_meas,wr_cur",
    ...rows().map(({ k, ref, v, i }) =>
      [0.01 * k, ref, v.toFixed(3), i.toFixed(3), -ref, (-v).toFixed(3), (-i).toFixed(3)].join(","),
    ),
  ]);
  expect(recordings.map((r) => r.motor)).toEqual(["left", "right"]);
  for (const r of recordings) {
    const roles = r.understanding?.filter((c) => c.motor === r.motor).map((c) => c.role);
    expect(roles).toEqual(["speedCommand", "speed", "current"]);
  }
});

test("a speed beside a place in millimetres is in millimetres a second where its rate says so", async () => {
  const [recording] = await read([
    "t_s,pos_mm,vel,iq_A",
    ...rows().map(({ k, v, x, i }) =>
      [0.01 * k, (3 * x).toFixed(4), (3 * v).toFixed(3), i.toFixed(3)].join(","),
    ),
  ]);
  expect(recording.understanding?.slice(1, 3)).toMatchObject([
    { role: "position", unit: "mm" },
    { role: "speed", unit: "mm/s" },
  ]);
  const finding = recording.findings.find((f) => f.column === "pos_mm");
  expect(`${finding?.message}: ${finding?.meaning}`).toMatch(
    /in mm along a line, and how far one turn .* --unit pos_mm="72 deg"/,
  );
});

test("a unit that is called as a property of every object is no length", async () => {
  const [recording] = await read([
    "t_s,pos [constructor],vel [toString],iq_A",
    ...rows().map(({ k, v, x, i }) => [0.01 * k, x.toFixed(4), v.toFixed(3), i.toFixed(3)].join(",")),
  ]);
  const told = recording.findings.map((f) => `${f.message} ${f.meaning}`).join(" ");
  expect(told).not.toMatch(/along a line|NaN|function/);
});

test("amperes behind the letter of a phase are amperes", async () => {
  const [recording] = await read([
    "us,iU_A,iV_A,iW_A,rpm",
    ...rows().map(({ k, v, x, i }) =>
      [
        1e4 * k,
        ...[0, 1, 2].map((p) => (30 * i * Math.cos(4 * x - (2 * Math.PI * p) / 3)).toFixed(2)),
        Math.round(9.5493 * v),
      ].join(","),
    ),
  ]);
  expect(recording.understanding?.slice(1, 4).map((c) => [c.role, c.unit])).toEqual([
    ["currentU", "A"],
    ["currentV", "A"],
    ["currentW", "A"],
  ]);
});

test("a label may end in a plus sign, and begun words of a side are read", async () => {
  const [recording] = await read(
    rows().map(
      ({ k, ref, v }) => `T+=${(0.01 * k).toFixed(2)}\tRPM_SET=${ref * 10}\tRPM=${(v * 10).toFixed(0)}`,
    ),
    "b.log",
  );
  expect(recording.understanding?.[0]).toMatchObject({ role: "time" });
  const [swedish] = await read(
    [
      "tid_s;Hast. börv. [m/min];Hast. [m/min]",
      ...rows().map(({ k, ref, v }) => [0.01 * k, ref, v.toFixed(3)].join(";")),
    ],
    "c.csv",
  );
  expect(swedish.understanding?.slice(1).map((c) => c.role)).toEqual(["speedCommand", "speed"]);
});

test("a name that says how many times the value its numbers are is divided by it", async () => {
  const [recording] = await read([
    "t_ms,40011 Speed Ref x10 [rpm],40012 Speed Out x10 [rpm],I_x100_A,Torque (in-oz)",
    ...rows().map(({ k, ref, v, i }) =>
      [
        10 * k,
        Math.round(95.493 * ref),
        Math.round(95.493 * v),
        Math.round(100 * i),
        (141.6 * i).toFixed(1),
      ].join(","),
    ),
  ]);
  const last = rows()[599];
  expect(channel(recording, "speedCommand")[599]).toBeCloseTo(last.ref, 2);
  expect(channel(recording, "speed")[599]).toBeCloseTo(last.v, 1);
  // 1 N.m is 141.61 ounce-force inches (NIST SP 811, table of conversion factors: 1 ozf in = 7.061552 mN.m).
  expect(channel(recording, "torque")[599]).toBeCloseTo((141.6 * last.i * 7.061552e-3) as number, 2);
});

test("inches and feet are lengths, a unit may stand first, and pairs of X and Y may have a unit behind", async () => {
  const [inches] = await read([
    "t_s,Xcmd in,Xenc in,feed ipm,Hz ref,Motor A rms",
    ...rows().map(({ k, ref, v, i }) =>
      [0.01 * k, 0.001 * k, (0.001 * k).toFixed(4), 10 * v, ref, i].join(","),
    ),
  ]);
  // UCUM codes; 1 in = 25.4 mm exactly (NIST SP 811).
  expect(inches.understanding?.map((c) => c.unit)).toEqual([
    "s",
    "[in_i]",
    "[in_i]",
    "[in_i]/min",
    "Hz",
    "A",
  ]);
  const [pairs] = await read([
    "SpeedRef X;SpeedRef Y (rpm);SpeedAct X;SpeedAct Y (rpm)",
    ...rows().map(({ k, ref, v }) => [0.01 * k, 10 * ref, 0.01 * k + 0.001, 10 * v].join(";")),
  ]);
  expect(pairs.understanding?.map((c) => c.role)).toEqual(["time", "speedCommand", "time", "speed"]);
});

test("code pages of one byte in other scripts are told by words of the trade", async () => {
  // Bytes of ISO 8859-7 and of windows-1255, koi8-r, from the Encoding Standard's tables (Intl of the runtime).
  for (const [encoding, heading, name] of [
    ["windows-1253", "Χρόνος (s);Ταχύτητα (rpm);Ρεύμα (A)", "Ταχύτητα (rpm)"],
    ["windows-1255", "זמן (s);מהירות (rpm);זרם (A)", "מהירות (rpm)"],
    ["koi8-r", "время (s);скорость (rpm);ток (A)", "скорость (rpm)"],
    ["ibm866", "время (s);скорость (rpm);ток (A)", "скорость (rpm)"],
  ] as const) {
    const table = new TextDecoder(encoding).decode(Uint8Array.from({ length: 256 }, (_, b) => b));
    const lines = [heading, ...rows().map(({ k, v, i }) => [0.01 * k, 10 * v, i].join(";"))].join("\n");
    const file = join(folder, `${encoding}.csv`);
    await writeFile(
      file,
      Uint8Array.from(lines, (c) => (c.charCodeAt(0) < 128 ? c.charCodeAt(0) : table.indexOf(c))),
    );
    const { recordings } = await readRecordings([file]);
    expect(recordings[0].channels.speed?.name).toBe(name);
  }
});

test("what is called by its motor alone is of that motor where others are", async () => {
  const all = await read([
    "t_s,FL_set_rpm,FL_rpm,FL_A,RR_set_rpm,RR_rpm,RR_A",
    ...rows().map(({ k, ref, v, i }) => [0.01 * k, 10 * ref, 10 * v, i, -10 * ref, -10 * v, -i].join(",")),
  ]);
  expect(all.map(({ channels }) => channels.current?.name)).toEqual(["FL_A", "RR_A"]);
});

test("a scale of ten without a unit is of the unit that the quantity is usually written in", async () => {
  const [recording] = await read([
    "t_ms,Desired f x10,Actual f x10,Current x100",
    ...rows().map(({ k, ref, v, i }) =>
      [10 * k, Math.round(10 * ref), Math.round(10 * v), Math.round(100 * i)].join(","),
    ),
  ]);
  expect(recording.understanding?.map((c) => c.unit)).toEqual(["ms", "Hz", "Hz", "A"]);
  expect(channel(recording, "current")[599]).toBeCloseTo(rows()[599].i, 1);
});

test("a name that speaks of another kind of trial than the log shows is told", async () => {
  const [recording] = await read(
    ["t_s,rpm_set,rpm,iq_A", ...rows().map(({ k, ref, v, i }) => [0.01 * k, 10 * ref, 10 * v, i].join(","))],
    "VUW torque test 2.csv",
  );
  expect(runOf(recording).checks.map((f) => f.code)).toContain("kind-contradicts");
  const [plain] = await read(
    ["t_s,rpm_set,rpm,iq_A", ...rows().map(({ k, ref, v, i }) => [0.01 * k, 10 * ref, 10 * v, i].join(","))],
    "VUW speed test 2.csv",
  );
  expect(runOf(plain).checks.map((f) => f.code)).not.toContain("kind-contradicts");
});
