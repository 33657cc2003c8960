import { existsSync, readdirSync, statSync } from "node:fs";
import { writeFile } from "node:fs/promises";
import { basename, join } from "node:path";
import { OutputFolder } from "../../recording/outputFolder.js";
import { jsonText, visible } from "../../units/text.js";
import { type AboutTable, readAbout } from "./aboutTable.js";
import { contentKey, settingsKey } from "./contentKey.js";
import { hasJournal, Journal } from "./journal.js";
import { type Judges, judgePool, ownJob } from "./judgePool.js";
import { listRecordings } from "./listRecordings.js";
import { MotorSets } from "./motorSets.js";
import { type FileResult, isFileResult, type StudySettings } from "./recordingResult.js";
import type { DateOrder } from "./settleDates.js";
import { isLock, lockStudy, type StudyLock } from "./studyLock.js";
import { resultFiles, writeResults } from "./writeResults.js";

/** How far a study has come. */
export interface StudyProgress {
  readonly total: number;
  readonly done: number;
  /** Of those done, how many were there from an earlier run. */
  readonly reused: number;
  readonly failed: number;
  /** Recordings judged per second, over the last half minute. */
  readonly rate: number;
  /** Seconds left at that rate; null while it is not known. */
  readonly secondsLeft: number | null;
}

/** How a study ended. */
export interface StudyReport {
  readonly version: string;
  readonly files: number;
  /** Judged in this run, and found in the journal. */
  readonly judged: number;
  readonly reused: number;
  /** Files without a result, each with its reason (the first hundred). */
  readonly failed: number;
  /** Of those, how many ended or hung their worker (`dead-letters.jsonl`). */
  readonly dead: number;
  readonly failures: readonly { readonly path: string; readonly reason: string }[];
  readonly recordings: number;
  readonly trials: number;
  /** Trials by verdict. */
  readonly verdicts: Readonly<Record<string, number>>;
  /** Bytes of a torn tail that an earlier interruption had left. */
  readonly cut: number;
  /** Damaged lines of the journal among sound ones: what they held was judged again. */
  readonly damaged: number;
}

/** Options of `runStudy`. */
export interface StudyOptions {
  /** Folder of the results. */
  readonly out: string;
  readonly version: string;
  readonly settings?: StudySettings;
  /** Worker threads; one for each core when absent. */
  readonly threads?: number;
  /** Who judges; threads of this process when absent. */
  readonly judges?: Judges;
  /** URL of a module that exports `judge` in place of our own. */
  readonly job?: string;
  /** Seconds after which a recording is given up. */
  readonly limit?: number;
  /** Bytes of memory beyond which it is. */
  readonly memory?: number;
  /** CSV with facts for each recording or motor (batch, rig, date, temperature, hours); looked through before anything is judged. */
  readonly about?: string;
  /** Order of day and month in the dates of that table, where its dates can be read in two ways. */
  readonly dates?: DateOrder;
  /** Judges recordings once more that ended or hung their worker in an earlier run. */
  readonly retryDead?: boolean;
  /** Told of every recording that is done. */
  readonly progress?: (progress: StudyProgress) => void;
  readonly signal?: AbortSignal;
}

/**
 * A study that stopped before its end; what was done is kept.
 *
 * @example
 * try {
 *   await runStudy(["datasets/parcel-sorter"], { out: `${folder}/stopped`, version: "0.1.0", signal: AbortSignal.abort() });
 * } catch (error) {
 *   if (error instanceof StudyInterrupted) console.log(`${error.done} of ${error.total} files; start again to go on`);
 * }
 */
export class StudyInterrupted extends Error {
  override readonly name = "StudyInterrupted";
  constructor(
    message: string,
    readonly done: number,
    readonly total: number,
  ) {
    super(message);
  }
}

