import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { numberForms } from "../../lib/recording/formats/numberForms.js";
import { openTables } from "../../lib/recording/formats/openTable.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import { findEncoding } from "../../lib/recording/formats/textEncoding.js";
import type { TextOptions } from "../../lib/recording/formats/textLines.js";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "habits-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** The tables of a text. */
async function tables(
  text: string | Buffer,
  options: TextOptions = {},
  name = "log.txt",
): Promise<SourceTable[]> {
  const path = join(folder, name);
  writeFileSync(path, text);
  return openTables(path, options);
}

async function table(text: string | Buffer, options: TextOptions = {}): Promise<SourceTable> {
  const all = await tables(text, options);
  expect(all.length).toBe(1);
  return all[0];
}

const names = (t: SourceTable): string[] => t.columns.map((c) => c.name);
const units = (t: SourceTable): (string | undefined)[] => t.columns.map((c) => c.unit);
async function values(t: SourceTable, k: number): Promise<number[]> {
  return [...(await t.read([k])).columns[0]];
}

const rows = (n: number, row: (i: number) => string): string =>
  Array.from({ length: n }, (_, i) => row(i)).join("\n");

describe("headings that do not quite fit", () => {
  test.each([
    ["one cell more, a remark at the end", "n t[s] u[V] note\n", ["n", "t[s]", "u[V]"]],
    ["one cell less, before a counter", "t[s] u[V]\n", ["column 1", "t[s]", "u[V]"]],
    ["behind a comment mark", "% n t[s] u[V]\n", ["n", "t[s]", "u[V]"]],
    ["with other delimiters than the rows", "# n, t[s], u[V]\n", ["n", "t[s]", "u[V]"]],
    ["a setting in a comment is none", "# rows: 700\n# columns: 3\n", ["column 1", "column 2", "column 3"]],
  ])("%s", async (_what, heading, expected) => {
    const t = await table(`${heading}${rows(30, (i) => `${i} ${(i / 50).toFixed(2)} ${(i % 5) + 0.5}`)}\n`);
    expect(names(t)).toEqual(expected);
    expect((await values(t, 1)).length).toBe(30);
  });

  test("a row of units with one odd cell, and one that says only that it is one", async () => {
    const body = rows(20, (i) => `${i},${i * 2},${i % 3}`);
    expect(units(await table(`time,speed,state\ns,rpm,text\n${body}\n`))).toEqual(["s", "rpm", "text"]);
    const scope = "Name;iq;Name;n\nUnit;A;Unit;rpm\nSampling [ms];50;Sampling [ms];50\n";
    const t = await table(`${scope}${rows(20, (i) => `${i * 50},0;0,${i % 9};${i * 50},0;${i},5`)}\n`);
    expect(names(t)).toEqual(["Name", "iq", "Name", "n"]);
    expect(units(t)).toEqual(["ms", "A", "ms", "rpm"]);
  });

  test("groups over two lines", async () => {
    const t = await table(
      `,current,,speed,\ntime,set,actual,set,actual\ns,A,A,rpm,rpm\n${rows(20, (i) => `${i},1,2,3,4`)}\n`,
    );
    expect(names(t)).toEqual(["time", "current set", "current actual", "speed set", "speed actual"]);
  });
});

