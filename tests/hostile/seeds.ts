import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import type { Columns } from "./columns.js";
import { encode } from "./encode.js";
import { logSeeds } from "./logSeeds.js";
import { zipOf } from "./zipOf.js";

/** A sound file that damage starts from. */
export interface SeedFile {
  readonly ending: string;
  readonly bytes: Buffer;
  /** A text table with commas, open to the mutations of structure. */
  readonly text: boolean;
  /** One of those that numbers below 100,000 start from: the formats of the first long runs, so that these numbers stay
   * the same files. */
  readonly early?: boolean;
}

const root = join(import.meta.dirname, "../..");

/** Every 12th row of a shipped recording: short enough to damage thousands of times, long enough to judge. */
function shortCsv(): string {
  const lines = readFileSync(join(root, "datasets/parcel-sorter/order-uvw.csv"), "utf8")
    .trimEnd()
    .split("\n");
  return `${lines.filter((_, i) => i === 0 || i % 12 === 1).join("\n")}\n`;
}

/** The same rows as columns, for writing in any format. */
export function seedColumns(): Columns {
  const rows = shortCsv()
    .trimEnd()
    .split("\n")
    .map((line) => line.split(","));
  return {
    names: rows[0],
    data: rows[0].map((_, k) =>
      Float64Array.from(rows.slice(1), (row) => (row[k] === "" ? Number.NaN : Number(row[k]))),
    ),
  };
}

/** One sound file in each format that is read. Parquet and Zstandard are written by the column engine, HDF5 by
 * h5wasm. */
