import { existsSync, readdirSync, statSync } from "node:fs";
import { writeFile } from "node:fs/promises";
import { basename, join } from "node:path";
import { OutputFolder } from "../../recording/outputFolder.js";
import { jsonText, visible } from "../../units/text.js";
import { type AboutTable, readAbout } from "./aboutTable.js";
import { collectGarbage } from "./collectGarbage.js";
import { settingsKey } from "./contentKey.js";
import { hasJournal, Journal } from "./journal.js";
import { type Judged, judgeAll } from "./judgeAll.js";
import { type Judges, judgePool, ownJob } from "./judgePool.js";
import { judgeScales } from "./judgeScales.js";
import { LineFiles } from "./lineFiles.js";
import { listRecordings } from "./listRecordings.js";
import { MotorSets } from "./motorSets.js";
import { otherTables } from "./otherTables.js";
import type { FileResult } from "./recordingResult.js";
import { isLock, lockStudy, type StudyLock } from "./studyLock.js";
import { StudyInterrupted, type StudyOptions, type StudyReport } from "./studyOptions.js";
import { countedAs } from "./trialResults.js";
import { resultFiles, writeResults } from "./writeResults.js";

/**
 * Judges and fits any number of files and writes `trials.parquet`, `recordings.parquet`, `motors.parquet` and
 * `study.json` to a folder. Started again with the same folder it goes on where it was: a file is identified by its
 * content and the settings, so nothing is done twice and a changed file is done anew. The tables do not depend on
 * interruptions or on the number of workers.
 *
 * @param inputs - folders, files, patterns
 * @throws StudyInterrupted when the signal came or the disk was full; the journal keeps what was done
 * @throws Error when an input stands for nothing, or another study is writing to the folder
 * @example
 * const report = await runStudy(["datasets/parcel-sorter"], { out: `${folder}/study`, version: "0.1.0" });
 * report.recordings; // => 6
 */
export async function runStudy(inputs: readonly string[], options: StudyOptions): Promise<StudyReport> {
  const { out, version, settings = {}, job = ownJob } = options;
  let output: OutputFolder | undefined;
  let lock: StudyLock | undefined;
  let judges: Judges | undefined;
  let journal: Journal | undefined;
  let sets: MotorSets | undefined;
  try {
    output = await OutputFolder.open(out, {
      inputs,
      alone: (name) => hasJournal(join(out, journalName)) || isFirstFile(join(out, name), name),
      isOurs: isOfStudy(out),
    }).catch((error) => {
      throw beginning(out, error);
    });
    await output.mark();
    lock = await lockStudy(output.path, out);
    await output.removeLeftDrafts();
    const listed = await listRecordings(inputs, options.about === undefined ? [out] : [out, options.about]);
    const named = new Set(inputs);
    const tables = otherTables(listed.filter((path) => !named.has(path)));
    const paths = listed.filter((path) => !tables.includes(path));
    if (paths.length === 0)
      throw new Error(`no recording among ${listed.length} files, only tables about them`);
    const facts = await readAbout(options.about, {
      order: options.dates,
      columns: options.aboutColumns,
      paths,
    });
    facts.check(paths);
    const base = settingsKey(settings, version, job);
    journal = new Journal(join(output.path, journalName), lock.check);
    judges =
      options.judges ??
      (await judgePool({
        threads: options.threads,
        files: options.threads === undefined ? paths.length : undefined,
        settings,
        job,
        limit: options.limit,
        memory: options.memory,
      }));
    const judged = await judgeAll({ paths, base, journal, judges, options });
    const resultOf = resultsOf(judged, journal);
    const later = new LineFiles(await output.draft("later.staging"));
    sets = await MotorSets.of(paths, resultOf, facts, later);
    await judgeScales(sets.otherScales(), judged.keys, {
      work: { paths, journal, judges, options: { ...options, progress: undefined } },
      base: (own) => settingsKey(own, version, job),
      settings,
    });
    // Threads of our own are done: their memory is free before the tables are written.
    if (options.judges === undefined) await judges.close();
    lock.check();
    const done = await finish({ output, paths, judged, journal, sets, resultOf }, { ...options, facts });
    const report = {
      ...done,
      tables,
      unusedFacts: facts.unused(),
      withoutFacts: facts.silent(),
      ignoredColumns: facts.ignored,
      takenColumns: facts.taken,
    };
    await judges.finished?.();
    return report;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ENOSPC" || /no space left|disk full/i.test(String(error)))
      throw new StudyInterrupted(
        `the disk of ${out} is full. What was done is kept (${journal?.count ?? 0} results): make room and give the same command again`,
        journal?.count ?? 0,
        0,
      );
    throw error;
  } finally {
    if (options.judges === undefined) await judges?.close();
    sets?.close();
    try {
      journal?.close();
    } catch {
      // A disk that is full stays full; what was whole is on it.
    }
    await output?.close();
    lock?.release();
  }
}