/**
 * Judges and fits any number of files and writes `trials.parquet`, `recordings.parquet`, `motors.parquet` and `study.json` to a
 * folder. Started again with the same folder it goes on where it was: a file is identified by its content and the settings,
 * so nothing is done twice and a changed file is done anew. The tables do not depend on interruptions or on the number of
 * workers.
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
  try {
    output = await OutputFolder.open(out, { inputs, alone: true, isOurs: isOfStudy(out) }).catch((error) => {
      throw beginning(out, error);
    });
    await output.mark();
    lock = await lockStudy(output.path, out);
    await output.removeLeftDrafts();
    const facts = await readAbout(options.about, options.dates);
    const paths = await listRecordings(inputs, options.about === undefined ? [out] : [out, options.about]);
    const base = settingsKey(settings, version, job);
    journal = new Journal(join(output.path, journalName), lock.check);
    judges =
      options.judges ??
      (await judgePool({
        threads: options.threads,
        settings,
        job,
        limit: options.limit,
        memory: options.memory,
      }));
    const judged = await judgeAll(paths, base, journal, judges, options);
    // Threads of our own are done: their memory is free before the tables are written.
    if (options.judges === undefined) await judges.close();
    lock.check();
    const report = await finish(output, paths, judged, journal, { ...options, facts });
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
  const names = existsSync(out) ? readdirSync(out) : [];
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

async function judgeAll(
  paths: readonly string[],
  base: string,
  journal: Journal,
  judges: Judges,
  { progress, signal, retryDead = false, judges: others }: StudyOptions,
): Promise<Judged> {
  // Files that were under way when an earlier run of this study was ended with all its processes: judged last, and one at a time.
  const suspects: number[] = [];
  const unread = new Map<string, FileResult>();
  const keys = new Array<string>(paths.length);
  const inFlight = new Map<string, Promise<void>>();
  const retried = new Set<string>();
  const clock = new RateClock();
  let next = 0;
  let done = 0;
  let reused = 0;
  let failed = 0;
  let stopped: unknown;
  const report = (final = false) => {
    if (progress === undefined || !(final || clock.due())) return;
    const rate = clock.rate();
    progress({
      total: paths.length,
      done,
      reused,
      failed,
      rate,
      secondsLeft: rate > 0 ? (paths.length - done) / rate : null,
    });
  };
  const one = async (i: number, alone: boolean) => {
    const path = paths[i];
    for (let attempt = 0; ; attempt++) {
      let key: string;
      let result: FileResult;
      const before = stamp(path);
      try {
        key = await contentKey(path, base);
      } catch (error) {
        // A file that cannot be opened is a row with its reason; the key holds the reason, so that it is tried again later.
        result = { recordings: [], reason: `cannot be read: ${(error as Error).message}` };
        key = `unread-${i}`;
        keys[i] = key;
        unread.set(key, result);
        failed++;
        break;
      }
      keys[i] = key;
      const twin = inFlight.get(key);
      if (twin !== undefined) {
        // The same content under another path: judged once, and looked up when it is there.
        await twin;
        continue;
      }
      // What an older version took over unseen may be no result.
      if (journal.has(key) && !isFileResult(journal.get(key))) journal.drop(key);
      if (journal.has(key)) {
        if (!retryDead || retried.has(key) || journal.get(key)?.poison !== true) {
          reused++;
          break;
        }
        retried.add(key);
        journal.drop(key);
      }
      const unfinished = others === undefined ? journal.unfinished(key) : { begun: 0, alone: 0 };
      if (unfinished.begun > 0 && !alone) {
        suspects.push(i);
        return;
      }
      let release = () => {};
      inFlight.set(key, new Promise((resolve) => (release = resolve)));
      try {
        if (unfinished.alone >= mostEnds && !retryDead) result = endsStudies(unfinished.alone);
        else {
          if (others === undefined) journal.begin(key, alone);
          result = await judges.judge({ path, key });
        }
        if (signal?.aborted) return;
        if (before !== stamp(path) && attempt < 3) continue; // changed while it was read
        journal.add(key, result);
        clock.tick();
        if (result.reason !== null) failed++;
      } finally {
        inFlight.delete(key);
        release();
      }
      break;
    }
    done++;
    report();
  };
  const lane = async () => {
    while (next < paths.length && stopped === undefined && !signal?.aborted) {
      try {
        await one(next++, false);
      } catch (error) {
        stopped ??= error;
      }
    }
  };
  const lanes = Promise.all(Array.from({ length: Math.max(1, judges.width) }, lane)).then(async () => {
    for (const i of suspects)
      if (stopped === undefined && !signal?.aborted)
        await one(i, true).catch((error) => {
          stopped ??= error;
        });
  });
  const aborted = new Promise<void>((resolve) => {
    if (signal?.aborted) resolve();
    signal?.addEventListener("abort", () => resolve(), { once: true });
  });
  await Promise.race([lanes, aborted]);
  if (stopped !== undefined) throw stopped;
  journal.flush();
  if (signal?.aborted && done < paths.length) journal.orderlyEnd();
  if (signal?.aborted)
    throw new StudyInterrupted(
      `interrupted. ${done} of ${paths.length} recordings are kept: give the same command again to go on`,
      done,
      paths.length,
    );
  report(true);
  return { keys, reused, unread };
}

/** How often a study may end while it judges a file alone before the file is taken for the reason. */
const mostEnds = 2;

