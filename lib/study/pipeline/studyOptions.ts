import type { Fact } from "../life/factHeadings.js";
import type { Judges } from "./judgePool.js";
import type { StudySettings } from "./recordingResult.js";
import type { DateOrder } from "./settleDates.js";

/** How far a study has come. */
export interface StudyProgress {
  readonly total: number;
  readonly done: number;
  /** Of those done, how many were there from an earlier run. */
  readonly reused: number;
  readonly failed: number;
  /** Recordings judged per second, over the last minute; at first over the second half of them. */
  readonly rate: number;
  /** Seconds left at that rate; null until the first results, which are slow, are behind. */
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
  /** Files that hold lines about recordings or motors and no samples: left out. */
  readonly tables: readonly string[];
  /** Recordings or motors of the table about them (`about`) that are not among those given. */
  readonly unusedFacts: readonly string[];
  /** Recordings of which that table says nothing. */
  readonly withoutFacts: readonly string[];
  /** Columns of that table that a study knows no use for. */
  readonly ignoredColumns: readonly string[];
  /** Columns of that table that were taken for a fact by other words than the study's own. */
  readonly takenColumns: Readonly<Partial<Record<Fact, string>>>;
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
  /** Processes at work at once; when absent up to one for each core, as far as they pay. */
  readonly threads?: number;
  /** Who judges; threads of this process when absent. */
  readonly judges?: Judges;
  /** URL of a module that exports `judge` in place of our own. */
  readonly job?: string;
  /** Seconds after which a recording is given up. */
  readonly limit?: number;
  /** Bytes of memory beyond which it is. */
  readonly memory?: number;
  /** CSV with facts for each recording or motor (batch, rig, date, temperature, hours); looked through before anything
   * is judged. */
  readonly about?: string;
  /** Column of that table for a fact, where its heading does not say so. */
  readonly aboutColumns?: Readonly<Partial<Record<Fact, string>>>;
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
