import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";
import { putTogether, takeApart } from "../../lib/recording/limits/columnTransfer.js";
import type { GaveUp } from "../../lib/recording/limits/limits.js";
import { ProcessPool } from "../../lib/recording/limits/processPool.js";
import { withinTime } from "../../lib/recording/limits/watchdog.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-limits-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const demo = join(import.meta.dirname, "../../datasets/parcel-sorter");
const limits = { seconds: 60, bytes: 2 ** 30 };

test("columns go to another process and come back as they were, each once", () => {
  const time = Float64Array.from({ length: 1000 }, (_, i) => (i === 3 ? Number.NaN : i / 7));
  const value = {
    recordings: [{ time, channels: { speed: { data: time.subarray(10, 900), unit: "x" } } }],
    again: time,
    few: Float64Array.of(1, Number.NaN, -0),
    nothing: undefined,
    infinite: Number.NEGATIVE_INFINITY,
    words: new Map([[1, "a"]]),
    ["__proto__" as string]: { polluted: true },
  };
  const apart = takeApart(value);
  expect(apart.columns.map(({ length }) => length)).toEqual([1000, 890]);
  const back = putTogether(apart) as typeof value;
  expect(back).toEqual(value);
  expect(back.again).toBe(back.recordings[0].time);
  expect(({} as { polluted?: boolean }).polluted).toBeUndefined();
});

test("work beyond its time or memory, and work that ends its process, is given up; the next task is not", async () => {
  const module = new URL("./jobs/misbehave.ts", import.meta.url).href;
  const pool = new ProcessPool(module, 2, { seconds: 15, bytes: 512 * 2 ** 20 });
  try {
    const fates = await Promise.allSettled(
      ["loop", "array", "heap", "exit", "throw", "fine"].map((what) => pool.run(what)),
    );
    expect(
      fates.map((f) => (f.status === "fulfilled" ? f.value : ((f.reason as GaveUp).why ?? f.reason.message))),
    ).toEqual(["time", "memory", "memory", "ended", "thrown by the work", "fine"]);
  } finally {
    await pool.close();
  }
}, 120_000);

test("a loop without end in this process is stopped, and what else was under way goes on", async () => {
  const endless = withinTime({ seconds: 0.5, bytes: 0 }, async () => {
    await null;
    for (let i = 0; ; i += 1) if (i < 0) return i;
  });
  const other = withinTime(
    { seconds: 30, bytes: 0 },
    () => new Promise((done) => setTimeout(() => done("done"), 50)),
  );
  await expect(endless).rejects.toThrow("given up after 0.5 s: the time limit of one recording");
  await expect(other).resolves.toBe("done");
});

test("a text that is small and plain is read here, all else by a process of its own, with the same result", async () => {
  const at = join(folder, "mixed");
  mkdirSync(at);
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  await connection.run(
    `COPY (SELECT i / 1000.0 AS time, sin(i / 9.0) AS current FROM range(3000) t(i)) TO '${join(at, "a.parquet")}' (FORMAT parquet)`,
  );
  connection.closeSync();
  for (const paths of [[demo], [at]])
    expect(await readRecordings(paths, { limits })).toEqual(await readRecordings(paths));
}, 60_000);

test("Parquet: a footer that claims ten million columns is given up for its memory, and the file beside it is read", async () => {
  // Compact Thrift: version, then a list of 10,000,000 schema elements of which there is none.
  const footer = Buffer.from([0x15, 0x02, 0x19, 0xfc, 0x80, 0xad, 0xe2, 0x04]);
  const length = Buffer.alloc(4);
  length.writeUInt32LE(footer.length);
  const mark = Buffer.from("PAR1");
  const path = join(folder, "claim.parquet");
  writeFileSync(path, Buffer.concat([mark, footer, length, mark]));
  const { recordings, problems } = await readRecordings([path, join(demo, "order-uvw.csv")], { limits });
  expect(recordings).toHaveLength(1);
  expect(problems.map(({ code, message }) => [code, message])).toEqual([
    ["given-up", "given up: it needs more than 1 GiB of memory, the limit of one recording"],
  ]);
}, 120_000);
