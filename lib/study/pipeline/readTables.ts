import { existsSync } from "node:fs";
import { join } from "node:path";
import { type StudyConstant, studyConstants } from "./studyConstants.js";
import { resultFiles } from "./writeResults.js";

/** One recording of a study, as read back. */
export interface StudyRecording {
  readonly recording: string;
  readonly motor: string;
  readonly ordering: string | null;
  readonly batch: string | null;
  readonly rig: string | null;
  readonly date: string | null;
  readonly temperature: number | null;
  readonly reason: string | null;
  /** Value of each constant that was estimated. */
  readonly constants: Readonly<Partial<Record<StudyConstant, number>>>;
}

/** One trial of a study, as read back. */
export interface StudyTrial {
  readonly recording: string;
  readonly motor: string;
  readonly kind: string;
  readonly verdict: string;
  readonly sense: string;
  readonly cause: string | null;
  readonly text: string;
}

/** The tables of a study that statistics are made from, in memory. */
export interface StudyTables {
  readonly recordings: readonly StudyRecording[];
  /** Trials that did not simply go well: blocked, runaway, undetermined, or against the command. */
  readonly troubled: readonly StudyTrial[];
}

/**
 * Reads the tables of a results folder back.
 *
 * @param folder - what `runStudy` wrote to
 * @throws Error that names the file which is missing
 * @example
 * (await readTables("datasets/parcel-sorter-fleet/study")).recordings.length; // => 2378
 */
export async function readTables(folder: string): Promise<StudyTables> {
  const [recordingsFile, trialsFile] = [
    join(folder, resultFiles.recordings),
    join(folder, resultFiles.trials),
  ];
  for (const path of [recordingsFile, trialsFile])
    if (!existsSync(path))
      throw new Error(`${path} is not there: run the study first (shaftwise study run ... --out ${folder})`);
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const database = await DuckDBInstance.create(":memory:", { threads: "1" });
  const connection = await database.connect();
  try {
    const quoted = (path: string) => `'${path.replaceAll("'", "''")}'`;
    const names = studyConstants.map((name) => `"${name}"`).join(", ");
    const rows = (
      await connection.runAndReadAll(
        `SELECT recording, motor, ordering, batch, rig, date, temperature, reason, ${names} FROM read_parquet(${quoted(recordingsFile)}, hive_partitioning = false)`,
      )
    ).getRowsJS();
    const troubled = (
      await connection.runAndReadAll(
        `SELECT recording, motor, kind, verdict, sense, cause, text FROM read_parquet(${quoted(trialsFile)}, hive_partitioning = false)
         WHERE verdict IS NOT NULL AND kind IN ('torque', 'speed', 'position') AND (verdict <> 'tracking' OR sense = 'against')`,
      )
    ).getRowObjectsJS();
    return {
      recordings: rows.map((row) => {
        const [recording, motor, ordering, batch, rig, date, temperature, reason, ...values] = row;
        const constants: Partial<Record<StudyConstant, number>> = {};
        studyConstants.forEach((name, i) => {
          if (typeof values[i] === "number") constants[name] = values[i];
        });
        return {
          recording,
          motor,
          ordering,
          batch,
          rig,
          date,
          temperature,
          reason,
          constants,
        } as StudyRecording;
      }),
      troubled: troubled as unknown as StudyTrial[],
    };
  } finally {
    connection.closeSync();
    database.closeSync();
  }
}
