import { spawnSync } from "node:child_process";
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { constants, createGzip, deflateSync, gzipSync } from "node:zlib";
import { afterAll, expect, test } from "vitest";
import { run as diagnoseCommand } from "../../lib/cli/diagnose.js";
import { run as fitCommand } from "../../lib/cli/fit.js";
import { run as inspectCommand } from "../../lib/cli/inspect.js";
import { run as loopCommand } from "../../lib/cli/loop.js";
import { readRecordings } from "../../lib/index.js";
import { unpackLimit } from "../../lib/recording/formats/unpackLimit.js";
import { listRecordings } from "../../lib/study/pipeline/listRecordings.js";
import { capture } from "../house/capture.js";
import { blockHead, matTag } from "./encode.js";
import { zipOf } from "./zipOf.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-traps-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const sound = join(import.meta.dirname, "../../datasets/parcel-sorter/order-uvw.csv");

const inFolder = (name: string): string => {
  const made = join(folder, name);
  mkdirSync(made, { recursive: true });
  return made;
};

/** Reads one path that must be refused: the code and the line that say so. */
async function refused(path: string): Promise<{ code: string; message: string }> {
  const { recordings, problems } = await readRecordings([path]);
  expect(recordings).toEqual([]);
  expect(problems).toHaveLength(1);
  expect(problems[0].message).not.toMatch(/[\u0000-\u001f\u007f]/);
  return problems[0];
}

/** Gzip of so many MiB of one text, made piece by piece. */
async function gzipBomb(path: string, mebibytes: number): Promise<void> {
  const row = "0,0,0,0\n".repeat(2 ** 17);
  const packer = createGzip({ level: constants.Z_BEST_COMPRESSION });
  const parts: Buffer[] = [];
  packer.on("data", (part) => parts.push(part));
  const done = new Promise((resolve) => packer.on("end", resolve));
  packer.write("time,speed,current,position\n");
  for (let i = 0; i < mebibytes; i += 1)
    if (!packer.write(row)) await new Promise((resolve) => packer.once("drain", resolve));
  packer.end();
  await done;
  writeFileSync(path, Buffer.concat(parts));
}

test("the limit: 256 MiB, or 100 times the size", () => {
  expect(unpackLimit(0)).toBe(256 * 2 ** 20);
  expect(unpackLimit(10 * 2 ** 20)).toBe(1000 * 2 ** 20);
});

test("gzip that unpacks without end is refused", async () => {
  const path = join(folder, "bomb.csv.gz");
  await gzipBomb(path, 300);
  const { code, message } = await refused(path);
  expect(code).toBe("too-large");
  expect(message).toMatch(/^the file unpacks to more than 256 MiB, which no log of \d+ KiB does; unpack it/);
});

test("gzip within gzip is unpacked once", async () => {
  const path = join(folder, "twice.csv.gz");
  writeFileSync(path, gzipSync(gzipSync(Buffer.alloc(2 ** 20))));
  await refused(path);
});

test("zstd that unpacks without end is refused before its blocks pile up", async () => {
  // 40,000 blocks of one repeated byte: 160 kB that stand for 5 GB (RFC 8878, RLE blocks).
  const blocks = Array.from({ length: 40_000 }, () =>
    Buffer.concat([blockHead(2 ** 17, 1, false), Buffer.from("0")]),
  );
  const head = Buffer.from([0x28, 0xb5, 0x2f, 0xfd, 0x00, 0x38]);
  const path = join(folder, "bomb.csv.zst");
  writeFileSync(path, Buffer.concat([head, ...blocks, blockHead(0, 0, true)]));
  const before = process.memoryUsage().rss;
  const { code } = await refused(path);
  expect(code).toBe("too-large");
  expect(process.memoryUsage().rss - before).toBeLessThan(600 * 2 ** 20);
});

test("zip that is damaged is named for what it is", async () => {
  const path = join(folder, "bomb.csv");
  writeFileSync(path, Buffer.concat([Buffer.from("PK\u0003\u0004"), deflateSync(Buffer.alloc(2 ** 20))]));
  expect((await refused(path)).message).toMatch(/^the zip archive is damaged: /);
});

test("zip that unpacks without end, or to more than it claims, is refused; nothing lands outside its folder", async () => {
  const content = Buffer.alloc(300 * 2 ** 20);
  const write = (name: string, ...members: Parameters<typeof zipOf>): string => {
    writeFileSync(join(folder, name), zipOf(...members));
    return join(folder, name);
  };
  expect((await refused(write("honest.zip", { name: "log.csv", content }))).code).toBe("too-large");
  await refused(write("lying.zip", { name: "log.csv", content, claims: 1000 }));
  expect((await refused(write("book.xlsx", { name: "[Content_Types].xml", content }))).code).toBe(
    "too-large",
  );
  expect((await refused(write("arrays.npz", { name: "a.npy", content }))).code).toBe("too-large");
  const text = Buffer.from("time [s],current [A]\n0,1\n0.001,2.5\n0.002,1.75\n0.003,0.5\n0.004,0.25\n");
  const climbing = write("climbing.zip", { name: "../../../../tmp/shaftwise-climbed.csv", content: text });
  const { recordings } = await readRecordings([climbing]);
  expect(recordings.map((found) => found.path)).toEqual([`${climbing}#tmp/shaftwise-climbed.csv`]);
  expect(existsSync("/tmp/shaftwise-climbed.csv")).toBe(false);
}, 60_000);

