import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import { median, sampleStandardDeviation } from "simple-statistics";
import { expect, test } from "vitest";
import { OutputFolder } from "../../lib/recording/outputFolder.js";
import { readAbout } from "../../lib/study/pipeline/aboutTable.js";
import type { FileResult } from "../../lib/study/pipeline/recordingResult.js";
import { writeResults } from "../../lib/study/pipeline/writeResults.js";

/** More recordings than are made into tables by the process itself; motors come back in many files. */
const count = 2600;
const motors = 130;
const kvOf = (i: number) => 100 + 7 * Math.sin(i);

function* results() {
  for (let i = 0; i < count; i++) {
    const result: FileResult = {
      reason: null,
      recordings: [
        {
          motor: `M${i % motors}`,
          ordering: null,
          part: null,
          rows: 10,
          trials: [],
          constants: i % 3 === 0 ? {} : { kv: [kvOf(i), kvOf(i) - 1, kvOf(i) + 1] },
          about: i % motors === 5 ? { batch: i < count / 2 ? "B1" : "B2" } : {},
          findings: [],
        },
      ],
    };
    yield { path: `runs/${String(i).padStart(5, "0")}.csv`, key: String(i).padStart(40, "0"), result };
  }
}

test("tables of a large study keep the order of the paths, and give each motor its own medians", async () => {
  const home = mkdtempSync(join(tmpdir(), "shaftwise-tables-"));
  const output = await OutputFolder.open(join(home, "out"));
  try {
    await writeResults(output, results(), await readAbout());
    const connection = await (await DuckDBInstance.create(":memory:")).connect();
    const rows = async (table: string, columns: string) =>
      (
        await connection.runAndReadAll(
          `SELECT ${columns} FROM read_parquet('${await output.draft(`${table}.parquet`)}')`,
        )
      ).getRowsJS();
    const paths = (await rows("recordings", "recording")).map(([path]) => path);
    expect(paths).toEqual(Array.from(results(), ({ path }) => path));
    expect((await rows("trials", "recording")).map(([path]) => path)).toEqual(paths);
    const made = await rows("motors", "motor, recordings, kv, kv_spread, batch");
    expect(made.map(([motor]) => motor)).toEqual(made.map(([motor]) => String(motor)).sort());
    // One serial number in two batches is two motors.
    expect(made).toHaveLength(motors + 1);
    expect(made.filter(([motor]) => String(motor).startsWith("M5 "))).toMatchObject([
      ["M5 (batch B1)", 10, expect.any(Number), expect.any(Number), "B1"],
      ["M5 (batch B2)", 10, expect.any(Number), expect.any(Number), "B2"],
    ]);
    const own = Array.from({ length: count }, (_, i) => i).filter((i) => i % motors === 17 && i % 3 !== 0);
    const [, recordings, kv, spread] = made.find(([motor]) => motor === "M17") ?? [];
    expect(recordings).toBe(count / motors);
    expect(kv).toBeCloseTo(median(own.map(kvOf)), 10);
    expect(spread).toBeCloseTo(sampleStandardDeviation(own.map(kvOf)), 10);
  } finally {
    await output.close();
    rmSync(home, { recursive: true, force: true });
  }
});
