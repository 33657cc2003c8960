/**
 * CSV to typed columns: this package's reader against the bare engine (the same columns selected, results fetched),
 * danfojs-node and arquero, in one process, medians of repeated runs: `npx tsx tests/benchmarks/readCsv.ts`.
 *
 * 1, 10 and 100 files of 100,000 rows and 8 columns, of which 5 are read. Ours reads each list with one call; the
 * others have no such call and read file by file. Files are made in a temporary folder and removed. The slow readers
 * take a tenth of the 100 files, and their time is multiplied.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import { fromCSV } from "arquero";
import { readRecordings } from "../../lib/recording/index.js";
import { scenario } from "../recording/scenario.js";
import { type Measurement, median } from "./table.js";

const rows = 100_000;
const slowFiles = 10;

/** Ratios of times for 1, 10 and 100 files. */
export async function readCsv(): Promise<Measurement[]> {
  const folder = mkdtempSync(join(tmpdir(), "readcsv-"));
  try {
    return await compare(makeFiles(folder));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function makeFiles(folder: string): string[] {
  const data = scenario(rows, 1e-4);
  const lines = ["time [s],i_cmd [A],i_q [A],speed [rpm],pos [counts],u_bus,temp,status"];
  for (let i = 0; i < rows; i += 1) {
    lines.push(
      `${data.time[i].toFixed(4)},${data.command[i].toFixed(2)},${data.current[i].toFixed(4)},${(data.speed[i] * 9.549).toFixed(3)},${data.counts[i]},48.12,41.5,39`,
    );
  }
  const text = `${lines.join("\n")}\n`;
  const files = Array.from({ length: 100 }, (_, k) =>
    join(folder, `motor-${String.fromCharCode(97 + (k % 26))}${Math.floor(k / 26)}x.csv`),
  );
  // Each differs in its first current: a file that is a copy of another is read once and told.
  const [heading, first, rest] = [
    lines[0],
    lines[1].split(","),
    text.slice(lines[0].length + lines[1].length + 2),
  ];
  for (const [k, file] of files.entries())
    writeFileSync(file, `${heading}\n${first.with(2, (1e-4 * k).toFixed(4)).join(",")}\n${rest}`);
  return files;
}

type Reader = (files: readonly string[]) => Promise<number>;

/** Reads file by file. */
const inTurn =
  (read: (file: string) => Promise<number>): Reader =>
  async (files) => {
    let sum = 0;
    for (const file of files) sum += await read(file);
    return sum;
  };

async function compare(files: readonly string[]): Promise<Measurement[]> {
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const bare = inTurn(async (file) => {
    const result = await connection.run(
      `SELECT "time [s]", "i_cmd [A]", "i_q [A]", "speed [rpm]", "pos [counts]" FROM read_csv('${file}', header=true)`,
    );
    let n = 0;
    for (const chunk of await result.fetchAllChunks()) n += chunk.rowCount;
    return n;
  });
  const ours: Reader = async (list) => {
    const { recordings } = await readRecordings(list, { encoder: { lines: 1024 } });
    return recordings.reduce((sum, { time }) => sum + time.length, 0);
  };
  const arquero = inTurn(async (file) =>
    fromCSV(readFileSync(file, "utf8"))
      .select("time [s]", "i_cmd [A]", "i_q [A]", "speed [rpm]", "pos [counts]")
      .numRows(),
  );
  const name = "danfojs-node";
  const { readCSV } = (await import(name)) as {
    readCSV: (path: string) => Promise<{ shape: [number, number] }>;
  };
  const danfojs = inTurn(async (file) => (await readCSV(file)).shape[0]);
  const timed = async (read: Reader, count: number): Promise<number> => {
    const begun = performance.now();
    const n = await read(files.slice(0, count));
    if (n !== rows * count) throw new Error(`${n} rows were read instead of ${rows * count}`);
    return performance.now() - begun;
  };
  await timed(bare, 2);
  await timed(ours, 2);
  const out: Measurement[] = [];
  for (const [count, repeats] of [
    [1, 15],
    [10, 5],
    [100, 3],
  ] as const) {
    // Turn by turn, so that other work on the machine disturbs all alike.
    const times: Record<string, number[]> = { bare: [], ours: [], arquero: [], danfojs: [] };
    const few = Math.min(count, slowFiles);
    for (let k = 0; k < repeats; k += 1) {
      times.bare.push(await timed(bare, count));
      times.ours.push(await timed(ours, count));
      if (k >= 3) continue;
      times.arquero.push(((await timed(arquero, few)) * count) / few);
      times.danfojs.push(((await timed(danfojs, few)) * count) / few);
    }
    const own = median(times.ours);
    const many = `${count} ${count === 1 ? "file" : "files"} of 100,000 rows`;
    out.push({
      what: `CSV to typed columns, ${many}: against the bare column engine`,
      value: median(times.ours.map((t, k) => t / times.bare[k])),
      unit: "times its time",
      target: "at most 1.25",
      detail: `${own.toFixed(0)} ms against ${median(times.bare).toFixed(0)} ms`,
    });
    for (const other of ["arquero", "danfojs"])
      out.push({
        what: `CSV to typed columns, ${many}: ${other} against ours`,
        value: median(times[other]) / own,
        unit: "times our time",
        target: "at least 10",
        detail: `${median(times[other]).toFixed(0)} ms against ${own.toFixed(0)} ms`,
      });
  }
  return out;
}

if (process.argv[1]?.endsWith("readCsv.ts")) {
  for (const m of await readCsv()) console.log(`${m.what}: ${m.value.toPrecision(3)} (${m.detail})`);
  process.exit(0);
}
