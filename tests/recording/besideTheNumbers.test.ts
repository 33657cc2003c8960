import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { labelsOfChannels } from "../../lib/recording/formats/channelRemarks.js";
import { scaleIn } from "../../lib/recording/formats/scaleIn.js";
import { unitsByPlace } from "../../lib/recording/formats/unitsByPlace.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-beside-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, speedCommand, speed, current } = runTrial("speed", machines.small, 7);

async function read(name: string, lines: readonly string[]): Promise<Recording> {
  const file = join(folder, name);
  writeFileSync(file, `${lines.join("\n")}\n`);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems.filter((p) => p.severity === "error")).toEqual([]);
  expect(recordings.length).toBe(1);
  return recordings[0];
}

const rows = (cells: (i: number) => readonly string[], join = ","): string[] =>
  Array.from(time, (_, i) => cells(i).join(join));

/** A checksum of two digits in base sixteen: some look like numbers (`06`, `81`), most like words. The first rows are
 * as a frame counter would have them: nearly all of them numbers, the very first a word. */
const checksum = (i: number): string =>
  (i === 0 ? 0xc8 : i < 12 ? [0x06, 0x34, 0x81, 0x52, 0xa6, 0x17][i % 6] : (i * 37) & 0xff)
    .toString(16)
    .toUpperCase()
    .padStart(2, "0");

describe("a checksum behind the values", () => {
  test("takes neither the heading nor the first row away", async () => {
    const log = await read("sums.csv", [
      "t_s,n_set_rpm,n_act_rpm,i_A,sum",
      ...rows((i) => [
        time[i].toFixed(4),
        (speedCommand[i] * 9.5493).toFixed(0),
        (speed[i] * 9.5493).toFixed(1),
        current[i].toFixed(3),
        checksum(i),
      ]),
    ]);
    expect(log.time.length).toBe(time.length);
    expect(Object.keys(log.channels).sort()).toEqual(["current", "speed", "speedCommand"]);
    expect(log.channels.speed?.sourceUnit).toBe("{rev}/min");
  });
});

describe("units below some columns of fixed width", () => {
  test("belong to the names they stand under", async () => {
    const pad = (cells: readonly string[]): string => cells.map((c) => c.padStart(13)).join("");
    const log = await read("fixed.dat", [
      pad(["TIME", "J1_VELCMD", "J1_VEL", "MODE", "J1_CUR"]),
      pad(["[s]", "[deg/s]", "[deg/s]", "", "[A]"]),
      ...rows((i) => [
        pad([
          time[i].toFixed(4),
          ((speedCommand[i] * 180) / Math.PI).toFixed(2),
          ((speed[i] * 180) / Math.PI).toFixed(2),
          "AUTO",
          current[i].toFixed(3),
        ]),
      ]),
    ]);
    expect(log.channels.speed?.sourceUnit).toBe("deg/s");
    expect(log.channels.speed?.data[300]).toBeCloseTo(speed[300], 3);
    expect(log.channels.current?.sourceUnit).toBe("A");
  });

  test("are left where a word is none, or two stand under one name", () => {
    const isUnit = (w: string): boolean => w.startsWith("[");
    expect(unitsByPlace(" TIME   POS  MODE", "  [s] [deg]", isUnit)).toEqual(["[s]", "[deg]", ""]);
    expect(unitsByPlace(" TIME   POS  MODE", "  [s]  off", isUnit)).toBeUndefined();
    expect(unitsByPlace(" TIMEOFDAY POS MODE", " [s] [ms]", isUnit)).toBeUndefined();
  });
});

describe("what a remark says of a channel that is only numbered", () => {
  test.each([
    ["CH1 armature current via shunt,CH2 tacho", ["armature current via shunt", "tacho"]],
    ["Kanal 1: Strom; Kanal 2: Drehzahl", ["Strom", "Drehzahl"]],
    ["CH1 = motor current and CH2 = shaft speed", ["motor current", "shaft speed"]],
    ["CH1 DC 500mV CH2 DC 1V", [undefined, undefined]],
    ["CH1 coupling: DC, CH2 probe: 10", [undefined, undefined]],
  ])("%s", (remark, labels) => {
    expect(labelsOfChannels(["TIME", "CH1", "CH2"], [remark])).toEqual([undefined, ...labels]);
  });

  test("is used, and the channel keeps its name", async () => {
    const log = await read("capture.csv", [
      "Channels,2,CH1 armature current,CH2 shaft speed",
      "",
      "TIME,CH1,CH2",
      ...rows((i) => [time[i].toFixed(5), current[i].toFixed(3), speed[i].toFixed(3)]),
    ]);
    expect(log.channels.current?.name).toBe("CH1");
    expect(log.understanding?.find((c) => c.column === "CH2")?.role).toBe("speed");
  });
});

describe("the scale of a tacho in a remark", () => {
  test("is that of the column it names", async () => {
    const log = await read("tacho.csv", [
      "tacho 3.34 V per 100 rad/s (pin 3)",
      "",
      "Time(s),Motor Current(A),Tacho(V)",
      ...rows((i) => [time[i].toFixed(5), current[i].toFixed(3), (speed[i] * 0.0334).toFixed(5)]),
    ]);
    expect(log.channels.speed?.data[300]).toBeCloseTo(speed[300], 2);
  });

  test("as people write it", () => {
    expect(scaleIn("7 V pro 1000 U/min")).toBe("0.007 V/rpm");
    expect(scaleIn("0.5 V per rad/s")).toBe("0.5 V = 1 rad/s");
    expect(scaleIn("3.34 V per 100 rad")).toBeUndefined();
  });
});

test("a linear axis in micrometres that is held is blocked, not undetermined", async () => {
  const target = (t: number): number => (t < 0.1 ? 0 : Math.min(39_000, (t - 0.1) * 200_000));
  const log = await read("axis.csv", [
    "t_ms,pos_cmd_um,pos_um,i_A",
    ...rows((i) => [
      (time[i] * 1000).toFixed(1),
      target(time[i]).toFixed(0),
      time[i] < 0.15 ? "0" : "25",
      (time[i] < 0.15 ? 0.02 * Math.sin(i) : 8 + 0.02 * Math.sin(i)).toFixed(3),
    ]),
  ]);
  const [trial] = diagnose([{ recording: log, trials: runOf(log).trials }]).recordings[0].trials;
  expect(trial.kind).toBe("position");
  expect(trial.verdict).toBe("blocked");
});

test("a field current beside a torque current is the one across it; by itself it is of a winding", async () => {
  const heading = (first: string): string => `t/ms,Speed act/rpm,${first} current act/A,Field current act/A`;
  const lines = rows((i) => [
    (time[i] * 1000).toFixed(1),
    (speed[i] * 9.5493).toFixed(1),
    current[i].toFixed(3),
    (0.05 * Math.sin(7.1 * i)).toFixed(3),
  ]);
  const roleOf = async (first: string) =>
    (await read(`${first}.csv`, [heading(first), ...lines])).understanding?.find((c) =>
      c.column.startsWith("Field"),
    )?.role;
  expect(await roleOf("Torque")).toBe("currentD");
  expect(await roleOf("Armature")).toBeUndefined();
});
