import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from "node:fs";
import { join } from "node:path";
import type { FileResult } from "./recordingResult.js";
import { studyConstants } from "./studyConstants.js";

/** Columns of `trials.parquet`: one row for each trial, and one for each file or recording that has none. */
export const trialColumns = {
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
export const recordingColumns = {
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

/** Facts that a table beside the study may add, for each recording or each motor. */
export const aboutColumns = {
  batch: "VARCHAR",
  rig: "VARCHAR",
  date: "VARCHAR",
  temperature: "DOUBLE",
} as const;

/** Names of the result files. */
export const resultFiles = {
  trials: "trials.parquet",
  recordings: "recordings.parquet",
  motors: "motors.parquet",
} as const;

/**
 * Writes the three result tables from results in canonical order, by way of line files that DuckDB turns into Parquet. The same
 * results give the same bytes. Files appear under their names only when they are whole.
 *
 * @param results - path, key and result of each file, in canonical order
 * @param about - a CSV file with a `recording` column (path, or name with or without ending) or a `motor` column, and any of batch, rig, date, temperature (and motor)
 */
export async function writeResults(
  out: string,
  results: Iterable<{ readonly path: string; readonly key: string; readonly result: FileResult }>,
  about?: string,
): Promise<void> {
  const staging = { trials: join(out, "trials.staging"), recordings: join(out, "recordings.staging") };
  const made = Object.values(resultFiles).map((name) => join(out, `${name}.part`));
  const scratch = join(out, "scratch");
  try {
    stage(staging, results);
    await toParquet(out, staging, scratch, about);
    for (const path of made) {
      const file = openSync(path, "r+");
      fsyncSync(file);
      closeSync(file);
      renameSync(path, path.slice(0, -".part".length));
    }
  } finally {
    for (const path of [...Object.values(staging), ...made, scratch])
      rmSync(path, { force: true, recursive: true });
  }
}

function stage(
  staging: { trials: string; recordings: string },
  results: Iterable<{ readonly path: string; readonly key: string; readonly result: FileResult }>,
): void {
  const trials = new LineFile(staging.trials);
  const recordings = new LineFile(staging.recordings);
  try {
    let sequence = 0;
    let row = 0;
    for (const { path, key, result } of results) {
      if (result.reason !== null || result.recordings.length === 0) {
        const reason = result.reason ?? "no recording was found in the file";
        const common = { recording: path, motor: path, reason };
        recordings.add({
          sequence: sequence++,
          ...common,
          motor_stated: false,
          rows: 0,
          trials: 0,
          findings: "",
          key,
        });
        trials.add({ sequence: row++, ...common });
        continue;
      }
      for (const judged of result.recordings) {
        const { part, ordering, about } = judged;
        const motor = judged.motor ?? (part === null ? path : `${path}#${part}`);
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
          sequence: sequence++,
          recording: path,
          part,
          motor,
          motor_stated: judged.motor !== null,
          ordering,
          rows: judged.rows,
          trials: judged.trials.length,
          findings: judged.findings.join(" "),
          reason,
          key,
          ...about,
          ...constants,
        });
        if (reason !== null) trials.add({ sequence: row++, recording: path, part, motor, ordering, reason });
        judged.trials.forEach((trial, i) => {
          const { causeOdds, ...rest } = trial;
          trials.add({
            sequence: row++,
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
}

/** A file of JSON lines, written in blocks. */
class LineFile {
  readonly #file: number;
  #lines: string[] = [];
  #length = 0;

  constructor(path: string) {
    this.#file = openSync(path, "w");
  }

  add(row: object): void {
    const line = `${JSON.stringify(row)}\n`;
    this.#lines.push(line);
    this.#length += line.length;
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

async function toParquet(
  out: string,
  staging: { trials: string; recordings: string },
  scratch: string,
  about: string | undefined,
): Promise<void> {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const database = await DuckDBInstance.create(":memory:", { threads: "1", memory_limit: "400MB" });
  const connection = await database.connect();
  try {
    const run = (sql: string) => connection.run(sql);
    await run(`SET temp_directory = ${quoted(scratch)}`);
    const constantColumns = studyConstants.flatMap((name) => [name, `${name}_low`, `${name}_high`]);
    const columns = (types: Readonly<Record<string, string>>) =>
      `{${Object.entries({ sequence: "BIGINT", ...types })
        .map(([name, type]) => `${quoted(name)}: ${quoted(type)}`)
        .join(", ")}}`;
    const recordingTypes = {
      ...recordingColumns,
      ...aboutColumns,
      ...Object.fromEntries(constantColumns.map((name) => [name, "DOUBLE"])),
    };
    const lines = (path: string, types: Readonly<Record<string, string>>) =>
      `read_json(${quoted(path)}, format = 'newline_delimited', columns = ${columns(types)})`;
    await run(`CREATE VIEW staged_recordings AS SELECT * FROM ${lines(staging.recordings, recordingTypes)}`);
    await run(`CREATE VIEW staged_trials AS SELECT * FROM ${lines(staging.trials, trialColumns)}`);
    await addAbout(connection, about);
    const names = (types: Readonly<Record<string, string>>, from: string) =>
      Object.keys(types)
        .filter((name) => name !== "motor" && !(name in aboutColumns))
        .map((name) => `${from}."${name}"`)
        .join(", ");
    const added = Object.keys(aboutColumns)
      .map(
        (name) =>
          `coalesce(by_path."${name}", by_name."${name}", by_motor."${name}", r."${name}") AS "${name}"`,
      )
      .join(", ");
    const parquet = "(FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 50000)";
    const part = (name: string) => quoted(join(out, `${name}.part`));
    await run(
      `COPY (SELECT coalesce(by_path.motor, by_name.motor, r.motor) AS motor, ${names(recordingTypes, "r")}, ${added}
             FROM staged_recordings r ${aboutJoin("r")}
             LEFT JOIN about_motor by_motor ON by_motor.motor = coalesce(by_path.motor, by_name.motor, r.motor)
             ORDER BY r.sequence) TO ${part(resultFiles.recordings)} ${parquet}`,
    );
    await run(
      `COPY (SELECT coalesce(by_path.motor, by_name.motor, t.motor) AS motor, ${names(trialColumns, "t")}
             FROM staged_trials t ${aboutJoin("t")}
             ORDER BY t.sequence) TO ${part(resultFiles.trials)} ${parquet}`,
    );
    const constants = studyConstants
      .map(
        (name) =>
          `median("${name}") AS "${name}", median("${name}_low") AS "${name}_low", median("${name}_high") AS "${name}_high", stddev_samp("${name}") AS "${name}_spread"`,
      )
      .join(", ");
    const counted = (verdict: string) => `count(*) FILTER (WHERE verdict = '${verdict}') AS ${verdict}`;
    await run(
      `COPY (
         WITH r AS (SELECT * FROM read_parquet(${part(resultFiles.recordings)})),
              t AS (SELECT * FROM read_parquet(${part(resultFiles.trials)})),
              ofRecordings AS (
                SELECT motor, count(*)::INTEGER AS recordings, count(*) FILTER (WHERE reason IS NOT NULL)::INTEGER AS without_result,
                       ${Object.keys(aboutColumns)
                         .map((name) => `min("${name}") AS "${name}"`)
                         .join(", ")}, ${constants}
                FROM r GROUP BY motor),
              ofTrials AS (
                SELECT motor, count(trial) AS trials, ${["blocked", "tracking", "runaway", "undetermined"].map(counted).join(", ")},
                       count(*) FILTER (WHERE sense = 'against') AS against,
                       string_agg(DISTINCT cause, ' ' ORDER BY cause) FILTER (WHERE cause_odds > 0.5) AS causes
                FROM t GROUP BY motor)
         SELECT ofRecordings.motor, recordings, without_result, trials, blocked, tracking, runaway, undetermined, against, causes,
                ofRecordings.* EXCLUDE (motor, recordings, without_result)
         FROM ofRecordings JOIN ofTrials USING (motor) ORDER BY motor) TO ${part(resultFiles.motors)} ${parquet}`,
    );
  } finally {
    connection.closeSync();
    database.closeSync();
  }
}

/** The name of a file without folder and ending, in SQL. */
const stem = (column: string) =>
  `regexp_replace(regexp_extract(${column}, '[^/]*$'), '\\.[A-Za-z0-9]+(\\.gz|\\.zst)?$', '')`;

/** A line of the table about recordings belongs to a path as it stands, or to a name without folder and ending. */
const aboutJoin = (from: string) =>
  `LEFT JOIN about_recording by_path ON by_path.recording = ${from}.recording
   LEFT JOIN about_recording by_name ON by_name.name = ${stem(`${from}.recording`)}`;

interface Connection {
  run(sql: string): Promise<unknown>;
  runAndReadAll(sql: string): Promise<{ getRows(): unknown[][] }>;
}

/** Makes the tables about_recording and about_motor, empty where nothing was given. */
async function addAbout(connection: Connection, about: string | undefined): Promise<void> {
  const types = Object.entries(aboutColumns);
  const empty = types.map(([name, type]) => `NULL::${type} AS "${name}"`).join(", ");
  let have = new Set<string>();
  if (about !== undefined) {
    const source = `read_csv(${quoted(about)}, header = true, all_varchar = true)`;
    let described: unknown[][];
    try {
      described = (await connection.runAndReadAll(`DESCRIBE SELECT * FROM ${source}`)).getRows();
    } catch (error) {
      throw new Error(`${about}: cannot be read as CSV with a header line (${firstLine(error)})`);
    }
    have = new Set(described.map((row) => String(row[0])));
    if (!have.has("recording") && !have.has("motor"))
      throw new Error(`${about}: needs a column "recording" or "motor"; found ${[...have].join(", ")}`);
    await connection.run(`CREATE TABLE about_all AS SELECT * FROM ${source}`);
    const key = have.has("recording") ? "recording" : "motor";
    const twice = (
      await connection.runAndReadAll(
        `SELECT "${key}", count(*) FROM about_all GROUP BY 1 HAVING count(*) > 1 ORDER BY 1 LIMIT 1`,
      )
    ).getRows()[0];
    if (twice !== undefined)
      throw new Error(`${about}: ${key} ${String(twice[0])} has ${String(twice[1])} lines; keep one`);
    for (const [name, type] of types) {
      if (type !== "DOUBLE" || !have.has(name)) continue;
      const wrong = (
        await connection.runAndReadAll(
          `SELECT "${key}", "${name}" FROM about_all WHERE "${name}" IS NOT NULL AND try_cast("${name}" AS DOUBLE) IS NULL LIMIT 1`,
        )
      ).getRows()[0];
      if (wrong !== undefined)
        throw new Error(
          `${about}: ${key} ${String(wrong[0])}: ${name} "${String(wrong[1])}" is not a number`,
        );
    }
  }
  const chosen = types
    .map(([name, type]) =>
      have.has(name) ? `"${name}"::${type} AS "${name}"` : `NULL::${type} AS "${name}"`,
    )
    .join(", ");
  const none = (key: string) =>
    `SELECT NULL::VARCHAR AS "${key}"${key === "recording" ? ", NULL::VARCHAR AS name, NULL::VARCHAR AS motor" : ""}, ${empty} WHERE false`;
  const motor = have.has("motor") ? "motor" : "NULL::VARCHAR AS motor";
  await connection.run(
    `CREATE TABLE about_recording AS ${have.has("recording") ? `SELECT recording, CASE WHEN contains(recording, '/') THEN NULL ELSE ${stem("recording")} END AS name, ${motor}, ${chosen} FROM about_all` : none("recording")}`,
  );
  await connection.run(
    `CREATE TABLE about_motor AS ${have.has("motor") && !have.has("recording") ? `SELECT motor, ${chosen} FROM about_all` : none("motor")}`,
  );
}

function firstLine(error: unknown): string {
  return (error instanceof Error ? error.message : String(error)).split("\n")[0];
}
