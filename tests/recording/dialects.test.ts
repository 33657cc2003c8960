import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { type ReadOptions, type Recording, readRecordings } from "../../lib/recording/index.js";
import { lines, scenario } from "./scenario.js";

const here = join(import.meta.dirname, "files");
const truth = scenario();
const encoder = { lines };
const folder = mkdtempSync(join(tmpdir(), "dialects-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function one(name: string, options: ReadOptions = {}): Promise<Recording> {
  const { recordings, problems } = await readRecordings([join(here, name)], { encoder, ...options });
  expect(problems).toEqual([]);
  expect(recordings.length).toBe(1);
  return recordings[0];
}

/** Every value against the scenario: half a unit of the last digit written, and the rounding of its conversion. */
function expectScenario(recording: Recording, from = 0, to = truth.time.length): void {
  const { time, channels } = recording;
  expect(time.length).toBe(to - from);
  const start = time[0] - truth.time[from];
  const perCount = (2 * Math.PI) / (4 * lines);
  let worst = 0;
  for (let i = from; i < to; i += 1) {
    worst = Math.max(
      worst,
      Math.abs(time[i - from] - start - truth.time[i]) / 1e-6,
      Math.abs((channels.currentCommand?.data[i - from] ?? Number.NaN) - truth.command[i]) / 1e-12,
      Math.abs((channels.current?.data[i - from] ?? Number.NaN) - truth.current[i]) / 0.51e-4,
      Math.abs((channels.speed?.data[i - from] ?? Number.NaN) - truth.speed[i]) /
        ((0.51e-3 * 2 * Math.PI) / 60),
      Math.abs((channels.position?.data[i - from] ?? Number.NaN) - truth.counts[i] * perCount) / 1e-12,
    );
  }
  expect(worst).toBeLessThan(1);
}

describe("each dialect gives the same recording", () => {
  test.each([
    "comma.csv",
    "byte-order-mark.csv",
    "windows-line-ends.csv",
    "old-line-ends.csv",
    "tabs.tsv",
    "bars.txt",
    "blanks.txt",
    "utf-16-little.csv",
    "utf-16-big.csv",
    "latin-1-german.csv",
    "french.csv",
    "spanish.csv",
    "chinese.csv",
    "comments.csv",
    "comments-between.csv",
    "units-row.csv",
    "slash-units.csv",
    "quoted.csv",
    "empty-last-column.csv",
    "thousands.csv",
    "milliseconds.csv",
    "microseconds.csv",
    "microseconds-wrapping.csv",
    "iso-stamps.csv",
    "german-stamps.csv",
    "time-of-day.csv",
    "comma.csv.gz",
    "comma.csv.zst",
    "table.parquet",
    "table.arrow",
    "log.h5",
  ])("%s", async (name) => {
    const recording = await one(name);
    expectScenario(recording);
    expect(recording.findings.filter((f) => f.severity !== "note")).toEqual([]);
  });

  test("no header: by a mapping and units", async () => {
    const recording = await one("no-header.csv", {
      map: { time: "#1", currentCommand: "#2", current: "#3", speed: "#4", position: "#5" },
      unit: { time: "s", currentCommand: "A", current: "A", "#4": "rpm", position: "counts" },
    });
    expectScenario(recording);
    expect(recording.channels.speed?.recognisedBy).toBe("--map, unit from --unit");
  });

  test("a sample counter with a stated rate", async () => {
    const recording = await one("sample-counter.csv", { rate: 1000 });
    expectScenario(recording);
    expect(recording.source?.time).toBe("sample counter at 1000 per second");
  });

  test("a MAT-file 7.3 without units: SI and counts are assumed, and said", async () => {
    const recording = await one("log-7.3.mat");
    expectScenario(recording);
    expect(recording.findings.filter((f) => f.code === "unit-assumed").length).toBe(4);
  });

  test("stamps keep their origin", async () => {
    expect((await one("iso-stamps.csv")).source?.startedAt).toBe("2026-11-24T23:59:59.900Z");
    expect((await one("german-stamps.csv")).source?.startedAt).toBe("2026-11-24T23:59:59.900Z");
  });

  test("what a preamble states is taken, and told", async () => {
    const recording = await one("latin-1-german.csv");
    expect(recording.ordering).toBe("VUW");
    expect(recording.motor).toBe("roller-07");
    expect(recording.findings.map((f) => f.code)).toContain("facts-in-file");
  });

  test("a run column parts one file into recordings", async () => {
    const { recordings } = await readRecordings([join(here, "runs.csv")], { encoder });
    expect(recordings.map((r) => r.path.split("#")[1])).toEqual(["run=first", "run=second"]);
    for (const recording of recordings) expectScenario(recording);
  });

  test("files numbered in a row are one log when time goes on, and not when each begins anew", async () => {
    const { recordings } = await readRecordings([join(here, "split-1.csv"), join(here, "split-2.csv")], {
      encoder,
    });
    expect(recordings.length).toBe(1);
    expectScenario(recordings[0]);
    expect(recordings[0].source?.files.length).toBe(2);
    const text = "time [s],i_q [A]\n0,1\n0.001,1\n0.002,1\n0.003,1\n";
    for (const k of [1, 2]) writeFileSync(join(folder, `run${k}.csv`), text);
    const apart = await readRecordings([join(folder, "run1.csv"), join(folder, "run2.csv")]);
    expect(apart.recordings.length).toBe(2);
  });
});

describe("what is broken is told, and the rest is kept", () => {
  test("rows that cannot be parsed are counted and listed by line; a cut last row is left out", async () => {
    const recording = await one("broken-rows.csv");
    const by = (code: string) => recording.findings.find((f) => f.code === code);
    expect(by("cells-not-numbers")).toMatchObject({ value: 1, row: 52 });
    expect(by("cells-not-numbers")?.message).toContain('"oops"');
    expect(by("rows-too-short")).toMatchObject({ value: 1, row: 72 });
    expect(by("rows-not-read")).toMatchObject({ value: 1, row: 92 });
    expect(by("truncated")).toMatchObject({ row: 202 });
    // 201 rows were written: one has a field too many, one is cut off.
    expect(recording.time.length).toBe(199);
    expect(recording.channels.current?.data.filter((v) => Number.isNaN(v)).length).toBe(1);
  });

  test("a gzip file that breaks off is read up to its last whole row", async () => {
    const recording = await one("cut-off.csv.gz");
    expect(recording.findings.map((f) => f.code)).toContain("truncated");
    expect(recording.time.length).toBeGreaterThan(100);
    expectScenario(recording, 0, recording.time.length);
  });

  test("a JSON line that breaks off is counted; the rest is read", async () => {
    const recording = await one("lines.jsonl");
    expectScenario(recording);
    expect(recording.findings.find((f) => f.code === "rows-not-read")).toMatchObject({ value: 1, row: 241 });
  });

  test.each([
    ["empty.csv", "", "empty-file"],
    ["letter.txt", "Dear customer,\nplease find the log attached.\n", "no-numbers"],
    ["zeros.bin.csv", Buffer.concat([Buffer.from("time,i\n"), Buffer.alloc(400)]), "not-a-table"],
    ["sheet.csv", Buffer.from("PK\u0003\u0004 something"), "format"],
    [
      "wide.csv",
      `${Array.from({ length: 3000 }, (_, i) => `c${i}`).join(",")}\n${"1,".repeat(2999)}1\n`,
      "too-many-columns",
    ],
    ["no-time.csv", "current [A],speed [rpm]\n1,2\n1,2\n", "no-time"],
    ["only-time.csv", "time [s],colour\n1,2\n2,2\n", "no-channels"],
    ["wrong-unit.csv", "time [A],current [A]\n1,2\n2,2\n", "no-time"],
    ["cut.parquet", Buffer.from("PAR1 then nothing"), "not-parquet"],
    ["cut.arrow", Buffer.from("ARROW1 then nothing"), "not-arrow"],
    ["cut.h5", Buffer.from("\u0089HDF\r\n\u001a\n then nothing", "latin1"), "not-hdf5"],
    ["cut.mat", Buffer.from(`${"MATLAB 5.0 MAT-file".padEnd(124, " ")}\u0000\u0001`, "latin1"), "no"],
  ])("%s is refused in one line that says what to do", async (name, content, code) => {
    const file = join(folder, name);
    writeFileSync(file, content);
    const { recordings, problems } = await readRecordings([file, join(here, "comma.csv")], { encoder });
    // The rest of the batch is read all the same.
    expect(recordings.length).toBe(1);
    expect(problems.length).toBe(1);
    expect(problems[0].code).toContain(code);
    expect(problems[0].file).toBe(file);
    expect(problems[0].message).not.toContain("\n");
  });

  test("a missing file, a folder without recordings", async () => {
    const { problems } = await readRecordings([join(folder, "nowhere.csv"), join(here, "..", "..", "house")]);
    expect(problems.map((p) => p.code)).toEqual(["cannot-open", "empty-folder"]);
  });

  test("a mapping that names no column or no role is told", async () => {
    const { recordings } = await readRecordings([join(here, "comma.csv")], {
      encoder,
      map: { torque: "nothing", colour: "#1" },
    });
    expect(recordings[0].findings.filter((f) => f.code === "map").length).toBe(2);
  });

  test("names that hold escapes, formulas and markup, and paths that look like patterns", async () => {
    const file = join(folder, "a*b?[1] 'x' <b>.csv");
    writeFileSync(
      file,
      'time [s],"=cmd()|i_q [A]","<script>alert(1)</script>","\u001b[2Jspeed [rpm]"\n0,1,2,3\n0.001,1,2,3\n0.002,1,2,3\n',
    );
    const { recordings, problems } = await readRecordings([file], { map: { current: "#2", speed: "#4" } });
    expect(problems).toEqual([]);
    expect(recordings[0].channels.current?.data[0]).toBe(1);
    expect(recordings[0].source?.unused[0].name).toContain("<script>");
  });
});

describe("descriptors", () => {
  test("resource facts overlay those of the package; paths that leave the folder are refused", async () => {
    const file = join(folder, "described.csv");
    writeFileSync(file, "a,b,c\n0,1,0\n1,2,0\n2,3,0\n");
    writeFileSync(
      join(folder, "datapackage.json"),
      JSON.stringify({
        name: "x",
        shaftwise: { motor: "m1", machine: { polePairs: 4, resistance: -1 }, drive: { busVoltage: 24 } },
        resources: [
          {
            name: "described",
            path: "described.csv",
            shaftwise: {
              ordering: "V-U-W",
              drive: { busVoltage: 48 },
              trials: [
                { kind: "torque", start: 0, end: 0.002 },
                { kind: "dance", start: 0, end: 1 },
              ],
            },
            schema: {
              fields: [
                { name: "a", unit: "ms", role: "time" },
                { name: "b", unit: "mA", role: "current" },
                { name: "c", unit: "deg", role: "position" },
              ],
            },
          },
          { name: "leaving", path: "../secret.csv" },
          { name: "url", path: "https://example.org/x.csv" },
        ],
      }),
    );
    const { recordings, problems } = await readRecordings([folder]);
    expect(recordings.length).toBe(1);
    const [recording] = recordings;
    expect(recording).toMatchObject({
      ordering: "VUW",
      motor: "m1",
      machine: { polePairs: 4 },
      drive: { busVoltage: 48 },
    });
    expect(recording.declaredTrials).toEqual([{ kind: "torque", start: 0, end: 0.002 }]);
    expect([...recording.time]).toEqual([0, 0.001, 0.002]);
    expect([...(recording.channels.current?.data ?? [])]).toEqual([0.001, 0.002, 0.003]);
    // The files of other tests stand beside the descriptor, and it does not list them.
    const codes = problems.map(({ code }) => code);
    expect(codes.filter((code) => code === "descriptor").length).toBe(4);
    expect(codes.filter((code) => code !== "descriptor")).toEqual(["not-listed"]);
    rmSync(join(folder, "datapackage.json"));
  });
});