function endsStudies(times: number): FileResult {
  return {
    recordings: [],
    reason: `not judged any more: the whole study ended ${times} times while nothing but this was judged`,
    poison: true,
  };
}

interface Judged {
  readonly keys: readonly string[];
  readonly reused: number;
  /** Results of files that could not be opened: they have no content to be known by, so no journal line. */
  readonly unread: ReadonlyMap<string, FileResult>;
}

async function finish(
  output: OutputFolder,
  paths: readonly string[],
  { keys, reused, unread }: Judged,
  journal: Journal,
  { version, settings = {}, facts }: StudyOptions & { readonly facts: AboutTable },
): Promise<StudyReport> {
  const dead: string[] = [];
  const failures: { path: string; reason: string }[] = [];
  const verdicts: Record<string, number> = {
    blocked: 0,
    tracking: 0,
    reversed: 0,
    runaway: 0,
    undetermined: 0,
  };
  let [recordings, trials, failed] = [0, 0, 0];
  const resultOf = (i: number): FileResult | undefined => unread.get(keys[i]) ?? journal.get(keys[i]);
  const sets = new MotorSets(paths, resultOf, facts);
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
        for (const { verdict } of list) {
          trials++;
          verdicts[verdict] = (Object.hasOwn(verdicts, verdict) ? verdicts[verdict] : 0) + 1;
        }
      yield { path: paths[i], key, result };
    }
  }
  await output.mayWrite(writtenNames);
  await writeResults(output, results(), facts);
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

/** Size and time of a file, to notice that it was changed meanwhile. */
function stamp(path: string): string {
  try {
    const { size, mtimeMs } = statSync(path);
    return `${size} ${mtimeMs}`;
  } catch {
    return "";
  }
}

/** Counts results per second over the last half minute. */
class RateClock {
  #ticks: number[] = [];
  #start = Date.now();
  #shown = 0;

  tick(): void {
    const now = Date.now();
    this.#ticks.push(now);
    if (this.#ticks.length > 4096) this.#ticks.splice(0, 2048);
    while (now - this.#ticks[0] > 30_000) this.#ticks.shift();
  }

  rate(): number {
    const span = Math.min(30_000, Date.now() - this.#start);
    const first = this.#ticks[0];
    if (first === undefined || span < 500) return 0;
    const window = this.#ticks.length >= 2048 ? Date.now() - first : span;
    return this.#ticks.length / (window / 1000);
  }

  due(): boolean {
    if (Date.now() - this.#shown < 250) return false;
    this.#shown = Date.now();
    return true;
  }
}
