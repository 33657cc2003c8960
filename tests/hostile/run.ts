/**
 * Reads and judges thousands of damaged files in child processes, which are watched for crashes, hangs and memory:
 * `npx tsx tests/hostile/run.ts 20000 [first] [results.json]`. Prints the counts and every failure; exit status 1 when there is one.
 * The results are written after every batch, so that a run that is stopped tells what it did.
 */
import { fork } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Attempt, attempt } from "./attempt.js";
import { seedFiles } from "./seeds.js";

/** Processes at once: one, unless `SHAFTWISE_LANES` says otherwise. */
const lanes = Number(process.env.SHAFTWISE_LANES ?? 1);
const hangLimit = 30_000;
const memoryLimit = 1_500;

if (process.send) {
  const [from, to] = process.argv.slice(2).map(Number);
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-hostile-"));
  const seeds = await seedFiles();
  for (let number = from; number < to; number += 1) {
    process.send({ starts: number });
    const result = await attempt(seeds, number, folder);
    process.send({ result, megabytes: Math.round(process.memoryUsage().rss / 2 ** 20) });
  }
  rmSync(folder, { recursive: true, force: true });
  process.disconnect();
} else {
  const count = Number(process.argv[2] ?? 20000);
  const first = Number(process.argv[3] ?? 1);
  const batch = 500;
  const written = process.argv[4];
  interface Row {
    judged: number;
    refused: number;
    failed: number;
    slowest: number;
  }
  const formats: Record<string, Row> = {};
  const damages: Record<string, number> = {};
  const failures: (Attempt | { number: number; failure: string })[] = [];
  const times: number[] = [];
  let [slowest, largest, next] = [0, 0, first];
  const started = Date.now();

  const summary = () => ({
    first,
    files: times.length,
    failed: failures.length,
    seconds: Math.round((Date.now() - started) / 1000),
    medianMilliseconds: Math.round(times.toSorted((a, b) => a - b)[times.length >> 1] ?? 0),
    slowestMilliseconds: Math.round(slowest),
    largestProcessMiB: largest,
    formats,
    damages,
    failures,
  });

  const lane = async (): Promise<void> => {
    while (next < first + count) {
      let from = next;
      const to = Math.min(first + count, from + batch);
      next = to;
      while (from < to) from = await runBatch(from, to);
      if (written !== undefined) writeFileSync(written, JSON.stringify(summary(), null, 1));
    }
  };

  /** Runs a batch in a child; returns the number to go on with after a crash or a hang. */
  const runBatch = (from: number, to: number): Promise<number> =>
    new Promise((resolve) => {
      const child = fork(import.meta.filename, [String(from), String(to)], {
        execArgv: process.execArgv,
        stdio: ["ignore", "ignore", "pipe", "ipc"],
      });
      let current = from;
      let last = "";
      let answered = false;
      child.stderr?.on("data", (text) => {
        last = `${last}${text}`.slice(-500);
      });
      // Beginning (loading, writing the sound files) may take longer on a busy machine.
      let timer = setTimeout(() => child.kill("SIGKILL"), 10 * hangLimit);
      child.on("message", (message: { starts?: number; result?: Attempt; megabytes?: number }) => {
        clearTimeout(timer);
        timer = setTimeout(() => child.kill("SIGKILL"), hangLimit);
        answered = true;
        if (message.starts !== undefined) current = message.starts;
        const { result } = message;
        if (result === undefined) return;
        formats[result.ending] ??= { judged: 0, refused: 0, failed: 0, slowest: 0 };
        const row = formats[result.ending];
        row[result.outcome] += 1;
        row.slowest = Math.max(row.slowest, Math.round(result.milliseconds));
        for (const name of result.did) damages[name] = (damages[name] ?? 0) + 1;
        times.push(result.milliseconds);
        if (result.outcome === "failed") failures.push(result);
        slowest = Math.max(slowest, result.milliseconds);
        largest = Math.max(largest, message.megabytes ?? 0);
        if ((message.megabytes ?? 0) > memoryLimit)
          failures.push({ number: result.number, failure: `${message.megabytes} MiB resident` });
        current = result.number + 1;
      });
      child.on("exit", (code, signal) => {
        clearTimeout(timer);
        if (!answered) throw new Error(`the process for the files from ${from} on did not begin: ${last}`);
        if (current < to) {
          failures.push({
            number: current,
            failure: signal
              ? `killed by ${signal} (no answer for ${hangLimit / 1000} s, or a crash)`
              : `exit ${code}: ${last}`,
          });
          resolve(current + 1);
        } else resolve(to);
      });
    });

  await Promise.all(Array.from({ length: lanes }, lane));
  const { formats: table, failures: _, ...rest } = summary();
  console.table(table);
  console.log(JSON.stringify(rest, null, 1));
  for (const failure of failures.slice(0, 60)) console.log(JSON.stringify(failure));
  process.exitCode = failures.length === 0 ? 0 : 1;
}