describe("rows in other clothes", () => {
  test("each row quoted whole", async () => {
    const t = await table(`"time [s],i [A]"\n${rows(20, (i) => `"${i / 10},${i}"`)}\n`);
    expect(names(t)).toEqual(["time [s]", "i [A]"]);
    expect(await values(t, 1)).toEqual(Array.from({ length: 20 }, (_, i) => i));
  });

  test.each([
    ["target=%d angle=%d.5 pwm=0", ["target", "angle", "pwm"]],
    ["T:%d P:%d.5 U:0.25", ["T", "P", "U"]],
    ["pos: %d deg, vel: %d.5 rpm", ["pos [deg]", "vel [rpm]"]],
  ])("values behind their labels: %s", async (line, expected) => {
    const t = await table(`--- log opened ---\n${rows(25, (i) => line.replaceAll("%d", `${i}`))}\n`);
    expect(names(t)).toEqual(expected);
    expect((await values(t, 1))[7]).toBe(7.5);
  });

  test("a serial monitor's time of day before rows, or before labels", async () => {
    const clock = (i: number): string =>
      `14:02:${String(11 + Math.floor(i / 20)).padStart(2, "0")}.${String((i % 20) * 50).padStart(3, "0")}`;
    const labelled = await table(`${rows(60, (i) => `${clock(i)} -> Setpoint:${i},Input:${i}.5`)}\n`);
    expect(names(labelled)).toEqual(["time stamp", "Setpoint", "Input"]);
    expect((await values(labelled, 0))[21]).toBeCloseTo(1.05, 9);
    const plain = await table(`${rows(60, (i) => `${clock(i)} -> ${i}  ${i * 2}  5`)}\n`);
    expect(plain.columns.length).toBe(4);
    expect((await values(plain, 2))[3]).toBe(6);
  });

  test("the unit in every cell, also where it changes, and a dash for a value that is missing", async () => {
    const t = await table(
      `t,speed,current\n${rows(40, (i) => `${i}.0 s,${i === 3 ? "---" : i} rpm,${i < 20 ? `${i * 50} mA` : `${(i / 20).toFixed(2)} A`}`)}\n`,
    );
    expect(units(t)).toEqual(["s", "rpm", "mA"]);
    expect((await values(t, 1))[3]).toBeNaN();
    expect((await values(t, 2))[30]).toBeCloseTo(1500, 9);
  });

  test("lists in cells, named by a list of names", async () => {
    const t = await table(
      `time,name,position\n${rows(20, (i) => `${i},"['left', 'right']","(${i}, ${-i})"`)}\n`,
    );
    expect(names(t)).toEqual(["time", "name", "position left", "position right"]);
    expect((await values(t, 3))[5]).toBe(-5);
  });

  test("means and remarks under a table are no samples, and are counted", async () => {
    const t = await table(`time [s],i [A]\n${rows(30, (i) => `${i},${i % 4}`)}\nMean,1.5\nMax,3\n`);
    expect((await values(t, 0)).length).toBe(30);
    expect(t.findings.find((f) => f.code === "summary-rows")).toMatchObject({ value: 2 });
  });

  test("settings of an oscilloscope beside its values: interval, unit, label with its scale", async () => {
    const side = [
      "Record Length,60",
      "Sample Interval,2.5e-4",
      "Source,CH1",
      "Vertical Units,V",
      "Horizontal Units,s",
      "Label,shunt 50 mV/A",
    ];
    const t = await table(
      `${rows(60, (i) => `${side[i] ?? ","},,${(i * 2.5e-4).toFixed(5)},${(i % 7) / 100},`)}\n`,
    );
    expect(t.rate?.hertz).toBe(4000);
    expect(t.columns[3]).toMatchObject({ kind: "number", unit: "s", label: "time" });
    expect(t.columns[4]).toMatchObject({ kind: "number", unit: "50 mV/A", label: "CH1 shunt 50 mV/A" });
  });

  test.each([
    ["# trace tick: 250 us, decimation 5", 800],
    ["Sampling rate;2;kHz", 2000],
    ["sample_time_ms = 4", 250],
    ["# one line per 10 ms", 100],
    ["Abtastintervall: 0,5 ms", 2000],
    ["motor at 50 Hz", undefined],
  ])("the interval of a table without a clock: %s", async (line, hertz) => {
    const t = await table(`${line}\niq [A],n [rpm]\n${rows(30, (i) => `${i % 5},${i}`)}\n`);
    if (hertz === undefined) expect(t.rate).toBeUndefined();
    else expect(t.rate?.hertz).toBeCloseTo(hertz, 9);
  });
});