const journalName = "journal";
/** What a study leaves in its folder besides the journal. */
const writtenNames = [...Object.values(resultFiles), "dead-letters.jsonl", "study.json"];

/** A folder that holds only what a study lays down first is one in which another study is just setting itself up. */
function beginning(out: string, refused: unknown): unknown {
  const names = existsSync(out) && statSync(out).isDirectory() ? readdirSync(out) : [];
  if (names.length === 0 || !names.every((name) => isFirstFile(join(out, name), name))) return refused;
  return new Error(
    `another study is beginning to write to ${visible(out)}; wait for it or choose another folder`,
  );
}

function isFirstFile(path: string, name: string): boolean {
  return (
    /^\.shaftwise(-draft-.*)?$/.test(name) ||
    /^lock\.[0-9a-f]{24}$/.test(name) ||
    (name === "lock" && isLock(path))
  );
}

/** Knows the files of a study that an older version left without a list: those beside its journal. */
function isOfStudy(out: string): (path: string) => Promise<boolean> {
  const names = [...writtenNames, journalName, "lock", "queue"];
  return async (path) => names.includes(basename(path)) && hasJournal(join(out, journalName));
}

/** Results after which what they left in memory is collected: all are gone through at once, and it would pile up. */
const betweenCollections = 500;

/** What the tables are written from. */
interface Finished {
  readonly output: OutputFolder;
  readonly paths: readonly string[];
  readonly judged: Judged;
  readonly journal: Journal;
  readonly sets: MotorSets;
  readonly resultOf: (i: number) => FileResult | undefined;
}

/** The result of each file, from where it is kept. */
function resultsOf({ keys, unread }: Judged, journal: Journal): Finished["resultOf"] {
  let looked = 0;
  return (i) => {
    if (++looked % betweenCollections === 0) collectGarbage();
    return unread.get(keys[i]) ?? journal.get(keys[i]);
  };
}

async function finish(
  { output, paths, judged: { keys, reused }, journal, sets, resultOf }: Finished,
  { version, settings = {}, facts }: StudyOptions & { readonly facts: AboutTable },
): Promise<Omit<StudyReport, "tables" | "unusedFacts" | "withoutFacts" | "ignoredColumns" | "takenColumns">> {
  const dead: string[] = [];
  const failures: { path: string; reason: string }[] = [];
  const verdicts: Record<string, number> = {
    blocked: 0,
    tracking: 0,
    reversed: 0,
    runaway: 0,
    undetermined: 0,
  };
  let recordings = 0;
  let trials = 0;
  let failed = 0;
  function* results() {
    for (let i = 0; i < paths.length; i++) {
      const key = keys[i];
      const alone = resultOf(i);
      if (alone === undefined) throw new Error(`${paths[i]}: its result is missing from the journal`);
      const result = sets.judged(i, alone);
      if (result.reason !== null) {
        failed++;
        if (result.poison) dead.push(`${jsonText({ recording: paths[i], reason: result.reason }, 0)}\n`);
        if (failures.length < 100) failures.push({ path: paths[i], reason: result.reason });
      }
      recordings += result.recordings.length;
      for (const { trials: list } of result.recordings)
        for (const trial of list) {
          trials++;
          const word = countedAs(trial);
          verdicts[word] = (Object.hasOwn(verdicts, word) ? verdicts[word] : 0) + 1;
        }
      yield { path: paths[i], key, result };
    }
  }
  await output.mayWrite(writtenNames);
  try {
    await writeResults(output, results(), facts);
  } finally {
    sets.close();
  }
  const kept = {
    version,
    settings,
    files: paths.length,
    recordings,
    trials,
    failed,
    dead: dead.length,
    verdicts,
    failures,
  };
  for (const [name, text] of [
    ["dead-letters.jsonl", dead.join("")],
    ["study.json", `${jsonText(kept)}\n`],
  ]) {
    await writeFile(await output.draft(name), text, { flag: "wx" });
  }
  await output.keep(writtenNames);
  return { ...kept, judged: paths.length - reused, reused, cut: journal.cut, damaged: journal.damaged };
}
