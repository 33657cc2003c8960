/**
 * Measures what a study holds in memory when its journal has every result already: list, hash, journal and tables, over
 * growing numbers of recordings. `npm run build && npx tsx tests/benchmarks/studyFull.ts [1000,10000,30000] [times]
 * [orders]`
 *
 * Each recording is another motor's, with a result of the fleet's sample; with `orders` six are a motor's, one in each
 * lead order, and every folder holds one order of all motors, so that most wait long for their turn. The files hold a
 * few bytes, since they are only hashed. Shown is the median of the peaks of the largest process (`/usr/bin/time`) of
 * so many runs.
 */
import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { version } from "../../lib/cli/version.js";
import { contentKey, settingsKey } from "../../lib/study/pipeline/contentKey.js";
import { Journal } from "../../lib/study/pipeline/journal.js";
import { ownJob } from "../../lib/study/pipeline/judgePool.js";
import type { FileResult } from "../../lib/study/pipeline/recordingResult.js";

const [countsText = "1000,10000,30000", timesText = "3", arrangement] = process.argv.slice(2);
const root = resolve(import.meta.dirname, "../..");
const main = join(root, "dist/cli/main.js");
const home = mkdtempSync(join(tmpdir(), "shaftwise-full-"));

function study(input: string, out: string): { memory: number; cpu: number; text: string } {
  const args = ["-f", "%U %S %M", process.execPath, main, "study", "run", input, "--out", out];
  const { status, stdout, stderr } = spawnSync("/usr/bin/time", args, { encoding: "utf8" });
  if (status !== 0) throw new Error(stderr);
  const [user, system, memory] = stderr.trim().split("\n").at(-1)!.split(" ").map(Number);
  return { cpu: user + system, memory: memory / 1024, text: stdout };
}

/** Results of the sample, from the journal of a study of it. */
function realResults(): FileResult[] {
  const out = join(home, "sample");
  const set = arrangement === "orders" ? "parcel-sorter" : "parcel-sorter-fleet/sample";
  study(join(root, "datasets", set), out);
  const lines = readFileSync(join(out, "journal"), "utf8").split("\n");
  return lines
    .filter((line) => /^[0-9a-f]{8} [0-9a-f]{40} /.test(line))
    .map((line) => JSON.parse(line.slice(50)) as FileResult);
}

/** Which of the results a recording has. */
const resultOf = (i: number, count: number, results: number): number =>
  arrangement === "orders" ? Math.floor((i * results) / count) : i % results;

/** Folder and motor of a recording. */
function placeOf(i: number, count: number, results: number): [folder: string, motor: string] {
  const each = arrangement === "orders" ? Math.ceil(count / results) : count;
  const folder =
    arrangement === "orders" ? `order-${resultOf(i, count, results)}` : `week-${Math.floor(i / 100)}`;
  return [folder, `roller-${String(i % each).padStart(5, "0")}`];
}

/** `count` files and a results folder whose journal holds a result for each. */
async function lay(count: number, results: readonly FileResult[]): Promise<{ input: string; out: string }> {
  const [input, out] = [join(home, `in-${count}`), join(home, `out-${count}`)];
  mkdirSync(out);
  const base = settingsKey({}, version(), ownJob);
  const journal = new Journal(join(out, "journal"));
  for (let i = 0; i < count; i++) {
    const [folder, name] = placeOf(i, count, results.length);
    mkdirSync(join(input, folder), { recursive: true });
    const path = join(input, folder, `${name}.csv`);
    writeFileSync(path, String(i));
    const { recordings, reason } = results[resultOf(i, count, results.length)];
    const motor = name;
    journal.add(await contentKey(path, base), {
      recordings: recordings.map((one) => ({ ...one, motor })),
      reason,
    });
  }
  journal.close();
  return { input, out };
}

try {
  const results = realResults();
  let first: number | undefined;
  for (const count of countsText.split(",").map(Number)) {
    const { input, out } = await lay(count, results);
    const runs = Array.from({ length: Number(timesText) }, () => study(input, out));
    if (!runs[0].text.includes(`${count} known from before`)) throw new Error(runs[0].text);
    const peaks = runs.map((r) => r.memory).sort((a, b) => a - b);
    const middle = peaks[Math.floor(peaks.length / 2)];
    first ??= middle;
    console.log(
      `${String(count).padStart(6)} recordings  ${middle.toFixed(1)} MB (${peaks[0].toFixed(1)} to ${peaks.at(-1)!.toFixed(1)}), ${(middle / first).toFixed(3)} of the first  ${Math.min(...runs.map((r) => r.cpu)).toFixed(1)} CPU s`,
    );
    rmSync(input, { recursive: true });
    rmSync(out, { recursive: true });
  }
} finally {
  rmSync(home, { recursive: true, force: true });
}