describe("numbers in either locale", () => {
  test("a column that mixes 1.146 and 987 is grouped; fixed decimals are not", () => {
    const rising = Array.from({ length: 60 }, (_, i) => 900 + 7 * i).map((v) =>
      v < 1000 ? `${v}` : `${(v / 1000).toFixed(3)}`,
    );
    expect(numberForms([rising])).toEqual([{ decimal: ",", thousands: "." }]);
    const commas = rising.map((v) => v.replace(".", ","));
    expect(numberForms([commas])).toEqual([{ decimal: ".", thousands: "," }]);
    expect(numberForms([["1.146", "1.150", "0.987"]])[0]).toMatchObject({ decimal: "." });
  });

  test("another column tells the locale", () => {
    expect(
      numberForms([
        ["1.146", "1.150"],
        ["0,5", "0,75"],
      ]),
    ).toEqual([
      { decimal: ",", thousands: "." },
      { decimal: ",", thousands: "" },
    ]);
  });

  test("forms that contradict each other are refused, not read by halves; an option decides", async () => {
    const mixed = `t;x\n${rows(40, (i) => `${i};${i % 2 === 0 ? `1.${100 + i},5` : `${i},250.5`}`)}\n`;
    const t = await table(mixed);
    expect(t.columns[1].kind).toBe("text");
    expect(t.findings.find((f) => f.code === "mixed-numbers")?.meaning).toContain("--decimal");
    const doubtful = `t;x\n${rows(40, (i) => `${i};1.${200 + i}`)}\n`;
    expect((await values(await table(doubtful), 1))[5]).toBe(1.205);
    expect((await values(await table(doubtful, { decimal: ",", thousands: "." }), 1))[5]).toBe(1205);
  });

  test("a count that is grouped only far below the first rows is read again", async () => {
    const lines = rows(
      30_000,
      (i) =>
        `${i},${
          i < 20_000
            ? Math.floor(i / 40)
            : i < 25_000
              ? 500 + Math.floor((i - 20_000) / 10)
              : `1.${String(i - 25_000)
                  .padStart(4, "0")
                  .slice(0, 3)}`
        }`,
    );
    const t = await table(`time [ms],count\n${lines}\n`);
    expect(Math.max(...(await values(t, 1)))).toBeGreaterThan(1400);
  });

  test("lines at the top that are not looked at", async () => {
    const t = await table(`1,2,3\n4,5,6\ntime [s],i [A]\n${rows(20, (i) => `${i},${i}`)}\n`, {
      skipLines: 2,
    });
    expect(names(t)).toEqual(["time [s]", "i [A]"]);
  });
});

describe("one row for every moment", () => {
  test("a time for every signal", async () => {
    const text = `t1 [ms],i [A],t2 [ms],n [rpm]\n${rows(60, (i) => `${i * 2},${i},${i < 30 ? `${i * 4},${i * 10}` : ","}`)}\n`;
    writeFileSync(join(folder, "bases.csv"), text);
    const { recordings } = await readRecordings([join(folder, "bases.csv")], {
      map: { current: "i [A]", speed: "n [rpm]" },
    });
    expect(recordings[0].time.length).toBe(60);
    expect(recordings[0].channels.speed?.data[10]).toBeCloseTo((50 * 2 * Math.PI) / 60, 9);
    expect(recordings[0].findings.find((f) => f.code === "time-bases")).toMatchObject({ value: 2 });
  });

  test("one value a row", async () => {
    const text = `timestamp,tag,value\n${rows(120, (i) => (i % 3 === 2 ? `${(i / 100).toFixed(2)},Speed rpm,${i}` : `${(i / 100).toFixed(2)},Current A,${i / 10}`))}\n`;
    writeFileSync(join(folder, "long.csv"), text);
    const { recordings } = await readRecordings([join(folder, "long.csv")], {
      map: { current: "Current A", speed: "Speed rpm" },
    });
    expect(recordings[0].time.length).toBe(80);
    expect(recordings[0].findings.find((f) => f.code === "one-value-a-row")).toMatchObject({ value: 2 });
  });

  test("a column named like a time that does not rise is none", async () => {
    const text = `Timestamp [s],i [A],Idle Time [ms],n [rpm]\n${rows(60, (i) => `${i / 100},${i},${95 - (i % 3)},${i}`)}\n`;
    writeFileSync(join(folder, "idle.csv"), text);
    const { recordings } = await readRecordings([join(folder, "idle.csv")], { map: { current: "i [A]" } });
    expect(recordings[0].findings.map((f) => f.code)).not.toContain("time-bases");
    expect(recordings[0].channels.current?.data[7]).toBe(7);
  });
});

test.each([
  ["shift_jis", "8e 9e 8a d4 2c 91 ac 93 78", "時間,速度"],
  ["gb18030", "ca b1 bc e4 2c d7 aa cb d9", "时间,转速"],
  ["windows-1252", "50 72 fc 66 73 74 61 6e 64 20 b0 43", "Prüfstand °C"],
  ["windows-1250", "e8 61 73 2c 72 79 63 68 6c 6f 73 74", "čas,rychlost"],
  ["windows-1251", "e2 f0 e5 ec ff 2c f1 ea ee f0 ee f1 f2 fc", "время,скорость"],
])(
  "%s is found (bytes by the tables of the WHATWG Encoding Standard, from memory)",
  (encoding, hex, text) => {
    const bytes = Buffer.concat([Buffer.from(hex.replaceAll(" ", ""), "hex"), Buffer.from("\n1,2\n")]);
    expect(findEncoding(bytes).encoding).toBe(encoding);
    expect(new TextDecoder(encoding).decode(bytes)).toContain(text);
  },
);
