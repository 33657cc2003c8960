/**
 * Makes `study/` beside this file: the results of a study over the whole fleet, cut down to what statistics across
 * motors need.
 *
 * `npx tsx datasets/parcel-sorter-fleet/make.ts <runs>`
 * `shaftwise study run '<runs>/2*' --out <results>`
 * `npx tsx datasets/parcel-sorter-fleet/makeStudy.ts <results>`
 *
 * Values are rounded to five digits and their intervals left out, so that the tables stay small; columns are those of a
 * study.
 */
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import { studyConstants } from "../../lib/study/pipeline/studyConstants.js";

const results = process.argv[2];
const folder = join(import.meta.dirname, "study");
mkdirSync(folder, { recursive: true });
const connection = await (await DuckDBInstance.create(":memory:", { threads: "1" })).connect();
const kept = [
  "kv",
  "resistance",
  "inertia",
  "coulombFriction",
  "viscousFriction",
  "offsetError",
  "torqueConstant",
];
const rounded = studyConstants.flatMap((name) => [
  kept.includes(name)
    ? `CASE WHEN "${name}" = 0 THEN 0 ELSE round("${name}", 4 - CAST(floor(log10(abs("${name}"))) AS INTEGER)) END AS "${name}"`
    : `NULL::DOUBLE AS "${name}"`,
  `NULL::DOUBLE AS "${name}_low"`,
  `NULL::DOUBLE AS "${name}_high"`,
]);
const name = "regexp_extract(recording, '[^/]*/[^/]*$') AS recording";
for (const [table, columns] of [
  ["recordings", [name, "NULL::VARCHAR AS key", ...rounded]],
  ["trials", [name]],
] as const)
  await connection.run(
    `COPY (SELECT * REPLACE (${columns.join(", ")}) FROM read_parquet('${join(results, `${table}.parquet`)}'))
     TO '${join(folder, `${table}.parquet`)}' (FORMAT parquet, COMPRESSION zstd, COMPRESSION_LEVEL 12)`,
  );
connection.closeSync();
