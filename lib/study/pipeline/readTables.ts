import { join } from "node:path";
import type { DuckDBConnection } from "@duckdb/node-api";
import { engineModule } from "../../recording/formats/columnEngine.js";
import { statsOf } from "../../recording/formats/fileBytes.js";
import { TemporaryFolder } from "../../recording/formats/temporaryFolder.js";
import { contentOf } from "./contentKey.js";
import { type StudyConstant, studyConstants } from "./studyConstants.js";
import { nothingAsked, unaskedKinds } from "./trialResults.js";
import { resultFiles } from "./writeResults.js";

/** One recording of a study, as read back. */
export interface StudyRecording {
  readonly recording: string;
  /** Name inside the file when it holds several. */
  readonly part?: string | null;
  /** Digest of the file's bytes; absent where the table lacks it. */
  readonly content?: string;
  readonly motor: string;
  readonly ordering: string | null;
  readonly batch: string | null;
  readonly rig: string | null;
  readonly date: string | null;
  readonly temperature: number | null;
  /** Hours of use up to the recording. */
  readonly hours?: number | null;
  readonly reason: string | null;
  /** Value of each constant that was estimated. */
  readonly constants: Readonly<Partial<Record<StudyConstant, number>>>;
  /** Half of the 95 % interval of each, where it has one; infinite where an end is unbounded. */
  readonly halves?: Readonly<Partial<Record<StudyConstant, number>>>;
}

/** One trial of a study, as read back. */
export interface StudyTrial {
  readonly recording: string;
  readonly motor: string;
  readonly kind: string;
  readonly verdict: string;
  readonly sense: string;
  readonly cause: string | null;
  /** Probability of that cause, where it is known. */
  readonly causeOdds?: number | null;
  readonly text: string;
}

/** The tables of a study that statistics are made from, in memory. */
export interface StudyTables {
  readonly recordings: readonly StudyRecording[];
  /** Trials that did not simply go well: blocked, runaway, undetermined, against the command, or with a fault as most
   * probable cause (80 % and more). */
  readonly troubled: readonly StudyTrial[];
  /** Trials by verdict; those that went as asked but against the command are counted under `against`. */
  readonly verdicts: Readonly<Record<string, number>>;
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
  for (const path of [recordingsFile, trialsFile]) {
    const kind = statsOf(path);
    if (kind === undefined)
      throw new Error(`${path} is not there: run the study first (shaftwise study run ... --out ${folder})`);
    // Opening a pipe would wait for a writer that may never come.
    if (!kind.isFile()) throw new Error(`${path} is a folder, a pipe or a device, and no table of a study`);
  }
  const { DuckDBInstance } = engineModule();
  const database = await DuckDBInstance.create(":memory:", { threads: "1" });
  const connection = await database.connect();
  const links = [new TemporaryFolder(), new TemporaryFolder()];
  try {
    const recordings = parquet(await links[0].literal(recordingsFile));
    const trials = parquet(await links[1].literal(trialsFile));
    return {
      recordings: await recordingsIn(connection, recordings),
      troubled: await troubledIn(connection, trials),
      verdicts: await verdictsIn(connection, trials),
    };
  } finally {
    connection.closeSync();
    database.closeSync();
    for (const link of links) await link.close();
  }
}

const parquet = (path: string): string =>
  `read_parquet('${path.replaceAll("'", "''")}', hive_partitioning = false)`;

/** Trials that did not simply go well. */
async function troubledIn(connection: DuckDBConnection, trials: string): Promise<StudyTrial[]> {
  const found = await connection.runAndReadAll(
    `SELECT recording, motor, kind, verdict, sense, cause, cause_odds AS "causeOdds", text FROM ${trials}
     WHERE verdict IS NOT NULL AND kind IN ('torque', 'speed', 'position') AND (verdict <> 'tracking' OR sense = 'against'
       OR (cause NOT IN ('nothing-wrong', 'unexplained') AND cause_odds >= 0.8))`,
  );
  return found.getRowObjectsJS() as unknown as StudyTrial[];
}

/** Trials by verdict. */
async function verdictsIn(connection: DuckDBConnection, trials: string): Promise<Record<string, number>> {
  const unasked = unaskedKinds.map((kind) => `'${kind}'`).join(", ");
  const counted = await connection.runAndReadAll(
    `SELECT CASE WHEN sense = 'against' AND verdict = 'tracking' THEN 'against'
                 WHEN verdict = 'undetermined' AND kind IN (${unasked}) THEN '${nothingAsked}' ELSE verdict END AS word, count(*)::INTEGER
     FROM ${trials} WHERE verdict IS NOT NULL GROUP BY word ORDER BY word`,
  );
  return Object.fromEntries(counted.getRowsJS().map(([word, n]) => [String(word), Number(n)]));
}

type Row = readonly unknown[];

async function recordingsIn(connection: DuckDBConnection, table: string): Promise<StudyRecording[]> {
  // A table that was cut down may lack the ends of the intervals.
  const described = await connection.runAndReadAll(`DESCRIBE SELECT * FROM ${table}`);
  const columns = new Set(described.getRowsJS().map(([name]) => String(name)));
  const column = (name: string) => (columns.has(name) ? `"${name}"` : `NULL::DOUBLE AS "${name}"`);
  const text = (name: string) => (columns.has(name) ? `"${name}"` : `NULL::VARCHAR AS "${name}"`);
  const names = [...studyConstants, ...studyConstants.flatMap((name) => [`${name}_low`, `${name}_high`])]
    .map(column)
    .join(", ");
  const found = await connection.runAndReadAll(
    `SELECT recording, motor, ordering, batch, rig, date, temperature, reason, ${column("hours")}, ${text("part")}, ${text("key")}, ${names} FROM ${table}`,
  );
  const rows: readonly Row[] = found.getRowsJS();
  // A constant none of whose intervals has an end was stored without them.
  const bounded = studyConstants.map((_, i) =>
    rows.some((row) => typeof row[11 + studyConstants.length + 2 * i] === "number"),
  );
  return rows.map((row) => recordingOf(row, bounded));
}

function recordingOf(row: Row, bounded: readonly boolean[]): StudyRecording {
  const [recording, motor, ordering, batch, rig, date, temperature, reason, hours, part, key, ...values] =
    row;
  const content = contentOf(key);
  const constants: Partial<Record<StudyConstant, number>> = {};
  const halves: Partial<Record<StudyConstant, number>> = {};
  studyConstants.forEach((name, i) => {
    const value = values[i];
    if (typeof value !== "number") return;
    constants[name] = value;
    if (!bounded[i]) return;
    const [low, high] = values
      .slice(studyConstants.length + 2 * i)
      .map((v) => (v === null ? Number.POSITIVE_INFINITY : Number(v)));
    const half = Math.max(Math.abs(high - value), Math.abs(value - low));
    halves[name] = Number.isFinite(half) ? half : Number.POSITIVE_INFINITY;
  });
  return {
    recording,
    part,
    ...(content === undefined ? {} : { content }),
    motor,
    ordering,
    batch,
    rig,
    date,
    temperature,
    hours,
    reason,
    constants,
    halves,
  } as StudyRecording;
}