test("a workbook that claims a million rows of thousands of columns takes no time with them", async () => {
  const sheet =
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:XFD1048576"/><sheetData>' +
    '<row r="1"><c r="A1" t="str"><v>time [s]</v></c><c r="B1" t="str"><v>current [A]</v></c></row>' +
    [0, 1, 2]
      .map((i) => `<row r="${i + 2}"><c r="A${i + 2}"><v>${i}</v></c><c r="B${i + 2}"><v>${i}</v></c></row>`)
      .join("") +
    '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>';
  const type = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
  const parts = {
    "[Content_Types].xml":
      '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="${type}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    "xl/workbook.xml": `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="${type}"><sheets><sheet name="far" sheetId="1" r:id="a"/></sheets></workbook>`,
    "xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="${type}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
    "xl/worksheets/sheet1.xml": sheet,
  };
  const path = join(folder, "far.xlsx");
  writeFileSync(
    path,
    zipOf(...Object.entries(parts).map(([name, xml]) => ({ name, content: Buffer.from(xml) }))),
  );
  const { recordings } = await readRecordings([path]);
  // The far row is left out by the limit of fields, which is said; the cells between were never made.
  expect(recordings.map(({ time }) => time.length)).toEqual([3]);
  expect(recordings[0].findings.map(({ message }) => message).join()).toMatch(
    /1 row could not be read: more than the 2000 fields of the others, or words among them \(line 1048576\)/,
  );
}, 60_000);

test("MAT: a compressed variable that unfolds without end", async () => {
  const small = deflateSync(Buffer.alloc(300 * 2 ** 20), { level: 1 });
  const head = Buffer.alloc(128, 0x20);
  head.write("MATLAB 5.0 MAT-file");
  head.writeUInt16LE(0x0100, 124);
  head.write("IM", 126);
  const path = join(folder, "bomb.mat");
  writeFileSync(path, Buffer.concat([head, matTag(15, small.length), small]));
  await refused(path);
});

test("Parquet: more rows than a file of its size may hold", async () => {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const path = join(folder, "bomb.parquet");
  await connection.run(
    `COPY (SELECT 0.0 AS time, 0.0 AS speed FROM range(40000000)) TO '${path}' (FORMAT parquet, COMPRESSION zstd)`,
  );
  connection.closeSync();
  expect((await refused(path)).code).toBe("too-large");
});

test("HDF5: data sets that claim what was never written", async () => {
  const h5 = await import("h5wasm/node");
  await h5.ready;
  const path = join(folder, "bomb.h5");
  const file = new h5.File(path, "w");
  for (const name of ["time", "speed"])
    file.create_dataset({ name, data: new Float64Array(8), shape: [8], maxshape: [2 ** 40], chunks: [8] });
  for (const name of ["time", "speed"])
    (file.get(name) as { resize(shape: number[]): void }).resize([2 ** 36]);
  file.close();
  await refused(path);
});

test("HDF5: links in a circle and thousands of names for one group are read once, by the place of their values", async () => {
  const h5 = await import("h5wasm/node");
  await h5.ready;
  const path = join(folder, "circles.h5");
  const file = new h5.File(path, "w");
  const at = (of: (k: number) => number) => Float64Array.from({ length: 200 }, (_, k) => of(k));
  const run = file.create_group("run");
  for (const [name, data] of [
    ["time_s", at((k) => k / 100)],
    ["current_A", at((k) => (k < 50 ? 0 : 1 + Math.sin(37 * k) / 50))],
    ["speed_rpm", at((k) => Math.max(0, 9 * (k - 50)))],
  ] as const)
    run.create_dataset({ name, data });
  run.create_soft_link("/run", "self");
  run.create_hard_link("/run", "again");
  run.create_group("inner").create_hard_link("/run", "up");
  file.create_hard_link("/", "root");
  file.create_soft_link("/second", "first");
  file.create_soft_link("/first", "second");
  for (let k = 0; k < 2000; k += 1) file.create_soft_link("/run", `alias${k}`);
  // Groups of the same names within each other, as `data/data` in some exports, are no circle.
  file
    .create_group("data")
    .create_group("data")
    .create_dataset({ name: "data", data: at((k) => 24 + k / 1e3) });
  file.close();
  const { recordings, problems } = await readRecordings([path]);
  expect(problems).toEqual([]);
  const columns = recordings.flatMap(({ understanding }) => understanding?.map(({ column }) => column));
  expect(columns.sort()).toEqual(["data.data.data", "run.current_A", "run.speed_rpm", "run.time_s"]);
  expect(recordings.map(({ time }) => time.length)).toEqual([200]);
});

