/**
 * CSV to typed columns: this package's reader against the bare engine (the same columns selected, results fetched), danfojs-node and
 * arquero, in one process, medians of repeated runs: `npx tsx tests/benchmarks/readCsv.bench.ts`.
 *
 * 1, 10 and 100 files of 100,000 rows and 8 columns, of which 5 are read. Files are made in a temporary folder and removed.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import { fromCSV } from "arquero";
import { readRecordings } from "../../lib/recording/index.js";
import { scenario } from "../recording/scenario.js";

const folder = mkdtempSync(join(tmpdir(), "readcsv-"));
const rows = 100_000;
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
for (const file of files) writeFileSync(file, text);

const connection = await (await DuckDBInstance.create(":memory:")).connect();
const bare = async (path: string): Promise<number> => {
  const result = await connection.run(
    `SELECT "time [s]", "i_cmd [A]", "i_q [A]", "speed [rpm]", "pos [counts]" FROM read_csv('${path}', header=true)`,
  );
  let n = 0;
  for (const chunk of await result.fetchAllChunks()) n += chunk.rowCount;
  return n;
};
const ours = async (path: string): Promise<number> => {
  const { recordings } = await readRecordings([path], { encoder: { lines: 1024 } });
  return recordings[0].time.length;
};
const arquero = async (path: string): Promise<number> => {
  const table = fromCSV(readFileSync(path, "utf8"));
  return table.select("time [s]", "i_cmd [A]", "i_q [A]", "speed [rpm]", "pos [counts]").numRows();
};
const danfojs = "danfojs-node";
const { readCSV } = (await import(danfojs)) as {
  readCSV: (path: string) => Promise<{ shape: [number, number] }>;
};
const danfo = async (path: string): Promise<number> => (await readCSV(path)).shape[0];

async function timed(read: (path: string) => Promise<number>, count: number): Promise<number> {
  const start = performance.now();
  for (const file of files.slice(0, count)) {
    const n = await read(file);
    if (n !== rows) throw new Error(`${n} rows were read instead of ${rows}`);
  }
  return performance.now() - start;
}
const middle = (list: number[]): number => [...list].sort((a, b) => a - b)[list.length >> 1];

await timed(bare, 2);
await timed(ours, 2);
const slowFiles = Number(process.env.SLOW_FILES ?? 100);
console.log("files  ours ms  bare ms  ours/bare  arquero/ours  danfojs/ours");
for (const [count, repeats] of [
  [1, 15],
  [10, 5],
  [100, 3],
] as const) {
  // Turn by turn, so that other work on the machine disturbs all alike.
  const own: number[] = [];
  const engine: number[] = [];
  const ratios: number[] = [];
  for (let k = 0; k < repeats; k += 1) {
    const b = await timed(bare, count);
    const o = await timed(ours, count);
    own.push(o);
    engine.push(b);
    ratios.push(o / b);
  }
  const few = Math.min(count, slowFiles);
  const scale = count / few;
  const a = middle(await repeated(arquero, few, count === 1 ? 3 : 1)) * scale;
  const d = middle(await repeated(danfo, few, count === 1 ? 3 : 1)) * scale;
  const o = middle(own);
  console.log(
    `${String(count).padStart(5)} ${o.toFixed(0).padStart(8)} ${middle(engine).toFixed(0).padStart(8)} ${middle(ratios).toFixed(2).padStart(10)} ${(a / o).toFixed(1).padStart(13)} ${(d / o).toFixed(1).padStart(13)}${scale > 1 ? `   (slow readers on ${few} files, scaled)` : ""}`,
  );
}
async function repeated(
  read: (path: string) => Promise<number>,
  count: number,
  times: number,
): Promise<number[]> {
  const out: number[] = [];
  for (let k = 0; k < times; k += 1) out.push(await timed(read, count));
  return out;
}
rmSync(folder, { recursive: true, force: true });
process.exit(0);
