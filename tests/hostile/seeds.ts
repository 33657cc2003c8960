import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import type { Columns } from "./columns.js";
import { encode } from "./encode.js";

/** A sound file that damage starts from. */
export interface SeedFile {
  readonly ending: string;
  readonly bytes: Buffer;
  /** A text table with commas, open to the mutations of structure. */
  readonly text: boolean;
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

/** One sound file in each format that is read. Parquet and Zstandard are written by the column engine, HDF5 by h5wasm. */
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
  return seeds;
}
