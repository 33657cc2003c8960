import { statSync } from "node:fs";
import { contentKey } from "./contentKey.js";
import type { Journal } from "./journal.js";
import type { Judges } from "./judgePool.js";
import { RateClock, workOf } from "./rateClock.js";
import { type FileResult, isFileResult, type StudySettings } from "./recordingResult.js";
import { StudyInterrupted, type StudyOptions } from "./studyOptions.js";
import { WorkAhead } from "./workAhead.js";

/** What is judged, with what, and where results are kept. */
export interface Work {
  readonly paths: readonly string[];
  /** Key of everything that a result depends on besides the file. */
  readonly base: string;
  readonly journal: Journal;
  readonly judges: Judges;
  /** In place of those of the judges. */
  readonly settings?: StudySettings;
  readonly options: Pick<StudyOptions, "progress" | "signal" | "retryDead" | "judges">;
}

/** Where the results of all files are. */
export interface Judged {
  readonly keys: string[];
  readonly reused: number;
  /** Results of files that could not be opened: they have no content to be known by, so no journal line. */
  readonly unread: ReadonlyMap<string, FileResult>;
}

/** How often a study may end while it judges a file alone before the file is taken for the reason. */
const mostEnds = 2;

/**
 * Judges all files of a study that the journal does not hold yet, several at a time.
 *
 * @throws StudyInterrupted when the signal came
 */
export async function judgeAll(work: Work): Promise<Judged> {
  return new Judging(work).all();
}

class Judging {
  /** Files that were under way when an earlier run of this study was ended with all its processes: judged last, and one
   * at a time. */
  readonly #suspects: number[] = [];
  readonly #unread = new Map<string, FileResult>();
  readonly #keys: string[];
  readonly #inFlight = new Map<string, Promise<void>>();
  readonly #retried = new Set<string>();
  readonly #clock = new RateClock();
  /** What lies ahead, once it is worth looking. */
  #ahead: WorkAhead | undefined;
  #looking = false;
  /** Work of the files that are being judged. */
  #atWork = 0;
  readonly #before: number;
  #next = 0;
  #done = 0;
  #reused = 0;
  #failed = 0;
  #stopped: unknown;

  constructor(private readonly work: Work) {
    this.#keys = new Array<string>(work.paths.length);
    this.#before = work.journal.count;
  }

