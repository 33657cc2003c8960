import { readdir, stat } from "node:fs/promises";
import { basename, join, resolve } from "node:path";
import { visible } from "../units/text.js";
import {
  type DescribedResource,
  folderOf,
  isDescriptor,
  readDescriptor,
  resourceOf,
  statedFacts,
} from "./descriptor.js";
import { interpret, type ReadOptions } from "./interpret.js";
import { openTable, readableEndings } from "./openTable.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import type { Finding, Recording } from "./types.js";

/** What `readRecordings` returns. */
export interface ReadResult {
  readonly recordings: readonly Recording[];
  /** Inputs that could not be read, and descriptors with mistakes: one finding each, with the file. */
  readonly problems: readonly Finding[];
}

/** Files that make one recording (or several, by a run column), and what is stated about them. */
interface Job {
  readonly files: readonly string[];
  readonly resource?: DescribedResource;
}

/**
 * Reads recordings from files and folders: text tables of any usual dialect, MAT, and the other formats `openTable` knows. A folder is
 * read by its `datapackage.json` (Data Package) when it has one, else every readable file in it; a file given by name takes
 * what a descriptor in its folder says of it. Never throws for bad input: what cannot be read is in `problems`, the rest is read.
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
  const recordings: Recording[] = [];
  const problems: Finding[] = [];
  for (const job of await jobsOf(paths, options, problems)) {
    try {
      recordings.push(...(await readJob(job, options)));
    } catch (error) {
      problems.push(problemOf(error, job.files[0]));
    }
  }
  return { recordings, problems };
}

async function readJob(job: Job, options: ReadOptions): Promise<Recording[]> {
  const tables: SourceTable[] = [];
  try {
    for (const file of job.files) tables.push(await openTable(file));
    const mistakes: Finding[] = [];
    const facts = job.resource?.facts ?? statedFacts({}, {}, "", "", mistakes);
    const rate = options.rate ?? job.resource?.rate;
    return await interpret(tables, job.resource?.fields ?? [], facts, { ...options, rate });
  } finally {
    for (const table of tables) await table.close?.();
  }
}

async function jobsOf(paths: readonly string[], options: ReadOptions, problems: Finding[]): Promise<Job[]> {
  const jobs: Job[] = [];
  const seen = new Set<string>();
  const add = (job: Job): void => {
    const key = job.files.map((f) => resolve(f)).join("\u0000");
    if (!seen.has(key)) jobs.push(job);
    seen.add(key);
  };
  for (const given of paths) {
    const path = isDescriptor(given) ? folderOf(given) : given;
    let isFolder: boolean;
    try {
      isFolder = (await stat(path)).isDirectory();
    } catch (error) {
      problems.push(problemOf(error, given));
      continue;
    }
    if (!isFolder) {
      const descriptor = await readDescriptor(folderOf(path));
      const resource = resourceOf(descriptor, path);
      if (resource !== undefined) problems.push(...(descriptor?.problems ?? []));
      add({ files: resource !== undefined && resource.files.length > 1 ? resource.files : [path], resource });
      continue;
    }
    const descriptor = await readDescriptor(path);
    if (descriptor !== undefined) problems.push(...descriptor.problems);
    if (descriptor !== undefined && descriptor.resources.length > 0) {
      for (const resource of descriptor.resources) add({ files: resource.files, resource });
      continue;
    }
    const names = (await readdir(path)).filter((name) => readableEndings.test(name)).sort(byNumber);
    if (names.length === 0) {
      problems.push({
        severity: "error",
        code: "empty-folder",
        message:
          "the folder holds no file that could be a recording (text table, Parquet, Arrow, JSON Lines, MAT, HDF5) and no datapackage.json",
        file: path,
      });
    }
    for (const name of names) add({ files: [join(path, name)] });
  }
  if (options.join === true && jobs.length > 1) {
    return [{ files: jobs.flatMap((j) => j.files), resource: jobs[0].resource }];
  }
  return jobs;
}

function byNumber(a: string, b: string): number {
  return a.localeCompare(b, "en", { numeric: true });
}

/** One clear line for whatever went wrong with a file. */
function problemOf(error: unknown, file: string): Finding {
  if (error instanceof CannotRead)
    return error.finding.file === undefined ? { ...error.finding, file } : error.finding;
  const code = (error as NodeJS.ErrnoException).code;
  const name = visible(basename(file), 80);
  const words: Record<string, string> = {
    ENOENT: `there is no file or folder "${name}"; check the path`,
    EACCES: `"${name}" may not be read; check its permissions`,
    EISDIR: `"${name}" is a folder where a file was expected`,
    ENOTDIR: `a part of the path to "${name}" is no folder`,
    EMFILE: `too many files are open to read "${name}"`,
  };
  const text = error instanceof Error ? error.message : String(error);
  return {
    severity: "error",
    code: code !== undefined && words[code] !== undefined ? "cannot-open" : "cannot-read",
    message:
      (code !== undefined ? words[code] : undefined) ??
      `"${name}" could not be read: ${visible(text.split("\n")[0], 200)}`,
    file,
  };
}