test("HDF5: a list of texts that comes back to itself is refused, not followed", async () => {
  const sound = readFileSync(join(import.meta.dirname, "../recording/files/log.h5"));
  const heap = sound.indexOf("GCOL");
  // HDF5 File Format Specification, version 3.0, section III.E: behind a head of 16 bytes the objects, each with its
  // number, how often it is used, four bytes of nothing and its length in eight; one of number 0 ends them.
  const places = [];
  for (let at = heap + 16; ; at += 16 + 8 * Math.ceil(Number(sound.readBigUInt64LE(at + 8)) / 8)) {
    places.push(at + 8);
    if (sound.readUInt16LE(at) === 0) break;
  }
  expect(places.length).toBeGreaterThan(2);
  expect((await readRecordings([join(import.meta.dirname, "../recording/files/log.h5")])).problems).toEqual(
    [],
  );
  for (const place of [places[0], places[places.length - 1]]) {
    for (const length of [2n ** 64n - 1n, 2n ** 63n - 1n, 2n ** 64n - 16n]) {
      const bytes = Buffer.from(sound);
      bytes.writeBigUInt64LE(length, place);
      const path = join(folder, `heap-${place}-${length}.h5`);
      writeFileSync(path, bytes);
      const { problems } = await readRecordings([path], { limits: { seconds: 20, bytes: 2 ** 30 } });
      expect(problems.map(({ code }) => code)).not.toContain("given-up");
      expect(problems.length).toBeGreaterThan(0);
    }
  }
});

test("Arrow: a compressed buffer that claims a great length", async () => {
  const bytes = Buffer.from(readFileSync(join(import.meta.dirname, "../recording/arrow/columns-lz4.arrow")));
  // Every buffer begins with its unpacked length as a 64-bit number; those of this file are a few hundred bytes.
  let found = 0;
  for (let at = 8; at + 12 < bytes.length; at += 8) {
    if (bytes.readUInt32LE(at + 8) === 0x184d2204) {
      bytes.writeBigInt64LE(2n ** 31n - 1n, at);
      found += 1;
    }
  }
  expect(found).toBeGreaterThan(0);
  const path = join(folder, "bomb.arrow");
  writeFileSync(path, bytes);
  expect((await refused(path)).message).toMatch(/unpack/);
});

test("one line without end, and a hundred thousand columns", async () => {
  const path = join(folder, "line.csv");
  writeFileSync(path, `time,speed\n0,1\n1,${"9".repeat(30 * 2 ** 20)}\n2,3\n`);
  const { recordings, problems } = await readRecordings([path]);
  expect(recordings.length + problems.length).toBeGreaterThan(0);
  const wide = join(folder, "wide.csv");
  writeFileSync(
    wide,
    `${Array.from({ length: 20_000 }, (_, i) => `c${i}`).join(",")}\n${"0,".repeat(19_999)}0\n`,
  );
  await refused(wide);
});

test("fields and headings of hundreds of thousands of characters take no time with the square of their length", async () => {
  const digits = "9".repeat(300_000);
  const rows = Array.from({ length: 300 }, (_, i) => `${i / 1000},${i}`);
  for (const [name, text] of [
    ["digits", `time [s],speed [rpm]\n${digits}x,1\n${rows.join("\n")}\n`],
    ["heading", `time [s],${"a / ".repeat(75_000)}b\n${rows.join("\n")}\n`],
    ["blanks", `time [s],speed${" ".repeat(300_000)}x\n${rows.join("\n")}\n`],
  ]) {
    const path = join(folder, `${name}.csv`);
    writeFileSync(path, text);
    const { recordings, problems } = await readRecordings([path]);
    expect(recordings.length + problems.length, name).toBeGreaterThan(0);
  }
}, 20_000);

