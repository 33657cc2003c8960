import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import * as xlsx from "@e965/xlsx";
import { afterAll, describe, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-shapes-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, speedCommand, speed, current, position } = runTrial("speed", machines.small, 7);
const rows = time.length;

async function read(name: string, content: string | Uint8Array): Promise<Recording[]> {
  const file = join(folder, name);
  writeFileSync(file, content);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems.filter((p) => p.severity === "error")).toEqual([]);
  return [...recordings];
}

const fixed = (values: Float64Array, digits: number): string[] =>
  Array.from(values, (v) => v.toFixed(digits));

describe("time along the rows", () => {
  const lines = (unit: (u: string) => string[]): string[][] => [
    ["Time", ...unit("s"), ...fixed(time, 4)],
    ["Speed setpoint", ...unit("rad/s"), ...fixed(speedCommand, 2)],
    ["Speed", ...unit("rad/s"), ...fixed(speed, 3)],
    ["Current", ...unit("A"), ...fixed(current, 3)],
  ];

  test.each([",", ";", "\t"])("a name and a unit before the values, parted by %j", async (delimiter) => {
    const text = `Bench 4\n${lines((u) => [u])
      .map((l) => l.join(delimiter))
      .join("\n")}\n`;
    const [log] = await read("along.csv", text);
    expect(log.time.length).toBe(rows);
    expect(log.channels.current?.data[300]).toBeCloseTo(current[300], 3);
    expect(Object.keys(log.channels).sort()).toEqual(["current", "speed", "speedCommand"]);
  });

  test("in a sheet", async () => {
    const book = xlsx.utils.book_new();
    xlsx.utils.book_append_sheet(book, xlsx.utils.aoa_to_sheet(lines((u) => [u])), "run");
    const [log] = await read("along.xlsx", xlsx.write(book, { type: "buffer", bookType: "xlsx" }));
    expect(log.time.length).toBe(rows);
    expect(log.channels.speed?.data[300]).toBeCloseTo(speed[300], 3);
  });
});

describe("numbers in base sixteen", () => {
  const hex = (v: number, digits: number): string =>
    (v < 0 ? v + 16 ** digits : v % 16 ** digits).toString(16).toUpperCase().padStart(digits, "0");
  const counts = Array.from(position, (v) => Math.round((v * 2048) / (2 * Math.PI)));
  const amps = Array.from(current, (v) => Math.round(1000 * v));

  test.each([
    ["0x", ""],
    ["", "h"],
    ["", ""],
  ])("written as %s1F3A%s", async (before, after) => {
    const text = counts.map(
      (c, k) =>
        `${Math.round(1000 * time[k])},${before}${hex(c, 8)}${after},${before}${hex(amps[k], 4)}${after}`,
    );
    const [log] = await read("hex.csv", `t_ms,enc_counts,i_mA\n${text.join("\n")}\n`);
    // Two's complement (ISO/IEC 9899, from memory): what lies at both ends of the range is signed.
    for (const k of [0, 200, 500, 899]) {
      expect(log.channels.current?.data[k]).toBeCloseTo(amps[k] / 1000, 9);
      expect(log.unscaled?.position?.data[k] ?? log.channels.position?.data[k]).toBeDefined();
    }
    expect(log.unscaled?.position?.data[500]).toBe(counts[500]);
  });
});