export async function seedFiles(): Promise<SeedFile[]> {
  const csv = shortCsv();
  const rows = csv
    .trimEnd()
    .split("\n")
    .map((line) => line.split(","));
  const names = rows[0];
  const semicolon = rows.map((row) => row.map((cell) => cell.replace(".", ",")).join(";")).join("\r\n");
  const jsonLines = rows
    .slice(1)
    .map((row) =>
      JSON.stringify(Object.fromEntries(row.map((cell, i) => [names[i], cell === "" ? null : Number(cell)]))),
    )
    .join("\n");
  const seeds: SeedFile[] = [
    { ending: ".csv", bytes: Buffer.from(csv), text: true },
    { ending: ".csv", bytes: Buffer.from(csv), text: true },
    { ending: ".txt", bytes: Buffer.from(`# roller 7\n# line 2\n\n${csv}`), text: true },
    { ending: ".tsv", bytes: Buffer.from(csv.replaceAll(",", "\t")), text: false },
    { ending: ".csv", bytes: Buffer.from(semicolon), text: false },
    { ending: ".csv", bytes: Buffer.from(`\ufeff${csv}`, "utf16le"), text: false },
    { ending: ".jsonl", bytes: Buffer.from(jsonLines), text: false },
    { ending: ".csv.gz", bytes: gzipSync(csv), text: false },
    { ending: ".mat", bytes: readFileSync(join(root, "tests/published/mat/compressed.mat")), text: false },
    ...(["lz4", "zstd"] as const).map((compression) => ({
      ending: ".arrow",
      bytes: readFileSync(join(root, `tests/recording/arrow/columns-${compression}.arrow`)),
      text: false,
    })),
  ];
  const table = seedColumns();
  for (const encoding of [".mat", ".packed.mat", ".csv.zst"] as const)
    seeds.push({ ending: encoding, bytes: await encode(table, encoding), text: false });
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-seeds-"));
  try {
    const source = join(folder, "source.csv");
    writeFileSync(source, csv);
    const { DuckDBInstance } = await import("@duckdb/node-api");
    const engine = await DuckDBInstance.create(":memory:");
    const connection = await engine.connect();
    for (const [ending, options] of [
      [".parquet", "FORMAT parquet"],
      [".csv.zst", "FORMAT csv, HEADER, COMPRESSION zstd"],
    ]) {
      const target = join(folder, `seed${ending}`);
      await connection.run(`COPY (SELECT * FROM read_csv('${source}')) TO '${target}' (${options})`);
      seeds.push({ ending, bytes: readFileSync(target), text: false });
    }
    connection.closeSync();
    const { tableFromArrays, tableToIPC } = await import("@uwdata/flechette");
    const columns = Object.fromEntries(
      names.map((name, i) => [name, Float64Array.from(rows.slice(1), (row) => Number(row[i]))]),
    );
    for (const format of ["stream", "file"] as const) {
      const bytes = tableToIPC(tableFromArrays(columns), { format });
      if (bytes) seeds.push({ ending: ".arrow", bytes: Buffer.from(bytes), text: false });
    }
    const h5 = await import("h5wasm/node");
    await h5.ready;
    const target = join(folder, "seed.h5");
    const file = new h5.File(target, "w");
    for (const [name, data] of Object.entries(columns)) {
      file.create_dataset({ name: name.replaceAll("/", " per "), data });
    }
    file.close();
    seeds.push({ ending: ".h5", bytes: readFileSync(target), text: false });
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  const early = seeds.map((seed) => ({ ...seed, early: true }));
  return [...early, ...(await packedSeeds(csv, table)), ...(await logSeeds(table))];
}

/** Archives, workbooks and array files, which came later. */
async function packedSeeds(csv: string, table: Columns): Promise<SeedFile[]> {
  const { utils, write } = await import("@e965/xlsx");
  const { packTar } = await import("modern-tar");
  const book = utils.book_new();
  const rows = csv
    .trimEnd()
    .split("\n")
    .map((line) =>
      line.split(",").map((cell) => (cell === "" || Number.isNaN(Number(cell)) ? cell : Number(cell))),
    );
  utils.book_append_sheet(book, utils.aoa_to_sheet([["Roller 7"], [], ...rows]), "UVW torque");
  utils.book_append_sheet(book, utils.aoa_to_sheet(rows.slice(0, 80)), "VWU torque");
  const books = (["xlsx", "biff8", "ods"] as const).map((bookType) => ({
    ending: bookType === "biff8" ? ".xls" : `.${bookType}`,
    bytes: Buffer.from(write(book, { type: "buffer", bookType }) as Uint8Array),
    text: false,
  }));
  const member = (name: string) => ({ name, content: Buffer.from(csv) });
  const doubles = table.data.map((column) => Buffer.from(new Uint8Array(Float64Array.from(column).buffer)));
  const length = table.data[0].length;
  const arrays = table.names.map((name, k) => ({
    name: `${name.replaceAll("/", " per ")}.npy`,
    content: arrayFile(`(${length},)`, doubles[k]),
  }));
  const tar = Buffer.from(
    await packTar([
      { header: { name: "bench/uvw.csv", size: Buffer.byteLength(csv), type: "file" }, body: csv },
      { header: { name: "bench/vwu.csv", size: Buffer.byteLength(csv), type: "file" }, body: csv },
    ]),
  );
  return [
    ...books,
    { ending: ".zip", bytes: zipOf(member("uvw.csv"), member("bench/vwu.csv")), text: false },
    { ending: ".tar", bytes: tar, text: false },
    { ending: ".tar.gz", bytes: gzipSync(tar), text: false },
    {
      ending: ".npy",
      bytes: arrayFile(`(${table.names.length}, ${length})`, Buffer.concat(doubles)),
      text: false,
    },
    { ending: ".npz", bytes: zipOf(...arrays), text: false },
    { ending: ".mat", bytes: readFileSync(join(root, "tests/published/mat/plain.mat")), text: false },
    { ending: ".mcap", bytes: await messageFile(table), text: false },
  ];
}

/** The table as messages in JSON, one a row, in a file of the open MCAP format, written by its own library. */
async function messageFile(table: Columns): Promise<Buffer> {
  const { McapWriter } = await import("@mcap/core");
  const parts: Uint8Array[] = [];
  let size = 0n;
  const writable = {
    position: () => size,
    write: async (bytes: Uint8Array) => {
      parts.push(bytes.slice());
      size += BigInt(bytes.length);
    },
  };
  const writer = new McapWriter({ writable, useChunks: true, chunkSize: 4096 });
  await writer.start({ profile: "", library: "seed" });
  const text = (value: unknown): Uint8Array => new TextEncoder().encode(JSON.stringify(value));
  const schemaId = await writer.registerSchema({ name: "Row", encoding: "jsonschema", data: text({}) });
  const channel = {
    topic: "/roller",
    messageEncoding: "json",
    schemaId,
    metadata: new Map<string, string>(),
  };
  const channelId = await writer.registerChannel(channel);
  const [time, ...others] = table.data;
  for (let k = 0; k < time.length; k++) {
    const at = BigInt(Math.round(1e9 * time[k]));
    const values = others.map((column, j) => [
      table.names[j + 1],
      Number.isNaN(column[k]) ? null : column[k],
    ]);
    const data = text(Object.fromEntries(values));
    await writer.addMessage({ channelId, sequence: k, logTime: at, publishTime: at, data });
  }
  await writer.end();
  return Buffer.concat(parts);
}

/** An array file by the published "NPY format" of NumPy, version 1.0. */
function arrayFile(shape: string, data: Buffer): Buffer {
  const dict = `{'descr': '<f8', 'fortran_order': False, 'shape': ${shape}, }`;
  const text = `${dict.padEnd(Math.ceil((dict.length + 11) / 64) * 64 - 11)}\n`;
  const head = Buffer.alloc(10);
  head.write("\u0093NUMPY\u0001\u0000", "latin1");
  head.writeUInt16LE(text.length, 8);
  return Buffer.concat([head, Buffer.from(text), data]);
}
