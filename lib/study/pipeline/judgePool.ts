import { availableParallelism } from "node:os";
import { GaveUp, type Limits, shareOfMemory } from "../../recording/limits/limits.js";
import { ownGarbage, ProcessPool } from "../../recording/limits/processPool.js";
import { Crew } from "./crew.js";
import type { FileResult, StudySettings } from "./recordingResult.js";

/** Something that judges files: processes of this machine, or workers behind a queue. */
export interface Judges {
  /** How many files may be under way at once. */
  readonly width: number;
  /** Judges one file. Never rejects for bad input. */
  readonly judge: (file: {
    readonly path: string;
    readonly key: string;
    /** In place of those of the pool. */
    readonly settings?: StudySettings;
  }) => Promise<FileResult>;
  /** How many files are worked on at once now, where that is known. */
  readonly working?: () => number;
  /** Called once every result has been taken over. */
  readonly finished?: () => Promise<void>;
  /** Ends the workers, or the connection to them. */
  readonly close: () => Promise<void>;
}

/** Options of `judgePool`. */
export interface PoolOptions {
  /** Processes at work at once; one for each core when absent. */
  readonly threads?: number;
  /** Files of the study; given, processes join only when they pay. */
  readonly files?: number;
  readonly settings?: StudySettings;
  /** URL of a module that exports `judge` in place of our own. */
  readonly job?: string;
  /** Seconds after which a recording is given up; 600 when absent. */
  readonly limit?: number;
  /** Bytes of memory beyond which it is; a share of what there is when absent. */
  readonly memory?: number;
}

/** URL of the job that reads, judges and fits a file. */
export const ownJob = new URL(
  `./judgeFile${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`,
  import.meta.url,
).href;

/** Judges in processes of their own, so that a file which hangs, ends or floods its process costs no other. */
export async function judgePool(options: PoolOptions = {}): Promise<Judges> {
  const { threads = availableParallelism(), settings = {}, job = ownJob } = options;
  const limits: Limits = { seconds: options.limit ?? 600, bytes: options.memory ?? shareOfMemory(threads) };
  const pool = new ProcessPool(judgeModule, threads, limits, ownGarbage);
  const crew = options.files === undefined ? undefined : new Crew(threads, options.files);
  let closed = false;
  return {
    width: threads * 4,
    working: () => crew?.size ?? threads,
    judge: async ({ path, settings: own = settings }) => {
      for (let attempt = 1; ; attempt++) {
        try {
          const work = () => pool.run({ path, settings: own, job });
          return (await (crew?.run(work) ?? work())) as FileResult;
        } catch (error) {
          // It was we who ended its process: that says nothing of the file.
          if (closed) throw error;
          const said = error instanceof Error ? error.message : String(error);
          if (error instanceof GaveUp && error.why !== "ended")
            return { recordings: [], reason: said, poison: true };
          // Once may be bad luck.
          if (attempt === 2)
            return { recordings: [], reason: `the worker ended while judging it: ${said}`, poison: true };
        }
      }
    },
    close: async () => {
      closed = true;
      await pool.close();
    },
  };
}

const judgeModule = new URL(
  `./judgeWorker${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`,
  import.meta.url,
).href;
