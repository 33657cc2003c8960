import { readdir, stat } from "node:fs/promises";
import { basename, join, resolve } from "node:path";
import { visible } from "../units/text.js";
import { groupSplit } from "./columns/groupSplit.js";
import { interpret, type ReadOptions } from "./columns/interpret.js";
import {
  type DescribedField,
  type DescribedResource,
  type Descriptor,
  folderOf,
  isDescriptor,
  leavingLink,
  readDescriptor,
  resourceOf,
  type StatedFacts,
  statedFacts,
} from "./descriptor.js";
import { openTables, readableEndings } from "./formats/openTable.js";
import { CannotRead, SeveralTables, type SourceTable } from "./formats/sourceTable.js";
import { WantsOwnProcess } from "./limits/engineHere.js";
import { GaveUp } from "./limits/limits.js";
import { readLimited } from "./limits/readLimited.js";
import type { Finding, Recording } from "./types.js";

/** What `readRecordings` returns. */
export interface ReadResult {
  readonly recordings: readonly Recording[];
  /** Inputs that could not be read, and descriptors with mistakes: one finding each, with the file. */
  readonly problems: readonly Finding[];
}

/** Files that make one recording (or several, by a run column), and what is stated about them. */
export interface ReadingJob {
  readonly files: readonly string[];
  /** The files are numbered in a row: one log that was split, when time goes on from each to the next. */
  readonly numbered?: boolean;
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
  const { jobs, atOnce, problems } = await planReading(paths, options);
  const results = await inTurns(jobs, atOnce, (job) => readPlanned(job, options));
  return {
    recordings: results.flatMap((result) => result.recordings),
    problems: [...problems, ...results.flatMap((result) => result.problems)],
  };
}

/** What is to be read, before anything is. */
export interface ReadingPlan {
  readonly jobs: readonly ReadingJob[];
  /** Bytes of all files together. */
  readonly bytes: number;
  /** How many jobs may be under way at once on one thread. */
  readonly atOnce: number;
  /** Inputs that are not there, and descriptors with mistakes. */
  readonly problems: readonly Finding[];
}

/** Jobs that are read at the same time when all are small. */
const jobsAtOnce = 2;
/** Bytes up to which a job is small. */
const smallJob = 64 * 2 ** 20;

/** Lists what the paths stand for: one job for each file, or for the files that make one log together. */
export async function planReading(paths: readonly string[], options: ReadOptions = {}): Promise<ReadingPlan> {
  const problems: Finding[] = [];
  const jobs = await jobsOf(paths, options, problems);
  let bytes = 0;
  let largest = 0;
  for (const job of jobs) {
    let own = 0;
    for (const file of job.files) own += (await stat(file).catch(() => undefined))?.size ?? 0;
    bytes += own;
    largest = Math.max(largest, own);
  }
  // While the engine parses one file, the columns of another are worked on; large files still come one at a time, for memory.
  return { jobs, bytes, atOnce: largest > smallJob ? 1 : jobsAtOnce, problems };
}