test("paths of a descriptor that climb, are absolute, are addresses, or are links out of the folder", async () => {
  const outside = inFolder("outside");
  copyFileSync(sound, join(outside, "secret.csv"));
  const inside = inFolder("package");
  copyFileSync(sound, join(inside, "sound.csv"));
  symlinkSync(join(outside, "secret.csv"), join(inside, "link.csv"));
  symlinkSync(outside, join(inside, "door"));
  const climbing = [
    "../outside/secret.csv",
    "a/../../outside/secret.csv",
    "./../outside/secret.csv",
    "..\\outside\\secret.csv",
    join(outside, "secret.csv"),
    "https://example.org/secret.csv",
    "file:///etc/passwd",
    "link.csv",
    "door/secret.csv",
  ];
  writeFileSync(
    join(inside, "datapackage.json"),
    JSON.stringify({
      resources: [...climbing, "sound.csv"].map((path, i) => ({ name: `r${i}`, path })),
    }),
  );
  const { recordings, problems } = await readRecordings([inside]);
  expect(recordings).toHaveLength(1);
  expect(recordings[0].source?.files).toEqual([join(inside, "sound.csv")]);
  const said = problems.filter(({ message }) => /leaves the folder; it is not read$/.test(message));
  expect(said).toHaveLength(climbing.length);
});

test("descriptors that are pipes, folders, too large, deeply nested, or full of odd keys", async () => {
  for (const [name, make] of [
    ["pipe", (at: string) => void spawnSync("mkfifo", [at])],
    ["folder", (at: string) => void mkdirSync(at)],
    ["large", (at: string) => writeFileSync(at, Buffer.alloc(17 * 2 ** 20, 0x20))],
    ["nested", (at: string) => writeFileSync(at, `{"resources":${"[".repeat(1e5)}${"]".repeat(1e5)}}`)],
    [
      "keys",
      (at: string) =>
        writeFileSync(
          at,
          '{"__proto__":{"a":1},"resources":[{"name":"__proto__","path":["constructor.csv"]},{"path":{"a":1}},7,null,{"name":"x\\u001b[31m","path":"\\u0000.csv"}]}',
        ),
    ],
  ] as const) {
    const at = inFolder(`descriptor-${name}`);
    copyFileSync(sound, join(at, "run.csv"));
    make(join(at, "datapackage.json"));
    const { recordings, problems } = await readRecordings([at]);
    expect(problems.length, name).toBeGreaterThan(0);
    for (const { message } of problems) expect(message, name).not.toMatch(/[\u0000-\u001f\u007f]/);
    expect(recordings.length, name).toBeLessThanOrEqual(1);
  }
  expect(({} as { a?: number }).a).toBeUndefined();
});

test("links in a circle, to nothing, to folders, and pipes and devices named like logs", async () => {
  const at = inFolder("links");
  copyFileSync(sound, join(at, "sound.csv"));
  symlinkSync("b.csv", join(at, "a.csv"));
  symlinkSync("a.csv", join(at, "b.csv"));
  symlinkSync("nowhere.csv", join(at, "dangling.csv"));
  symlinkSync(".", join(at, "folder.csv"));
  symlinkSync("/dev/zero", join(at, "zero.csv"));
  mkdirSync(join(at, "real-folder.csv"));
  spawnSync("mkfifo", [join(at, "pipe.csv")]);
  const { recordings, problems } = await readRecordings([at]);
  expect(recordings.map((r) => r.source?.files)).toEqual([[join(at, "sound.csv")]]);
  const said = new Map(problems.map(({ file, message }) => [file?.slice(at.length + 1), message]));
  expect(said.get("a.csv")).toBe(
    '"a.csv" is a link that leads back to itself; name the file it was meant for',
  );
  expect(said.get("dangling.csv")).toMatch(/^there is no file or folder "dangling.csv"/);
  expect(said.get("folder.csv")).toMatch(/is a folder where a file was expected$/);
  expect(said.get("real-folder.csv")).toMatch(/is a folder where a file was expected$/);
  expect(said.get("pipe.csv")).toMatch(/^it is a pipe or a device/);
  expect(said.get("zero.csv")).toMatch(/^it is a pipe or a device/);
  expect(problems).toHaveLength(7);
});

test("a study finds its files in spite of links in a circle", async () => {
  const at = inFolder("circle");
  copyFileSync(sound, join(at, "sound.csv"));
  symlinkSync(".", join(at, "again"));
  symlinkSync("..", join(at, "up"));
  spawnSync("mkfifo", [join(at, "pipe.csv")]);
  expect(await listRecordings([at])).toEqual([join(at, "sound.csv")]);
});

test("no control character of a file's name, its column names or its words reaches a terminal", async () => {
  const at = inFolder("names");
  const text = [
    "time,speed,a\u001b[31mred,\u009b2J,mode",
    ...Array.from({ length: 400 }, (_, i) => `${i / 100},${i % 7},${i},${i},\u001b]0;title\u0007`),
  ].join("\n");
  writeFileSync(join(at, "\u001b[2J\u001b[1;31mred\u0007\r.csv"), text);
  writeFileSync(join(at, "bad\u001b[31m\n.csv"), "\u001b[31mnothing to see\n");
  for (const command of [diagnoseCommand, inspectCommand, fitCommand, loopCommand]) {
    const { out, err } = await capture(command, [at]);
    expect(out + err).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f]/);
  }
});
