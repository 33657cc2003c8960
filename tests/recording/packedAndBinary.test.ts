import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { utils, write } from "@e965/xlsx";
import { packTar } from "modern-tar";
import { afterAll, describe, expect, test } from "vitest";
import { tablesOfJson } from "../../lib/recording/formats/jsonDocument.js";
import { isMatFile4, readMatFile4 } from "../../lib/recording/formats/matFile4.js";
import { numpyArrays } from "../../lib/recording/formats/numpyArray.js";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "packed-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const map = { time: "time [s]", current: "i [A]", speed: "n [rpm]" };
const row = (i: number): [number, number, number] => [i / 100, (i % 7) / 4, i * 1.5];
const csv = `time [s],i [A],n [rpm]\n${Array.from({ length: 40 }, (_, i) => row(i).join(",")).join("\n")}\n`;

function put(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  mkdirSync(join(path, ".."), { recursive: true });
  writeFileSync(path, content);
  return path;
}

describe("workbooks, written by the library that reads them", () => {
  const sheet = (n: number): unknown[][] => [
    ["Bench 4, order VUW"],
    [],
    ["time [s]", "i [A]", "n [rpm]"],
    ...Array.from({ length: n }, (_, i) => row(i)),
  ];
  const book = utils.book_new();
  utils.book_append_sheet(book, utils.aoa_to_sheet(sheet(40)), "UVW torque");
  utils.book_append_sheet(book, utils.aoa_to_sheet(sheet(30)), "WVU torque");
  utils.book_append_sheet(book, utils.aoa_to_sheet([["Notes"], ["nothing to see"]]), "notes");

  test.each([
    ["xlsx", "xlsx"],
    ["xls", "biff8"],
    ["ods", "ods"],
  ] as const)("%s: a sheet is a run, its name a fact, a sheet of notes is told", async (ending, bookType) => {
    const path = put(`book.${ending}`, write(book, { type: "buffer", bookType }) as Uint8Array);
    const { recordings } = await readRecordings([path], { map });
    expect(recordings.map((r) => r.time.length)).toEqual([40, 30]);
    expect(recordings.map((r) => r.path.split("#")[1])).toEqual(["UVW torque", "WVU torque"]);
    expect(recordings[0].channels.current?.data[5]).toBe(row(5)[1]);
    expect(recordings[0].findings.map((f) => f.code)).toContain("sheet-left");
  });

  test("days of a sheet are moments, to the microsecond", async () => {
    const cells = utils.aoa_to_sheet([["stamp", "i [A]"]]);
    for (let i = 0; i < 30; i += 1) {
      cells[`A${i + 2}`] = { t: "n", v: 45_000.5 + (i * 0.25) / 86_400, z: "dd.mm.yyyy hh:mm:ss.000" };
      cells[`B${i + 2}`] = { t: "n", v: i % 3 };
    }
    cells["!ref"] = "A1:B31";
    const days = utils.book_new();
    utils.book_append_sheet(days, cells, "one");
    const path = put("days.xlsx", write(days, { type: "buffer", bookType: "xlsx" }) as Uint8Array);
    const { recordings } = await readRecordings([path], { map: { current: "i [A]" } });
    expect(recordings[0].time[29]).toBeCloseTo(7.25, 5);
    // Day 45,000 of the count that begins on 30 December 1899 is 15 March 2023.
    expect(recordings[0].source?.startedAt).toBe("2023-03-15T12:00:00.000Z");
  });
});

describe("archives", () => {
  const members = async (): Promise<Uint8Array> =>
    packTar(
      [
        ["runs/UVW torque.csv", csv],
        ["runs/notes.md", "nothing"],
        ["runs/read me.txt", "Dear reader,\nthese are logs.\n"],
        ["inner.zip", "PK"],
      ].map(([name, body]) => ({ header: { name, size: body.length, type: "file" as const }, body })),
    );

  test.each([
    ["tar", (bytes: Uint8Array) => bytes],
    ["tar.gz", (bytes: Uint8Array) => gzipSync(bytes)],
  ])("%s: read as a folder, what is no recording is listed", async (ending, pack) => {
    const path = put(`logs.${ending}`, pack(await members()));
    const { recordings, problems } = await readRecordings([path], { map });
    expect(recordings.map((r) => [r.path, r.ordering, r.time.length])).toEqual([
      [`${path}#runs/UVW torque.csv`, "UVW", 40],
    ]);
    expect(problems.map((p) => [p.code, p.severity])).toEqual([
      ["members-left", "warning"],
      ["no-numbers", "warning"],
    ]);
    expect(problems[0].message).toContain("inner.zip");
    expect(problems[1].file).toBe(`${path}#runs/read me.txt`);
  });

  test("an archive is found in a folder", async () => {
    put("beside/logs.tar", await members());
    put("beside/own.csv", csv);
    const { recordings } = await readRecordings([join(folder, "beside")], { map });
    expect(recordings.length).toBe(2);
  });
});

/** An array file by the published format "NPY format" of NumPy (version 1.0). */
function npy(descr: string, shape: string, data: Uint8Array, fortran = false): Uint8Array {
  const dict = `{'descr': ${descr}, 'fortran_order': ${fortran ? "True" : "False"}, 'shape': ${shape}, }`;
  const text = `${dict.padEnd(Math.ceil((dict.length + 11) / 64) * 64 - 11)}\n`;
  const head = Buffer.alloc(10);
  head.write("\u0093NUMPY\u0001\u0000", "latin1");
  head.writeUInt16LE(text.length, 8);
  return Buffer.concat([head, Buffer.from(text), data]);
}