/** Reads one job of a plan. Never throws for bad input. */
export async function readPlanned(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  try {
    const { limits } = options;
    return await (limits === undefined ? readJob(job, options) : readLimited(job, options, limits, readJob));
  } catch (error) {
    return { recordings: [], problems: [problemOf(error, job.files[0])] };
  }
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

async function readJob(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  const problems: Finding[] = [];
  const opened: SourceTable[][] = [];
  try {
    for (const file of job.files) {
      try {
        opened.push(await openTables(file, options));
      } catch (error) {
        // A part of one log that cannot be opened spoils the whole; files that are only numbered alike do not spoil each other.
        if (job.numbered !== true) throw error;
        problems.push(problemOf(error, file));
      }
    }
    const mistakes: Finding[] = [];
    const facts = job.resource?.facts ?? statedFacts({}, {}, "", "", mistakes);
    const how: Reading = {
      fields: job.resource?.fields ?? [],
      facts,
      options: { ...options, rate: options.rate ?? job.resource?.rate },
    };
    const tables = opened.flat();
    const single = opened.every((own) => own.length === 1);
    let groups: (readonly SourceTable[])[] = tables.map((table) => [table]);
    if (single && job.numbered === true) groups = await groupsOf(tables, how);
    else if (job.files.length > 1 && job.numbered !== true) groups = [tables];
    const read = await readGroups(groups, how);
    return { recordings: read.recordings, problems: [...problems, ...read.problems] };
  } finally {
    for (const table of opened.flat()) await table.close?.();
  }
}

/** What was noticed while tables were opened that came to nothing: it may be the reason. */
function warningsOf(tables: readonly SourceTable[]): Finding[] {
  return tables.flatMap((table) => table.findings.filter(({ severity }) => severity !== "note"));
}

/** What is stated about the tables of a job. */
interface Reading {
  readonly fields: readonly DescribedField[];
  readonly facts: StatedFacts;
  readonly options: ReadOptions;
}

async function groupsOf(tables: readonly SourceTable[], how: Reading): Promise<(readonly SourceTable[])[]> {
  try {
    return await groupSplit(tables, how.fields, how.options);
  } catch (error) {
    if (!(error instanceof SeveralTables)) throw error;
    return tables.map((table) => [table]);
  }
}

/** Interprets groups of tables, each group one log; what cannot be read of one does not keep the others back. */
async function readGroups(groups: readonly (readonly SourceTable[])[], how: Reading): Promise<ReadResult> {
  const recordings: Recording[] = [];
  const problems: Finding[] = [];
  for (const group of groups) {
    try {
      recordings.push(...(await readGroup(group, how)));
    } catch (error) {
      if (error instanceof SeveralTables) {
        const read = await readGroups(
          error.tables.map((table) => [table]),
          how,
        );
        recordings.push(...read.recordings);
        problems.push(...read.problems);
      } else problems.push(problemOf(error, group[0].path), ...warningsOf(group));
    }
  }
  if (groups.length === 1 || recordings.length === 0) return { recordings, problems };
  // A sheet or a table of notes beside others that were read spoils nothing; it is told.
  return {
    recordings,
    problems: problems.map((p) => (notRead.has(p.code) ? { ...p, severity: "warning" as const } : p)),
  };
}

const notRead = new Set(["no-time", "no-channels", "no-rows", "no-numbers"]);

async function readGroup(group: readonly SourceTable[], how: Reading): Promise<readonly Recording[]> {
  const stated = group[0].rate;
  const rate = how.options.rate ?? stated?.hertz;
  const read = await interpret(group, how.fields, how.facts, { ...how.options, rate });
  if (stated === undefined || how.options.rate !== undefined) return read;
  return read.map((recording) =>
    recording.source?.timeColumn === undefined
      ? { ...recording, findings: [...recording.findings, rateFromFile(stated, recording.path)] }
      : recording,
  );
}

function rateFromFile({ hertz, from }: NonNullable<SourceTable["rate"]>, file: string): Finding {
  return {
    severity: "note",
    code: "rate-from-file",
    message: `the table has no time; ${Number(hertz.toPrecision(6))} samples a second are taken from what the file says: "${visible(from, 80)}"`,
    value: hertz,
    unit: "Hz",
    meaning: "say --interval or --rate when it is another",
    file,
  };
}

async function jobsOf(
  paths: readonly string[],
  options: ReadOptions,
  problems: Finding[],
): Promise<ReadingJob[]> {
  const jobs: ReadingJob[] = [];
  const seen = new Set<string>();
  const add = (job: ReadingJob): void => {
    const key = job.files.map((f) => resolve(f)).join("\u0000");
    if (!seen.has(key)) jobs.push(job);
    seen.add(key);
  };
  const told = new Set<string>();
  /** Problems of a descriptor, once. */
  const tell = (descriptor: Descriptor): void => {
    if (!told.has(descriptor.path)) for (const found of descriptor.problems) problems.push(found);
    told.add(descriptor.path);
  };
  const realPaths = new Map<string, string | undefined>();
  /** Files that are told not to be read. */
  const refused = new Set<string>();
  const leaves = async (descriptor: Descriptor, resource: DescribedResource): Promise<boolean> => {
    const found = await leavingLink(descriptor, resource, realPaths);
    if (found === undefined) return false;
    problems.push(found);
    for (const file of resource.files) refused.add(resolve(file));
    return true;
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
      if (descriptor !== undefined && resource !== undefined) {
        tell(descriptor);
        if (await leaves(descriptor, resource)) continue;
      }
      add({ files: resource !== undefined && resource.files.length > 1 ? resource.files : [path], resource });
      continue;
    }
    const descriptor = await readDescriptor(path);
    if (descriptor !== undefined) tell(descriptor);
    if (descriptor !== undefined && descriptor.resources.length > 0) {
      let within = 0;
      for (const resource of descriptor.resources)
        if (!(await leaves(descriptor, resource))) {
          add({ files: resource.files, resource });
          within += 1;
        }
      if (within > 0) continue;
    }
    let all: string[];
    try {
      all = await readdir(path);
    } catch (error) {
      problems.push(problemOf(error, path));
      continue;
    }
    const names = all
      .filter((name) => readableEndings.test(name) && !refused.has(resolve(path, name)))
      .sort(byNumber);
    if (names.length === 0 && refused.size === 0) {
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
  return numberedTogether(jobs);
}

/** Puts files without a descriptor that differ only in a last number, counting up by one, into one job. */
function numberedTogether(jobs: readonly ReadingJob[]): ReadingJob[] {
  const out: ReadingJob[] = [];
  let last: { stem: string; number: number } | undefined;
  for (const job of jobs) {
    const m =
      job.resource === undefined && job.files.length === 1 ? /^(.*?)(\d+)(\D*)$/.exec(job.files[0]) : null;
    const here = m === null ? undefined : { stem: `${m[1]}\u0000${m[3]}`, number: Number(m[2]) };
    const before = out.at(-1);
    if (
      here !== undefined &&
      last !== undefined &&
      before !== undefined &&
      here.stem === last.stem &&
      here.number === last.number + 1
    ) {
      if (before.numbered === true) (before.files as string[]).push(...job.files);
      else out[out.length - 1] = { files: [...before.files, ...job.files], numbered: true };
    } else out.push(job);
    last = here;
  }
  return out;
}

function byNumber(a: string, b: string): number {
  return a.localeCompare(b, "en", { numeric: true });
}

const givenUpMeaning = {
  time: "the file is damaged or made to do so; if it is sound, allow more with --limit",
  memory: "the file is damaged or made to do so; if it is sound, allow more with --memory, or cut it",
  ended: "the file is damaged or made to do so; the others are read",
} as const;

/** The finding for a file that went beyond its limits. */
export function givenUp({ message, why }: GaveUp, file: string): Finding {
  return { severity: "error", code: "given-up", message, meaning: givenUpMeaning[why], file };
}

/** One clear line for whatever went wrong with a file. */
function problemOf(error: unknown, file: string): Finding {
  if (error instanceof CannotRead)
    return error.finding.file === undefined ? { ...error.finding, file } : error.finding;
  if (error instanceof WantsOwnProcess) throw error;
  if (error instanceof GaveUp) return givenUp(error, file);
  const code = (error as NodeJS.ErrnoException).code;
  const name = visible(basename(file), 80);
  const words: Record<string, string> = {
    ENOENT: `there is no file or folder "${name}"; check the path (a link may lead nowhere)`,
    EACCES: `"${name}" may not be read; check its permissions`,
    EISDIR: `"${name}" is a folder where a file was expected`,
    ELOOP: `"${name}" is a link that leads back to itself; name the file it was meant for`,
    ENAMETOOLONG: `the path to "${name}" is too long for this machine`,
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
