import { closeSync, openSync, writeSync } from "node:fs";
import type { DuckDBConnection } from "@duckdb/node-api";
import type { OutputFolder } from "../../recording/outputFolder.js";
import { type AboutTable, aboutColumns } from "./aboutTable.js";
import type { FileResult } from "./recordingResult.js";
import { studyConstants } from "./studyConstants.js";
import { unaskedKinds } from "./trialResults.js";

/** Columns of `trials.parquet`: one row for each trial, and one for each file or recording that has none. */
const trialColumns = {
  recording: "VARCHAR",
  part: "VARCHAR",
  motor: "VARCHAR",
  ordering: "VARCHAR",
  trial: "INTEGER",
  kind: "VARCHAR",
  start: "DOUBLE",
  end: "DOUBLE",
  verdict: "VARCHAR",
  confidence: "DOUBLE",
  sense: "VARCHAR",
  cause: "VARCHAR",
  cause_odds: "DOUBLE",
  forecast: "VARCHAR",
  text: "VARCHAR",
  reason: "VARCHAR",
} as const;

/** Columns of `recordings.parquet` before the constants. */
const recordingColumns = {
  recording: "VARCHAR",
  part: "VARCHAR",
  motor: "VARCHAR",
  motor_stated: "BOOLEAN",
  ordering: "VARCHAR",
  rows: "BIGINT",
  trials: "INTEGER",
  findings: "VARCHAR",
  reason: "VARCHAR",
  key: "VARCHAR",
} as const;

/** Names of the result files. */
export const resultFiles = {
  trials: "trials.parquet",
  recordings: "recordings.parquet",
  motors: "motors.parquet",
} as const;

/**
 * Writes the three result tables from results in canonical order, by way of line files that DuckDB turns into Parquet.
 * The same results give the same bytes. They are drafts: `OutputFolder.keep` puts them in their places.
 *
 * @param results - path, key and result of each file, in canonical order
 * @param about - a table about recordings or motors, as `readAbout` gives it
 */
export async function writeResults(
  output: OutputFolder,
  results: Iterable<{ readonly path: string; readonly key: string; readonly result: FileResult }>,
  about: AboutTable,
): Promise<void> {
  const staging = {
    trials: await output.draft("trials.staging"),
    recordings: await output.draft("recordings.staging"),
  };
  const longest = stage(staging, results, about);
  const scratch = await output.draft("scratch");
  const made = {
    trials: await output.draft(resultFiles.trials),
    recordings: await output.draft(resultFiles.recordings),
    motors: await output.draft(resultFiles.motors),
  };
  await toParquet(made, staging, scratch, longest);
}

/** Writes the rows as lines of JSON. Returns the bytes of the longest line. */
function stage(
  staging: { trials: string; recordings: string },
  results: Iterable<{ readonly path: string; readonly key: string; readonly result: FileResult }>,
  about: AboutTable,
): number {
  const trials = new LineFile(staging.trials);
  const recordings = new LineFile(staging.recordings);
  try {
    for (const { path, key, result } of results) {
      if (result.reason !== null || result.recordings.length === 0) {
        const reason = result.reason ?? "no recording was found in the file";
        const facts = about.find(path, path, {});
        const common = { recording: path, motor: facts.motor, reason };
        recordings.add({
          ...facts,
          ...common,
          motor_stated: false,
          rows: 0,
          trials: 0,
          findings: "",
          key,
        });
        trials.add(common);
        continue;
      }
      for (const judged of result.recordings) {
        const { part, ordering } = judged;
        const facts = about.find(
          path,
          judged.motor ?? (part === null ? path : `${path}#${part}`),
          judged.about,
        );
        const { motor } = facts;
        const constants: Record<string, number | null> = {};
        for (const name of studyConstants) {
          const triple = judged.constants[name];
          if (triple === undefined) continue;
          constants[name] = triple[0];
          constants[`${name}_low`] = triple[1];
          constants[`${name}_high`] = triple[2];
        }
        const reason = judged.trials.length === 0 ? "no trial was found in the recording" : null;
        recordings.add({
          ...facts,
          recording: path,
          part,
          motor_stated: judged.motor !== null,
          ordering,
          rows: judged.rows,
          trials: judged.trials.length,
          findings: judged.findings.join(" "),
          reason,
          key,
          ...constants,
        });
        if (reason !== null) trials.add({ recording: path, part, motor, ordering, reason });
        judged.trials.forEach((trial, i) => {
          const { causeOdds, ...rest } = trial;
          trials.add({
            recording: path,
            part,
            motor,
            ordering,
            trial: i + 1,
            ...rest,
            cause_odds: causeOdds,
          });
        });
      }
    }
  } finally {
    trials.close();
    recordings.close();
  }
  return Math.max(trials.longest, recordings.longest);
}

