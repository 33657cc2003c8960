import { availableParallelism } from "node:os";
import { startWorkers } from "../../diagnosis/workerThreads.js";
import type { FileResult, StudySettings } from "./recordingResult.js";

/** Something that judges files: threads of this process, or workers behind a queue. */
export interface Judges {
  /** How many files may be under way at once. */
  readonly width: number;
  /** Judges one file. Never rejects for bad input. */
  readonly judge: (file: { readonly path: string; readonly key: string }) => Promise<FileResult>;
  /** Called once every result has been taken over. */
  readonly finished?: () => Promise<void>;
  /** Ends the workers, or the connection to them. */
  readonly close: () => Promise<void>;
}

/** Options of `judgePool`. */
export interface PoolOptions {
  /** Threads; one for each core when absent. */
  readonly threads?: number;
  readonly settings?: StudySettings;
  /** URL of a module that exports `judge` in place of our own. */
  readonly job?: string;
  /** Seconds after which a recording is given up; 600 when absent. */
  readonly limit?: number;
}

/** URL of the job that reads, judges and fits a file. */
export const ownJob = new URL(
  `./judgeFile${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`,
  import.meta.url,
).href;

/** Judges on worker threads of this process. */
export async function judgePool(options: PoolOptions = {}): Promise<Judges> {
  const { threads = availableParallelism(), settings = {}, job = ownJob, limit = 600 } = options;
  const pool = await startWorkers(import.meta.url, "judgeWorker", threads);
  return {
    width: threads * 4,
    judge: async ({ path }) => {
      for (let attempt = 1; ; attempt++) {
        const timer = new AbortController();
        const clock = setTimeout(() => timer.abort(), limit * 1000);
        try {
          return (await pool.run({ path, settings, job }, { signal: timer.signal })) as FileResult;
        } catch (error) {
          if (timer.signal.aborted)
            return {
              recordings: [],
              reason: `given up after ${limit} s: the time limit of one recording`,
              poison: true,
            };
          if (attempt === 2) {
            const said = error instanceof Error ? error.message : String(error);
            return { recordings: [], reason: `the worker ended while judging it: ${said}`, poison: true };
          }
        } finally {
          clearTimeout(clock);
        }
      }
    },
    close: () => pool.destroy(),
  };
}