describe("one value a line", () => {
  test("topics as robots print them: nested keys, lists named by a list of words, rules between", async () => {
    const text = Array.from(time, (t, k) =>
      [
        "header:",
        `  seq: ${k}`,
        "  stamp:",
        `    secs: ${1_700_000_000 + Math.floor(t + 0.9)}`,
        `    nsecs: ${Math.round(((t + 0.9) % 1) * 1e9)}`,
        "  frame_id: ''",
        "name: ['wheel', 'lift']",
        `position: [${position[k].toFixed(4)}, 0.25]`,
        `velocity: [${speed[k].toFixed(3)}, 0.0]`,
        `effort: [${current[k].toFixed(3)}, 0.1]`,
      ].join("\n"),
    ).join("\n---\n");
    const logs = await read("topic.txt", text);
    const wheel = logs.find((l) => l.motor === "wheel");
    expect(wheel?.time.length).toBe(rows);
    expect((wheel?.time[600] ?? 0) - (wheel?.time[0] ?? 0)).toBeCloseTo(time[600], 6);
    expect(wheel?.channels.position?.data[600]).toBeCloseTo(position[600], 3);
    expect(wheel?.channels.speed?.data[600]).toBeCloseTo(speed[600], 2);
  });

  test("lists over several lines, keys that begin anew without a rule", async () => {
    const text = Array.from(
      time,
      (t, k) =>
        `Time: ${Math.round(1000 * t)}\nSetpoint: ${speedCommand[k].toFixed(0)}\nRPM: ${speed[k].toFixed(1)}\n`,
    ).join("\n");
    const [log] = await read("print.txt", text);
    expect(log.time.length).toBe(rows);
    expect(log.channels.speed).toBeDefined();
  });
});

test("settings by channel above values without a time: labels, scales of probes, dividers", async () => {
  const text = [
    "Sample interval,0.005,s",
    "Channel,CH1,CH2",
    "Label,Motor current,Motor voltage",
    "Probe,50 mV/A,1:20",
    "Vertical unit,V,V",
    "Coupling,DC,DC",
    "",
    ...Array.from(current, (i, k) => `${(0.05 * i).toFixed(5)},${(0.04 * speed[k]).toFixed(4)}`),
  ].join("\n");
  const [log] = await read("scope.csv", text);
  expect(log.time[rows - 1]).toBeCloseTo(0.005 * (rows - 1), 9);
  expect(log.channels.current?.data[300]).toBeCloseTo(current[300], 3);
  expect(log.channels.voltage?.data[300]).toBeCloseTo(20 * 0.04 * speed[300], 2);
});

test("an OpenDocument sheet without its styles", async () => {
  const book = xlsx.utils.book_new();
  const cells = [["t [s]", "n [rpm]", "I [A]"], ...Array.from(time, (t, k) => [t, speed[k], current[k]])];
  xlsx.utils.book_append_sheet(book, xlsx.utils.aoa_to_sheet(cells), "run");
  const whole = xlsx.write(book, { type: "buffer", bookType: "ods" });
  const parts = xlsx.CFB.read(whole, { type: "buffer" });
  xlsx.CFB.utils.cfb_del(parts, "/styles.xml");
  expect(parts.FullPaths.join(" ")).not.toContain("/styles.xml");
  const [log] = await read("bare.ods", xlsx.CFB.write(parts, { fileType: "zip", type: "buffer" }));
  expect(log.time.length).toBe(rows);
});