/** A file of JSON lines, written in blocks. */
class LineFile {
  readonly #file: number;
  #lines: string[] = [];
  #length = 0;
  /** Upper bound of the bytes of the longest line so far. */
  longest = 0;

  constructor(path: string) {
    this.#file = openSync(path, "wx");
  }

  add(row: object): void {
    const line = `${JSON.stringify(row)}\n`;
    this.#lines.push(line);
    this.#length += line.length;
    this.longest = Math.max(this.longest, 3 * line.length);
    if (this.#length > 1 << 18) this.flush();
  }

  flush(): void {
    const block = Buffer.from(this.#lines.join(""));
    this.#lines = [];
    this.#length = 0;
    for (let written = 0; written < block.length; )
      written += writeSync(this.#file, block, written, block.length - written);
  }

  close(): void {
    try {
      this.flush();
    } finally {
      closeSync(this.#file);
    }
  }
}

const quoted = (text: string) => `'${text.replaceAll("'", "''")}'`;

/** Paths of the three tables. */
type Made = Readonly<Record<keyof typeof resultFiles, string>>;

async function toParquet(
  made: Made,
  staging: { trials: string; recordings: string },
  scratch: string,
  longest: number,
): Promise<void> {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  // One thread keeps the rows in the order of the staged lines, so that nothing has to be sorted.
  const database = await DuckDBInstance.create(":memory:", {
    threads: "1",
    memory_limit: "400MB",
    preserve_insertion_order: "true",
  });
  const connection = await database.connect();
  try {
    const run = (sql: string) => connection.run(sql);
    await run(`SET temp_directory = ${quoted(scratch)}`);
    const { motor, ...others } = recordingColumns;
    const recordingTypes = {
      motor,
      ...others,
      ...Object.fromEntries(
        studyConstants
          .flatMap((name) => [name, `${name}_low`, `${name}_high`])
          .map((name) => [name, "DOUBLE"]),
      ),
      ...aboutColumns,
    };
    const { motor: _, ...ofTrials } = trialColumns;
    const trialTypes = { motor, ...ofTrials };
    // The size of an object bounds the buffer of the reader, which is 32 MB otherwise.
    const lines = (path: string, types: Readonly<Record<string, string>>) =>
      `read_json(${quoted(path)}, format = 'newline_delimited', hive_partitioning = false, maximum_object_size = ${Math.max(1 << 20, longest)}, columns = {${Object.entries(
        types,
      )
        .map(([name, type]) => `${quoted(name)}: ${quoted(type)}`)
        .join(", ")}})`;
    const parquet = "(FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 10240)";
    for (const [target, path, types] of [
      [made.recordings, staging.recordings, recordingTypes],
      [made.trials, staging.trials, trialTypes],
    ] as const)
      await run(`COPY (SELECT * FROM ${lines(path, types)}) TO ${quoted(target)} ${parquet}`);
    await motorsToParquet(connection, made, parquet);
  } finally {
    connection.closeSync();
    database.closeSync();
  }
}

/**
 * One row for each motor. A name that stands in two batches is two motors, each with its batch behind its name: serial
 * numbers begin anew with many makers.
 */
async function motorsToParquet(connection: DuckDBConnection, made: Made, parquet: string): Promise<void> {
  const run = (sql: string) => connection.run(sql);
  const about = Object.keys(aboutColumns).map((name) => `min("${name}") AS "${name}"`);
  const counted = ["blocked", "tracking", "reversed", "runaway", "undetermined"].map(
    (verdict) =>
      `count(*) FILTER (WHERE verdict = '${verdict}'${verdict === "undetermined" ? ` AND kind NOT IN (${unaskedKinds.map(quoted).join(", ")})` : ""}) AS ${verdict}`,
  );
  const constants = studyConstants
    .map(
      (name) =>
        `median("${name}") AS "${name}", median("${name}_low") AS "${name}_low", median("${name}_high") AS "${name}_high", stddev_samp("${name}") AS "${name}_spread"`,
    )
    .join(", ");
  const given = `read_parquet(${quoted(made.recordings)}, hive_partitioning=false)`;
  const trials = `read_parquet(${quoted(made.trials)}, hive_partitioning=false)`;
  // Views with the names apart; motors are then taken in slices of the alphabet, since the medians of one hold memory.
  await run(
    `CREATE TABLE twice AS SELECT motor FROM ${given} GROUP BY motor HAVING count(DISTINCT batch) > 1`,
  );
  await run(
    `CREATE TABLE named AS SELECT recording, part, motor, motor || ' (batch ' || batch || ')' AS apart
     FROM ${given} WHERE batch IS NOT NULL AND motor IN (FROM twice)`,
  );
  await run(
    `CREATE VIEW recordings_of AS
     SELECT * REPLACE (CASE WHEN batch IS NOT NULL AND motor IN (FROM twice)
                       THEN motor || ' (batch ' || batch || ')' ELSE motor END AS motor) FROM ${given}`,
  );
  await run(
    `CREATE VIEW trials_of AS
     SELECT t.* REPLACE (coalesce(apart, t.motor) AS motor) FROM ${trials} t
     LEFT JOIN named ON named.motor = t.motor AND named.recording = t.recording
                    AND named.part IS NOT DISTINCT FROM t.part`,
  );
  await run(
    `CREATE TABLE slices AS
     SELECT motor, (row_number() OVER (ORDER BY motor) - 1) // greatest(${motorsAtOnce}, count(*) OVER () // ${mostSlices} + 1) AS slice
     FROM (SELECT DISTINCT motor FROM recordings_of)`,
  );
  const rows = (slice: string): string =>
    `WITH wanted AS (SELECT motor FROM slices WHERE slice = ${slice}),
          of_recordings AS (
            SELECT motor, count(*)::INTEGER AS recordings, count(*) FILTER (WHERE reason IS NOT NULL)::INTEGER AS without_result,
                   ${about.join(", ")}, ${constants}
            FROM recordings_of WHERE motor IN (FROM wanted) GROUP BY motor),
          of_trials AS (
            SELECT motor, count(trial) AS trials, ${counted.join(", ")}, count(*) FILTER (WHERE sense = 'against') AS against,
                   string_agg(DISTINCT cause, ' ' ORDER BY cause) FILTER (WHERE cause_odds > 0.5) AS causes
            FROM trials_of WHERE motor IN (FROM wanted) GROUP BY motor)
     SELECT of_recordings.motor, recordings, without_result, trials, blocked, tracking, reversed, runaway, undetermined, against, causes,
            of_recordings.* EXCLUDE (motor, recordings, without_result)
     FROM of_recordings JOIN of_trials USING (motor) ORDER BY motor`;
  await run(`CREATE TABLE motors AS ${rows("-1")}`);
  const [[last]] = (await connection.runAndReadAll("SELECT max(slice)::INTEGER FROM slices")).getRowsJS();
  for (let slice = 0; slice <= Number(last ?? -1); slice++)
    await run(`INSERT INTO motors ${rows(String(slice))}`);
  await run(`COPY (FROM motors) TO ${quoted(made.motors)} ${parquet}`);
}

/** Motors whose medians are worked out at once, unless that made too many slices, each of which reads both tables. */
const motorsAtOnce = 2000;
const mostSlices = 32;
