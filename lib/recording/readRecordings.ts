import type { ReadOptions } from "./columns/readOptions.js";
import { readLimited } from "./limits/readLimited.js";
import { planReading, type ReadingJob } from "./planReading.js";
import { problemOf } from "./problemOf.js";
import { archiveKind, readArchive } from "./readArchive.js";
import { readJob } from "./readJob.js";
import type { ReadResult } from "./readResult.js";

export { planReading, type ReadingJob, type ReadingPlan } from "./planReading.js";
export { givenUp } from "./problemOf.js";
export type { ReadResult } from "./readResult.js";

/**
 * Reads recordings from files and folders: text tables of any usual dialect, spreadsheets, MAT, and the other formats
 * that
 * `openTables` knows, also packed in zip or tar. Every run in a file becomes a recording. A folder is read by its `datapackage.json` (Data Package) when it has one, else every readable file in it; a file given by name takes
 * what a descriptor in its folder says of it. Never throws for bad input: what cannot be read is in `problems`, the
 * rest is read.
 *
 * @param paths files or folders
 * @param options mapping, units and facts that come before what files say
 * @example
 * const { recordings, problems } = await readRecordings(["datasets/parcel-sorter"]);
 */
export async function readRecordings(
  paths: readonly string[],
  options: ReadOptions = {},
): Promise<ReadResult> {
  const { jobs, atOnce, problems } = await planReading(paths, options);
  const results = await inTurns(jobs, atOnce, (job) => readPlanned(job, options));
  return {
    recordings: results.flatMap((result) => result.recordings),
    problems: [...problems, ...results.flatMap((result) => result.problems)],
  };
}

/** Reads one job of a plan. Never throws for bad input. */
export async function readPlanned(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  try {
    const { limits } = options;
    return await (limits === undefined
      ? readHere(job, options)
      : readLimited(job, options, limits, readHere));
  } catch (error) {
    return { recordings: [], problems: [problemOf(error, job.files[0])] };
  }
}

/** Reads a job in this process. What is unpacked is read as if it lay in folders; an archive within is only named. */
async function readHere(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  const [file] = job.files;
  const kind = job.files.length === 1 ? await archiveKind(file) : undefined;
  if (kind === undefined) return readJob(job, options);
  return readArchive(file, kind, (folders) =>
    readRecordings(folders, options.join === true ? { ...options, join: undefined } : options),
  );
}

/** Works through a list with so many under way at once; the results come in the order of the list. */
export async function inTurns<Item, Result>(
  items: readonly Item[],
  atOnce: number,
  work: (item: Item) => Promise<Result>,
): Promise<Result[]> {
  const results: Result[] = [];
  let next = 0;
  const takeTurns = async (): Promise<void> => {
    while (next < items.length) {
      const turn = next++;
      results[turn] = await work(items[turn]);
    }
  };
  await Promise.all(Array.from({ length: Math.min(atOnce, items.length) }, takeTurns));
  return results;
}