describe("several devices or kinds of record one below the other", () => {
  const moving = (k: number): number => (k < 300 ? speed[k] : 0);

  test("rows of two drives told apart by a number", async () => {
    const text = Array.from(
      time,
      (t, k) =>
        `1,${Math.round(1000 * t)},${speed[k].toFixed(2)},${current[k].toFixed(3)}\n2,${Math.round(1000 * t)},${(0.5 * moving(k)).toFixed(2)},${(2 * current[k]).toFixed(3)}`,
    );
    const logs = await read("nodes.csv", `node,ms,speed [rad/s],iq [A]\n${text.join("\n")}\n`);
    expect(logs.map((l) => [l.motor, l.time.length])).toEqual([
      ["1", rows],
      ["2", rows],
    ]);
    expect(logs[1].channels.current?.data[400]).toBeCloseTo(2 * current[400], 2);
  });

  test("a counter that begins anew tells no devices apart", async () => {
    const text = Array.from(
      time,
      (t, k) => `${k % 16},${Math.round(1000 * t)},${speed[k].toFixed(2)},${current[k].toFixed(3)}`,
    );
    const logs = await read("counter.csv", `seq,ms,speed [rad/s],iq [A]\n${text.join("\n")}\n`);
    expect(logs.map((l) => l.time.length)).toEqual([rows]);
  });

  test("kinds of record that lines begin with, described by another kind", async () => {
    const text = Array.from(
      time,
      (t, k) =>
        `DRV,${Math.round(1e6 * t)},${speed[k].toFixed(2)},${current[k].toFixed(3)}${k % 10 === 0 ? `\nBAT,${Math.round(1e6 * t)},24.1` : ""}`,
    );
    const logs = await read(
      "kinds.log",
      `FMT,1,DRV,TimeUS,speed [rad/s],iq [A]\nFMT,2,BAT,TimeUS,Volt\nMSG,0,armed\n${text.join("\n")}\n`,
    );
    const drive = logs.find((l) => l.channels.speed !== undefined);
    expect(drive?.time.length).toBe(rows);
    expect(drive?.channels.current?.data[400]).toBeCloseTo(current[400], 3);
    expect(drive?.time[600]).toBeCloseTo(time[600], 5);
  });

  test("a key before each value of the heading, a time before each value of the rows", async () => {
    const text = Array.from(time, (t, k) => [t, speed[k], t, current[k]].map((v) => v.toFixed(4)).join("\t"));
    const [log] = await read(
      "pairs.txt",
      `Name\tAxis speed\tName\tAxis current\nType\tREAL\tType\tREAL\nUnit\trad/s\tUnit\t1/1000 A\n${text.join("\n")}\n`,
    );
    expect(log.channels.speed?.data[300]).toBeCloseTo(speed[300], 3);
    expect(log.channels.current?.data[300]).toBeCloseTo(current[300] / 1000, 6);
  });
});

test("a row of units whose first cell is empty stays below its names, also where a line may begin with a remark's semicolon", async () => {
  const lines = Array.from(time, (t, k) =>
    [t.toFixed(4), speedCommand[k].toFixed(2), speed[k].toFixed(3), current[k].toFixed(3)].join(";"),
  );
  const [log] = await read("leere-einheit.csv", `Zeit;Soll;Ist;Strom\n;rad/s;rad/s;A\n${lines.join("\n")}\n`);
  expect(log.time.length).toBe(rows);
  expect(log.channels.speedCommand?.sourceUnit).toBe("rad/s");
  expect(log.channels.current?.sourceUnit).toBe("A");
});

test("rows written over several lines, a labelled value in each", async () => {
  const records = Array.from(time, (t, k) =>
    [
      `--- sample ${k} ---`,
      `Time: ${(1000 * t).toFixed(1)} ms`,
      `Target: ${speedCommand[k].toFixed(2)} rad/s`,
      `Speed: ${speed[k].toFixed(3)} rad/s`,
      `Current: ${(1000 * current[k]).toFixed(0)} mA`,
    ].join("\n"),
  );
  const [log] = await read("over-lines.txt", `Motor: 7\n${records.join("\n")}\n`);
  expect(log.time.length).toBe(rows);
  expect(log.time[rows - 1] - log.time[0]).toBeCloseTo(time[rows - 1] - time[0], 3);
  expect(log.channels.current?.sourceUnit).toBe("mA");
  expect(Object.keys(log.channels)).toEqual(expect.arrayContaining(["speed", "speedCommand", "current"]));
});

test("the place of a field in brackets is no unit, and its name follows", async () => {
  const names = ["t", "motor[1].velocity", "motor[1].velocity_setpoint", "motor[1].current"];
  const lines = Array.from(time, (t, k) =>
    [t.toFixed(4), speed[k].toFixed(3), speedCommand[k].toFixed(2), current[k].toFixed(3)].join(","),
  );
  const [log] = await read("places.csv", `${names.join(",")}\n${lines.join("\n")}\n`);
  expect(log.channels.speed?.name).toBe("motor[1].velocity");
  expect(log.channels.speedCommand?.name).toBe("motor[1].velocity_setpoint");
  expect(log.channels.current?.name).toBe("motor[1].current");
});
