import { availableParallelism } from "node:os";
import type { DiagnoseOptions } from "../diagnosis/options.js";
import type { Diagnosis } from "../diagnosis/types.js";
import type { ReadOptions } from "../recording/columns/readOptions.js";
import { usualLimits } from "../recording/limits/limits.js";
import { ownGarbage, ProcessPool } from "../recording/limits/processPool.js";
import { inTurns, planReading, type ReadingPlan } from "../recording/readRecordings.js";
import type { StageTold } from "../run/run.js";
import { type ScaleDecision, sameDecision } from "../run/scaleDecision.js";
import { byMotor, scalesOfSets } from "../run/setScales.js";
import { type AnalysedJob, type AnalyseJobTask, analyseJob, cannotAnalyse } from "./analyseJob.js";
import { type Analysis, conclude } from "./conclude.js";
import type { Parts, RunSummary } from "./summary.js";

/** How `analyseFiles` reads and judges. */
export interface AnalyseFilesOptions extends DiagnoseOptions {
  /** What is stated about the files, as for `readRecordings`. */
  readonly reading?: ReadOptions;
  /** What is wanted besides the verdicts: constants, step responses, the loop. */
  readonly parts?: Parts;
  /** Processes at work at once; 1 keeps all in the calling one. When absent one for each core, where there is enough to
   * read. */
  readonly threads?: number;
  /** Called after each file. */
  readonly progress?: (done: number, total: number) => void;
  /** Called as the work on a file goes on, where all is kept in this process. */
  readonly told?: StageTold;
}

/** Bytes of text that are worth a process: below, starting it takes longer than it saves. */
const bytesAThread = 32 * 2 ** 20;

/**
 * The one way from paths to answers: reads recordings from files and folders, cuts them into trials, judges them, and
 * takes out constants, step responses and the loop where asked; recordings of one motor are judged together. File by
 * file, so that the columns of a file are let go once it is analysed, and on all cores where many files are given. The
 * result does not depend on the number of processes.
 *
 * @param paths files or folders
 * @throws never for bad input: what cannot be read is in `problems`, the rest is analysed
 * @example
 * const { recordings } = await analyseFiles(["bench/monday"], { parts: { constants: true } });
 */
export async function analyseFiles(
  paths: readonly string[],
  options: AnalyseFilesOptions = {},
): Promise<Analysis> {
  const { summaries, problems } = await summariseFiles(paths, options);
  return conclude(summaries, { ...options, problems: [...(options.problems ?? []), ...problems] });
}

/** How `summariseFiles` reads, and which recordings it takes for one motor's. */
export interface SummariseFilesOptions extends Omit<AnalyseFilesOptions, keyof DiagnoseOptions> {
  /** Recordings of one motor, where they are told otherwise than by its name: their scales are decided together. */
  readonly setsOf?: (summaries: readonly RunSummary[]) => Iterable<readonly [string, readonly RunSummary[]]>;
}

/** The first half of `analyseFiles`: each recording by itself, for `conclude` to take together; analysed again where
 * the logs of its motor show together another scale than it does alone. */
export async function summariseFiles(
  paths: readonly string[],
  options: SummariseFilesOptions = {},
): Promise<AnalysedJob> {
  const { reading = {}, parts = {}, progress, told, setsOf } = options;
  const plan = await planReading(paths, reading);
  const total = plan.jobs.length;
  let done = 0;
  const threads = options.threads ?? worthwhileThreads(plan);
  const workers =
    threads > 1
      ? startProcesses(threads, reading)
      : { analyse: (task: AnalyseJobTask) => analyseJob(task, told), width: plan.atOnce };
  const analysed = (task: AnalyseJobTask): Promise<AnalysedJob> =>
    workers
      .analyse(task)
      .catch((error) => ({ summaries: [], problems: [cannotAnalyse(task.job.files[0], error)] }));
  let files: AnalysedJob[];
  try {
    files = await inTurns(plan.jobs, workers.width, async (job) => {
      const file = await analysed({ job, reading, parts });
      done += 1;
      progress?.(done, total);
      return file;
    });
    const otherwise = [...scaledOtherwise(files, setsOf)];
    await inTurns(otherwise, workers.width, async ([k, scales]) => {
      files[k] = await analysed({ job: plan.jobs[k], reading, parts, scales });
    });
  } finally {
    await workers.close?.();
  }
  return {
    summaries: files.flatMap((file) => file.summaries),
    problems: [...plan.problems, ...files.flatMap((file) => file.problems)],
  };
}

/**
 * The verdicts alone of `analyseFiles`.
 *
 * @param paths files or folders
 * @throws never for bad input: what cannot be read is in `problems`, the rest is judged
 * @example
 * const { orderings, problems } = await diagnoseFiles(["bench/monday"]);
 */
export async function diagnoseFiles(
  paths: readonly string[],
  options: Omit<AnalyseFilesOptions, "parts"> = {},
): Promise<Diagnosis> {
  return (await analyseFiles(paths, options)).diagnosis;
}

/** Jobs with a recording whose motor's logs show together another scale than it does alone, each with what they show of
 * its recordings. */
function scaledOtherwise(
  files: readonly AnalysedJob[],
  setsOf: SummariseFilesOptions["setsOf"],
): Map<number, (ScaleDecision | undefined)[]> {
  const all = files.flatMap(({ summaries, places = [] }, file) =>
    summaries.map((summary, k) => ({
      file,
      place: places[k],
      summary,
      motor: summary.read.recording.motor,
      ordering: summary.read.recording.ordering,
      evidence: summary.scale?.evidence,
    })),
  );
  const named = new Map<RunSummary, string>();
  for (const [name, set] of setsOf?.(all.map(({ summary }) => summary)) ?? [])
    for (const summary of set) named.set(summary, name);
  const decisions = setsOf
    ? scalesOfSets(all, ({ summary, ordering }) => (ordering === undefined ? undefined : named.get(summary)))
    : scalesOfSets(all, byMotor);
  const out = new Map<number, (ScaleDecision | undefined)[]>();
  for (const [k, { file, place, summary }] of all.entries()) {
    const [decision, own] = [decisions[k], summary.scale?.decision];
    if (decision === undefined || own === undefined || sameDecision(decision, own)) continue;
    const scales = out.get(file) ?? [];
    scales[place] = decision;
    out.set(file, scales);
  }
  return out;
}

/** Threads that pay: none for a few files, nor for large ones, which are read one at a time for memory. */
function worthwhileThreads({ jobs, bytes, atOnce }: ReadingPlan): number {
  if (atOnce === 1) return 1;
  return Math.min(availableParallelism(), Math.floor(bytes / bytesAThread), Math.floor(jobs.length / 8));
}

interface Workers {
  readonly analyse: (task: AnalyseJobTask) => Promise<AnalysedJob>;
  readonly width: number;
  readonly close?: () => Promise<void>;
}

function startProcesses(count: number, { limits = usualLimits() }: ReadOptions): Workers {
  const ending = import.meta.url.endsWith(".ts") ? ".ts" : ".js";
  const module = new URL(`./analyseJobWorker${ending}`, import.meta.url).href;
  const pool = new ProcessPool(module, count, limits, ownGarbage);
  return {
    // One more for each waits at its door.
    width: 2 * count,
    analyse: ({ reading: { limits: _, ...reading }, ...task }) =>
      pool.run({ ...task, reading }) as Promise<AnalysedJob>,
    close: () => pool.close(),
  };
}
