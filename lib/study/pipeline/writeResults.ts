import { ProcessPool } from "../../recording/limits/processPool.js";
import type { OutputFolder } from "../../recording/outputFolder.js";
import { type AboutTable, aboutColumns } from "./aboutTable.js";
import { LineFiles } from "./lineFiles.js";
import { MotorRows, motorColumns } from "./motorRows.js";
import type { FileResult } from "./recordingResult.js";
import { studyConstants } from "./studyConstants.js";
import { type TableWork, toParquet } from "./toParquet.js";

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
    motors: await output.draft("motors.staging"),
  };
  const staged = await stage(staging, results, about);
  const scratch = await output.draft("scratch");
  const made = {
    trials: await output.draft(resultFiles.trials),
    recordings: await output.draft(resultFiles.recordings),
    motors: await output.draft(resultFiles.motors),
  };
  const work = { scratch, tables: tablesOf(made, staged) };
  if (staged.recordings.paths.length <= fewFiles) return toParquet(work);
  // What the column engine holds meanwhile goes with its process.
  const process = new ProcessPool(tablesWorker, 1, tableLimits);
  try {
    await process.run(work);
  } finally {
    await process.close();
  }
}

/** A recording's row, of which whose it is is known. */
type Facts = Readonly<Record<string, unknown>> & { readonly motor: string };

/** Results that are written in one turn of the event loop. */
const atOnce = 50;

/** Writes the rows as lines of JSON. */
async function stage(
  staging: Made,
  results: Iterable<{ readonly path: string; readonly key: string; readonly result: FileResult }>,
  about: AboutTable,
): Promise<Staged> {
  const trials = new LineFiles(staging.trials);
  const recordings = new LineFiles(staging.recordings);
  const motors = new LineFiles(staging.motors);
  const rows = new MotorRows();
  /** Writes one recording and its trials. */
  const add = (recording: Facts, its: readonly object[]): void =>
    rows.add(recording, recordings.add([recording]), trials.add(its));
  let done = 0;
  for (const { path, key, result } of results) {
    // What one turn has looked up weakly stays alive until it ends.
    if (++done % atOnce === 0) await new Promise((next) => setImmediate(next));
    if (result.reason !== null || result.recordings.length === 0) {
      const reason = result.reason ?? "no recording was found in the file";
      const facts = about.find(path, path, {});
      const common = { recording: path, motor: facts.motor, reason };
      add({ ...facts, ...common, motor_stated: false, rows: 0, trials: 0, findings: "", key }, [common]);
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
      const whose = { recording: path, part, motor, ordering };
      const row = {
        ...facts,
        ...whose,
        motor_stated: judged.motor !== null,
        rows: judged.rows,
        trials: judged.trials.length,
        findings: judged.findings.join(" "),
        reason,
        key,
        ...constants,
      };
      const its = judged.trials.map(({ causeOdds, ...rest }, i) => ({
        ...whose,
        trial: i + 1,
        ...rest,
        cause_odds: causeOdds,
      }));
      add(row, reason === null ? its : [{ ...whose, reason }]);
    }
  }
  trials.end();
  recordings.end();
  rows.write(recordings.paths, trials.paths, motors);
  motors.end();
  return { trials, recordings, motors };
}

/** Paths of the three tables. */
type Made = Readonly<Record<keyof typeof resultFiles, string>>;
/** Their lines. */
type Staged = Readonly<Record<keyof typeof resultFiles, LineFiles>>;

/** Files of lines up to which the tables are made here: another process costs as much as it saves. */
const fewFiles = 4;
const tableLimits = { seconds: 24 * 3600, bytes: 2 ** 31 };
const tablesWorker = new URL(
  `./tablesWorker${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`,
  import.meta.url,
).href;

function tablesOf(made: Made, staged: Staged): readonly TableWork[] {
  const { motor, ...others } = recordingColumns;
  const recordings = {
    motor,
    ...others,
    ...Object.fromEntries(
      studyConstants.flatMap((name) => [name, `${name}_low`, `${name}_high`]).map((name) => [name, "DOUBLE"]),
    ),
    ...aboutColumns,
  };
  const { motor: _, ...ofTrials } = trialColumns;
  const columns = { recordings, trials: { motor, ...ofTrials }, motors: motorColumns };
  return (["recordings", "trials", "motors"] as const).map((name) => ({
    target: made[name],
    paths: staged[name].paths,
    longest: staged[name].longest,
    columns: columns[name],
  }));
}