describe("array files", () => {
  const doubles = (values: readonly number[]): Uint8Array => new Uint8Array(Float64Array.from(values).buffer);

  test("a signal in each row is read as a signal in each column", async () => {
    const rows = Array.from({ length: 60 }, (_, i) => row(i));
    const lying = npy("'<f8'", "(3, 60)", doubles([0, 1, 2].flatMap((k) => rows.map((r) => r[k]))));
    const standing = npy("'<f8'", "(60, 3)", doubles(rows.flat()));
    const names = { time: "#1", current: "#2", speed: "#3" };
    const [a] = (await readRecordings([put("lying.npy", lying)], { map: names })).recordings;
    const [b] = (await readRecordings([put("standing.npy", standing)], { map: names })).recordings;
    expect(a.time.length).toBe(60);
    expect(a.channels.speed?.data).toEqual(b.channels.speed?.data);
    expect(a.time).toEqual(b.time);
  });

  test("by rows and by columns, either byte order, whole numbers", () => {
    const byRows = numpyArrays(npy("'<f8'", "(3, 2)", doubles([1, 2, 3, 4, 5, 6])), "a")[0];
    expect([...byRows.column(1)]).toEqual([2, 4, 6]);
    const byColumns = numpyArrays(npy("'<f8'", "(3, 2)", doubles([1, 2, 3, 4, 5, 6]), true), "a")[0];
    expect([...byColumns.column(1)]).toEqual([4, 5, 6]);
    expect([...numpyArrays(npy("'>i2'", "(2,)", Uint8Array.of(1, 0, 0xff, 0xfe)), "a")[0].column(0)]).toEqual(
      [256, -2],
    );
    expect([
      ...numpyArrays(npy("'<f2'", "(2,)", Uint8Array.of(0x00, 0x3c, 0x00, 0xc1)), "a")[0].column(0),
    ]).toEqual([1, -2.5]);
  });

  test("records of named fields become columns, and a file of them a recording", async () => {
    const data = Buffer.alloc(40 * 20);
    for (let i = 0; i < 40; i += 1) {
      data.writeDoubleLE(i / 100, i * 20);
      data.writeFloatLE(i % 7, i * 20 + 8);
      data.writeDoubleLE(i * 1.5, i * 20 + 12);
    }
    const path = put("log.npy", npy("[('time_s', '<f8'), ('iq', '<f4'), ('n', '<f8')]", "(40,)", data));
    const { recordings } = await readRecordings([path], {
      map: { time: "time_s", current: "iq", speed: "n" },
      unit: { n: "rpm" },
    });
    expect(recordings[0].channels.current?.data[9]).toBe(2);
  });

  test("what claims more than it holds, or is no array, is refused", async () => {
    expect(() => numpyArrays(npy("'<f8'", "(3000000, 2)", doubles([1])), "a")).toThrow(/more than it holds/);
    const { problems } = await readRecordings([put("cut.npy", npy("'<f8'", "(9, 9)", doubles([1])))]);
    expect(problems.map((p) => p.code)).toEqual(["not-an-array"]);
  });
});

test("MAT-file level 4, by its published format (MAT-File Format, level 4: five 4-byte integers, name, columns of numbers)", () => {
  const matrix = (name: string, rows: number, columns: number, values: readonly number[]): Buffer => {
    const head = Buffer.alloc(20);
    for (const [k, v] of [0, rows, columns, 0, name.length + 1].entries()) head.writeInt32LE(v, 4 * k);
    return Buffer.concat([
      head,
      Buffer.from(`${name}\u0000`),
      new Uint8Array(Float64Array.from(values).buffer),
    ]);
  };
  const bytes = Buffer.concat([matrix("t", 3, 1, [0, 1, 2]), matrix("iq", 3, 1, [5, 6, 7])]);
  expect(isMatFile4(bytes)).toBe(true);
  const { variables, broken } = readMatFile4(bytes);
  expect(broken).toBeUndefined();
  expect(variables.get("iq")).toMatchObject({
    kind: "numeric",
    size: [3, 1],
    data: Float64Array.of(5, 6, 7),
  });
  expect(readMatFile4(bytes.subarray(0, bytes.length - 3)).broken).toMatch(/fewer present/);
  expect(isMatFile4(Buffer.from("time,speed\n0,1\n1,2\n2,3\n3,4\n"))).toBe(false);
});

describe("JSON, however it is arranged", () => {
  const t = [0, 1, 2, 3];
  test.each([
    ["lists side by side", { t, i: [4, 5, 6, 7] }, ["t", "i"]],
    ["records", t.map((v) => ({ t: v, motor: { i: v + 4 } })), ["t", "motor.i"]],
    [
      "signals with their values",
      {
        signals: [
          { name: "t", unit: "ms", values: t },
          { name: "i", data: [4, 5, 6, 7] },
        ],
      },
      ["t", "i"],
    ],
    ["names beside rows", { columns: ["t", "i"], data: t.map((v) => [v, v + 4]) }, ["t", "i"]],
    ["rows under a row of names", [["t", "i"], ...t.map((v) => [v, v + 4])], ["t", "i"]],
    ["signals by name", { t: { data: t, unit: "s" }, i: { data: [4, 5, 6, 7] } }, ["t", "i"]],
  ])("%s", (_what, document, names) => {
    const { tables } = tablesOfJson(document);
    expect(tables.length).toBe(1);
    expect(tables[0].names).toEqual(names);
    expect(tables[0].rows.map((r) => r.map(Number))).toEqual(t.map((v) => [v, v + 4]));
  });
});
