import { availableParallelism } from "node:os";
import type { ReadOptions } from "../recording/columns/interpret.js";
import { usualLimits } from "../recording/limits/limits.js";
import { ProcessPool } from "../recording/limits/processPool.js";
import { inTurns, planReading, type ReadingPlan } from "../recording/readRecordings.js";
import { diagnoseRead } from "./diagnose.js";
import { cannotJudge, type JudgedFile, type JudgeFileTask, judgeFile } from "./judgeFile.js";
import type { DiagnoseOptions } from "./options.js";
import type { Diagnosis } from "./types.js";

/** How `diagnoseFiles` reads and judges. */
export interface DiagnoseFilesOptions extends DiagnoseOptions {
  /** What is stated about the files, as for `readRecordings`. */
  readonly reading?: ReadOptions;
  /** Processes at work at once; 1 keeps all in the calling one. When absent one for each core, where there is enough to read. */
  readonly threads?: number;
  /** Called after each file. */
  readonly progress?: (done: number, total: number) => void;
}

/** Bytes of text that are worth a worker thread: below, starting it takes longer than it saves. */
const bytesAThread = 32 * 2 ** 20;

/**
 * Reads recordings from files and folders, cuts them into trials and judges them: what `readRecordings`, `cutTrials` and `diagnose`
 * give one after another, but file by file, so that the columns of a file are let go once it is judged, and on all cores where many
 * files are given. The result does not depend on the number of threads.
 *
 * @param paths files or folders
 * @throws never for bad input: what cannot be read is in `problems`, the rest is judged
 * @example
 * const { orderings, problems } = await diagnoseFiles(["bench/monday"]);
 */
export async function diagnoseFiles(
  paths: readonly string[],
  options: DiagnoseFilesOptions = {},
): Promise<Diagnosis> {
  const { reading = {}, progress } = options;
  const plan = await planReading(paths, reading);
  const total = plan.jobs.length;
  let done = 0;
  const threads = options.threads ?? worthwhileThreads(plan);
  const judges = threads > 1 ? startProcesses(threads, reading) : { judge: judgeFile, width: plan.atOnce };
  let files: JudgedFile[];
  try {
    files = await inTurns(plan.jobs, judges.width, async (job) => {
      const file = await judges
        .judge({ job, reading })
        .catch((error) => ({ judged: [], problems: [cannotJudge(job.files[0], error)] }));
      done += 1;
      progress?.(done, total);
      return file;
    });
  } finally {
    await judges.close?.();
  }
  return diagnoseRead(
    files.flatMap((file) => file.judged),
    {
      ...options,
      problems: [...(options.problems ?? []), ...plan.problems, ...files.flatMap((file) => file.problems)],
    },
  );
}

/** Threads that pay: none for a few files, nor for large ones, which are read one at a time for memory. */
function worthwhileThreads({ jobs, bytes, atOnce }: ReadingPlan): number {
  if (atOnce === 1) return 1;
  return Math.min(availableParallelism(), Math.floor(bytes / bytesAThread), Math.floor(jobs.length / 8));
}

interface FileJudges {
  readonly judge: (task: JudgeFileTask) => Promise<JudgedFile>;
  readonly width: number;
  readonly close?: () => Promise<void>;
}

function startProcesses(count: number, { limits = usualLimits() }: ReadOptions): FileJudges {
  const ending = import.meta.url.endsWith(".ts") ? ".ts" : ".js";
  const pool = new ProcessPool(new URL(`./judgeFileWorker${ending}`, import.meta.url).href, count, limits);
  return {
    // One more for each waits at its door.
    width: 2 * count,
    judge: ({ reading: { limits: _, ...reading }, ...task }) =>
      pool.run({ ...task, reading }) as Promise<JudgedFile>,
    close: () => pool.close(),
  };
}
