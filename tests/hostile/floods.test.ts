import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { deflateSync, gzipSync } from "node:zlib";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";
import { describedFile } from "../../lib/study/pipeline/describedFile.js";
import { matTag } from "./encode.js";

/** Small files made to take all memory or time: each must be read or refused within the time of its test, and its good
 * rows kept. */

const folder = mkdtempSync(join(tmpdir(), "shaftwise-floods-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const heading = "time [s],current [A],speed [rad/s],position [rad]\n";
const rows = (count: number): string =>
  Array.from(
    { length: count },
    (_, i) => `${i / 1000},${Math.sin(i / 50).toFixed(4)},${i % 100},${i / 100}\n`,
  ).join("");

/** Reads one file that holds good rows; gives their number and what was told of the others. */
async function read(name: string, content: string | Buffer): Promise<{ rows: number; told: string }> {
  const path = join(folder, name);
  writeFileSync(path, content);
  const { recordings, problems } = await readRecordings([path]);
  return {
    rows: recordings.reduce((sum, { time }) => sum + time.length, 0),
    told: [...problems, ...recordings.flatMap(({ findings }) => findings)]
      .map(({ message }) => message)
      .join("\n"),
  };
}

test("gzip of rows with a hundred thousand fields, behind good ones", async () => {
  const wide = `${"1,".repeat(100_000)}\n`.repeat(300);
  const packed = gzipSync(heading + rows(500) + wide);
  expect(packed.length).toBeLessThan(70_000);
  const found = await read("wide.csv.gz", packed);
  expect(found.rows).toBe(500);
  expect(found.told).toMatch(/300 rows have more than 2000 fields \(the first is line 502\)/);
}, 60_000);

test("a quote that is never closed costs its own line", async () => {
  for (const [name, stray] of [
    ["bare", '"'],
    ["cell", '7,"2,3,4\n'],
  ]) {
    const found = await read(
      `${name}.csv`,
      `${heading}${rows(1000)}${stray}${rows(150_000).replaceAll("0.", "7.")}`,
    );
    expect(found.rows, name).toBeGreaterThanOrEqual(150_998);
  }
}, 60_000);

test("two stray quotes a thousand lines apart swallow nothing in silence", async () => {
  const lines = (heading + rows(12_000))
    .trimEnd()
    .split("\n")
    .map((line, i) => `${line},${i === 0 ? "note" : "ok"}`);
  for (const at of [10_000, 11_000]) lines[at] = lines[at].replace(/ok$/, '"ok');
  const found = await read("swallowed.csv", `${lines.join("\n")}\n`);
  expect(found.rows).toBeGreaterThanOrEqual(11_998);
}, 60_000);

test("text by blanks with one long last line: numbers, digits, blanks", async () => {
  const text = `time current speed position\n${rows(2000).replaceAll(",", " ")}`;
  for (const [name, tail] of [
    ["numbers", "1 ".repeat(2_000_000)],
    ["digits", "9".repeat(4_000_000)],
    ["blanks", " ".repeat(4_000_000)],
  ]) {
    const found = await read(`${name}.txt`, text + tail);
    expect(found.rows, name).toBeGreaterThanOrEqual(2000);
    expect(found.rows, name).toBeLessThanOrEqual(2001);
  }
}, 90_000);

test("a column of runs that counts up with every row", async () => {
  const lines = Array.from({ length: 100_000 }, (_, i) => `${i / 1000},${i % 100},1,${i}\n`).join("");
  const found = await read("runs.csv", `time [s],speed [rad/s],current [A],run\n${lines}`);
  expect(found.rows + found.told.length).toBeGreaterThan(0);
}, 60_000);

test("a descriptor that names one file two hundred thousand times, in one resource or in as many", async () => {
  for (const [name, resources] of [
    ["one", [{ name: "x", path: Array(200_000).fill("run.csv") }]],
    ["many", Array.from({ length: 200_000 }, (_, i) => ({ name: `x${i}`, path: "run.csv" }))],
    ["leaving", Array.from({ length: 200_000 }, (_, i) => ({ name: `x${i}`, path: "../run.csv" }))],
  ] as const) {
    const at = join(folder, name);
    mkdirSync(at);
    writeFileSync(join(at, "run.csv"), heading + rows(500));
    writeFileSync(join(at, "datapackage.json"), JSON.stringify({ resources }));
    const { recordings } = await readRecordings([at]);
    expect(recordings, name).toHaveLength(1);
    await describedFile(join(at, "run.csv"));
  }
}, 90_000);

test("MAT: cells and structures of millions of empty elements are left out, and the variable beside them is read", async () => {
  const head = Buffer.alloc(128, 0x20);
  head.write("MATLAB 5.0 MAT-file");
  head.writeUInt16LE(0x0100, 124);
  head.write("IM", 126);
  const element = (type: number, bytes: Buffer) =>
    Buffer.concat([matTag(type, bytes.length), bytes, Buffer.alloc((8 - (bytes.length % 8)) % 8)]);
  const variable = (kind: number, size: readonly [number, number], name: string, content: Buffer) => {
    const flags = Buffer.alloc(8);
    flags[0] = kind;
    const sizes = Buffer.alloc(8);
    size.forEach((n, i) => {
      sizes.writeInt32LE(n, 4 * i);
    });
    const body = Buffer.concat([
      element(6, flags),
      element(5, sizes),
      element(1, Buffer.from(name)),
      content,
    ]);
    const packed = deflateSync(Buffer.concat([matTag(14, body.length), body]), { level: 1 });
    return Buffer.concat([matTag(15, packed.length), packed]);
  };
  const doubles = (of: (i: number) => number) =>
    element(9, Buffer.from(Float64Array.from({ length: 1000 }, (_, i) => of(i)).buffer));
  const empty = Buffer.alloc(8 * 20_000_000).fill(matTag(14, 0));
  const found = await read(
    "cells.mat",
    Buffer.concat([
      head,
      variable(1, [20_000_000, 1], "cells", empty),
      variable(
        6,
        [1000, 1],
        "time",
        doubles((i) => i / 1000),
      ),
      variable(
        6,
        [1000, 1],
        "speed",
        doubles((i) => i % 50),
      ),
    ]),
  );
  expect(found.rows).toBe(1000);
  expect(found.told).toMatch(/a variable was left out: it unpacks to more than 256 MiB/);
}, 60_000);