  async all(): Promise<Judged> {
    const { paths, journal, judges, options } = this.work;
    const { signal } = options;
    const lanes = Promise.all(Array.from({ length: Math.max(1, judges.width) }, () => this.#lane())).then(
      async () => {
        for (const i of this.#suspects) if (this.#goesOn) await this.#attempt(i, true);
      },
    );
    const aborted = new Promise<void>((resolve) => {
      if (signal?.aborted) resolve();
      signal?.addEventListener("abort", () => resolve(), { once: true });
    });
    await Promise.race([lanes, aborted]);
    if (this.#stopped !== undefined) throw this.#stopped;
    journal.flush();
    if (signal?.aborted && this.#done < paths.length) journal.orderlyEnd();
    if (signal?.aborted)
      throw new StudyInterrupted(
        `interrupted. ${this.#done} of ${paths.length} recordings are kept: give the same command again to go on`,
        this.#done,
        paths.length,
      );
    this.#report(true);
    return { keys: this.#keys, reused: this.#reused, unread: this.#unread };
  }

  get #goesOn(): boolean {
    return this.#stopped === undefined && !this.work.options.signal?.aborted;
  }

  async #lane(): Promise<void> {
    while (this.#next < this.work.paths.length && this.#goesOn) await this.#attempt(this.#next++, false);
  }

  async #attempt(i: number, alone: boolean): Promise<void> {
    try {
      if (!(await this.#judge(i, alone))) return;
      this.#done++;
      this.#report();
    } catch (error) {
      this.#stopped ??= error;
    }
  }

  /** Sees to it that the result of one file is there. False when it is not: the file is put off, or the study is to
   * stop. */
  async #judge(i: number, alone: boolean): Promise<boolean> {
    const path = this.work.paths[i];
    for (let attempt = 0; ; attempt++) {
      const before = stamp(path);
      let key: string;
      try {
        key = await contentKey(path, this.work.base);
      } catch (error) {
        this.#cannotRead(i, error);
        return true;
      }
      this.#keys[i] = key;
      const twin = this.#inFlight.get(key);
      if (twin !== undefined) {
        // The same content under another path: judged once, and looked up when it is there.
        await twin;
        continue;
      }
      if (this.#isKnown(key)) {
        this.#keys[i] = this.work.journal.ownKey(key);
        this.#reused++;
        return true;
      }
      if (!alone && this.#unfinished(key).begun > 0) {
        this.#suspects.push(i);
        return false;
      }
      const changed = (): boolean => before !== stamp(path) && attempt < 3;
      const outcome = await this.#judgeNow(path, key, alone, changed);
      if (outcome !== "changed") return outcome === "kept";
    }
  }

  /** A file that cannot be opened is a row with its reason; the key holds the reason, so that it is tried again
   * later. */
  #cannotRead(i: number, error: unknown): void {
    const key = `unread-${i}`;
    this.#keys[i] = key;
    this.#unread.set(key, { recordings: [], reason: `cannot be read: ${(error as Error).message}` });
    this.#failed++;
  }

  #isKnown(key: string): boolean {
    const { journal, options } = this.work;
    // What an older version took over unseen may be no result.
    if (journal.has(key) && !isFileResult(journal.get(key))) journal.drop(key);
    if (!journal.has(key)) return false;
    if (!options.retryDead || this.#retried.has(key) || journal.get(key)?.poison !== true) return true;
    this.#retried.add(key);
    journal.drop(key);
    return false;
  }

  /** How often the file was begun and never came to its end, by a study with processes of its own. */
  #unfinished(key: string): { readonly begun: number; readonly alone: number } {
    const { journal, options } = this.work;
    return options.judges === undefined ? journal.unfinished(key) : { begun: 0, alone: 0 };
  }

  async #judgeNow(
    path: string,
    key: string,
    alone: boolean,
    changed: () => boolean,
  ): Promise<"kept" | "changed" | "stopped"> {
    const { journal, judges, options, settings } = this.work;
    const work = workOf(bytesOf(path));
    this.#atWork += work;
    let release = () => {};
    this.#inFlight.set(key, new Promise((resolve) => (release = resolve)));
    try {
      const unfinished = this.#unfinished(key);
      let result: FileResult;
      if (unfinished.alone >= mostEnds && !options.retryDead) result = endsStudies(unfinished.alone);
      else {
        if (options.judges === undefined) journal.begin(key, alone);
        result = await judges.judge({ path, key, ...(settings ? { settings } : {}) });
      }
      if (options.signal?.aborted) return "stopped";
      if (changed()) return "changed"; // while it was read
      journal.add(key, result);
      this.#clock.tick(work, judges.working?.() ?? 1);
      if (result.reason !== null) this.#failed++;
      return "kept";
    } finally {
      this.#atWork -= work;
      this.#inFlight.delete(key);
      release();
    }
  }

  #report(final = false): void {
    const { paths, options } = this.work;
    if (options.progress === undefined || !(final || this.#clock.due())) return;
    options.progress({
      total: paths.length,
      done: this.#done,
      reused: this.#reused,
      failed: this.#failed,
      rate: this.#clock.rate(),
      secondsLeft: this.#left(),
    });
  }

  /** Seconds that are left; null while that cannot be known. */
  #left(): number | null {
    if (this.#done === this.work.paths.length) return 0;
    if (!this.#clock.warm) return null;
    if (this.#ahead !== undefined) return this.#clock.left(this.#ahead.from(this.#next) + this.#atWork);
    if (!this.#looking) {
      this.#looking = true;
      void this.#lookAhead();
    }
    return null;
  }

  async #lookAhead(): Promise<void> {
    const { paths, base, journal } = this.work;
    const isKnown = async (path: string) => journal.has(await contentKey(path, base));
    // All that were there from before have been met: the others are new.
    const others = this.#before > this.#reused;
    this.#ahead = await WorkAhead.of(paths, this.#next, others ? isKnown : undefined);
  }
}

function endsStudies(times: number): FileResult {
  return {
    recordings: [],
    reason: `not judged any more: the whole study ended ${times} times while nothing but this was judged`,
    poison: true,
  };
}

function bytesOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
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
