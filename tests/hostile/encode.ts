import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { deflateSync, gzipSync } from "node:zlib";
import type { Columns } from "./columns.js";

/** Formats that a table can be written in for these tests. */
export const encodings = [
  ".csv",
  ".tsv",
  ".jsonl",
  ".csv.gz",
  ".csv.zst",
  ".parquet",
  ".arrow",
  ".mat",
  ".packed.mat",
  ".h5",
] as const;
export type Encoding = (typeof encodings)[number];

/** Writes a table in a format, as a careless but working program would. */
export async function encode(table: Columns, encoding: Encoding): Promise<Buffer> {
  switch (encoding) {
    case ".csv":
      return Buffer.from(delimited(table, ","));
    case ".tsv":
      return Buffer.from(delimited(table, "\t"));
    case ".csv.gz":
      return gzipSync(delimited(table, ","), { level: 1 });
    case ".jsonl":
      return Buffer.from(jsonLines(table));
    case ".csv.zst":
      return zstdFrame(Buffer.from(delimited(table, ",")));
    case ".parquet":
      return byEngine(table);
    case ".arrow": {
      const { tableFromArrays, tableToIPC } = await import("@uwdata/flechette");
      const columns = table.names.map((name, k) => [name, table.data[k]] as [string, Float64Array]);
      // Without a prototype, so that a column named "toString" finds no type there.
      const written = tableFromArrays(columns, { types: Object.create(null) });
      return Buffer.from(tableToIPC(written, { format: "file" }) ?? []);
    }
    case ".mat":
    case ".packed.mat":
      return matFile(table, encoding === ".packed.mat");
    case ".h5":
      return hdf5(table);
  }
}

function delimited({ names, data }: Columns, delimiter: string): string {
  const quoted = (name: string) => (/["\n\t,]/.test(name) ? `"${name.replaceAll('"', '""')}"` : name);
  const lines = [names.map(quoted).join(delimiter)];
  for (let i = 0; i < (data[0]?.length ?? 0); i += 1)
    lines.push(data.map((c) => String(c[i])).join(delimiter));
  return `${lines.join("\n")}\n`;
}

function jsonLines({ names, data }: Columns): string {
  const lines: string[] = [];
  for (let i = 0; i < (data[0]?.length ?? 0); i += 1)
    lines.push(
      `{${names.map((name, k) => `${JSON.stringify(name)}:${JSON.stringify(data[k][i])}`).join(",")}}`,
    );
  return `${lines.join("\n")}\n`;
}

/** A Zstandard frame of raw blocks (RFC 8878): whole and sound, only not small. */
export function zstdFrame(bytes: Buffer): Buffer {
  const head: Buffer = Buffer.alloc(9);
  head.writeUInt32LE(0xfd2fb528, 0);
  head[4] = 0xa0; // content size of four bytes, one segment
  head.writeUInt32LE(bytes.length, 5);
  const parts: Buffer[] = [head];
  const most = 1 << 16;
  for (let at = 0; at === 0 || at < bytes.length; at += most) {
    const part = bytes.subarray(at, at + most);
    parts.push(blockHead(part.length, 0, at + most >= bytes.length), part);
  }
  return Buffer.concat(parts);
}

/** Head of a Zstandard block: size, kind (0 raw, 1 one byte repeated), and whether it is the last. */
export function blockHead(size: number, kind: number, last: boolean): Buffer {
  const word = (size << 3) | (kind << 1) | Number(last);
  return Buffer.from([word & 255, (word >> 8) & 255, (word >> 16) & 255]);
}

/** A MAT-file level 5: one matrix for each column, plain or each compressed. */
export function matFile({ names, data }: Columns, packed: boolean): Buffer {
  const head = Buffer.alloc(128, 0x20);
  head.write("MATLAB 5.0 MAT-file, written by a test");
  head.writeUInt16LE(0x0100, 124);
  head.write("IM", 126);
  const parts: Buffer[] = [head];
  for (const [k, name] of names.entries()) {
    const matrix = matMatrix(name.replace(/[^A-Za-z0-9_]/g, "_") || "x", data[k]);
    if (packed) {
      const small = deflateSync(matrix);
      parts.push(matTag(15, small.length), small);
    } else parts.push(matrix);
  }
  return Buffer.concat(parts);
}

export function matTag(type: number, bytes: number): Buffer {
  const tag = Buffer.alloc(8);
  tag.writeUInt32LE(type, 0);
  tag.writeUInt32LE(bytes, 4);
  return tag;
}

export function matElement(type: number, bytes: Buffer): Buffer {
  return Buffer.concat([matTag(type, bytes.length), bytes, Buffer.alloc((8 - (bytes.length % 8)) % 8)]);
}

export function matMatrix(name: string, values: Float64Array): Buffer {
  const words = (...numbers: number[]) => Buffer.from(Uint32Array.from(numbers).buffer);
  const body = Buffer.concat([
    matElement(6, words(6, 0)),
    matElement(5, words(values.length, 1)),
    matElement(1, Buffer.from(name.slice(0, 63), "latin1")),
    matElement(9, Buffer.from(values.buffer, values.byteOffset, values.byteLength)),
  ]);
  return Buffer.concat([matTag(14, body.length), body]);
}

async function inFolder<T>(work: (folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-encode-"));
  try {
    return await work(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

let engine: Promise<import("@duckdb/node-api").DuckDBConnection> | undefined;

function byEngine({ names, data }: Columns): Promise<Buffer> {
  return inFolder(async (folder) => {
    engine ??= import("@duckdb/node-api").then(async ({ DuckDBInstance }) =>
      (await DuckDBInstance.create(":memory:", { threads: "1" })).connect(),
    );
    const connection = await engine;
    const { writeFileSync } = await import("node:fs");
    writeFileSync(join(folder, "in.csv"), delimited({ names: names.map((_, k) => `c${k}`), data }, ","));
    // Names that an engine refuses (none, twice the same) are made different, as any writer would.
    const used = new Set<string>();
    const list = names.map((name, k) => {
      let own = name.replaceAll("\u0000", "") || `column ${k}`;
      while (used.has(own.toLowerCase())) own += "_";
      used.add(own.toLowerCase());
      return `c${k} AS "${own.replaceAll('"', '""')}"`;
    });
    const types = names.map((_, k) => `'c${k}': 'DOUBLE'`).join(", ");
    const source = `read_csv('${folder}/in.csv', header=true, auto_detect=false, delim=',', columns={${types}})`;
    await connection.run(
      `COPY (SELECT ${list.join(", ")} FROM ${source}) TO '${folder}/out' (FORMAT parquet)`,
    );
    return readFileSync(join(folder, "out"));
  });
}

function hdf5({ names, data }: Columns): Promise<Buffer> {
  return inFolder(async (folder) => {
    const h5 = await import("h5wasm/node");
    await h5.ready;
    const path = join(folder, "out.h5");
    const file = new h5.File(path, "w");
    const used = new Set<string>();
    for (const [k, name] of names.entries()) {
      const own =
        name.replaceAll("/", " per ").replaceAll("\u0000", "").trim().replace(/^\.+$/, "dots") ||
        `column ${k}`;
      if (used.has(own)) continue;
      used.add(own);
      file.create_dataset({ name: own, data: data[k] });
    }
    file.close();
    return readFileSync(path);
  });
}
