import { statSync } from "node:fs";
import { open, readdir } from "node:fs/promises";
import { basename, dirname, extname, join, resolve } from "node:path";
import type { LeadLetters } from "../motor/leadLetters.js";
import { visible } from "../units/text.js";
import type { ReadOptions } from "./columns/readOptions.js";
import { copiesIn } from "./copies.js";
import {
  type DescribedResource,
  type Descriptor,
  folderOf,
  isDescriptor,
  leavingLink,
  readDescriptor,
  resourceOf,
} from "./descriptor.js";
import { factsFromNames, lettersOfNames } from "./factsFromNames.js";
import { statsOf } from "./formats/fileBytes.js";
import { readableEndings } from "./formats/openTable.js";
import { withLikeFiles } from "./likeFiles.js";
import { motorsOfNames } from "./motorsOfNames.js";
import { notesBeside } from "./notesBeside.js";
import { isLetter, type NotedOrder, ordersInNotes } from "./ordersInNotes.js";
import { withoutOwnDocuments } from "./ownDocuments.js";
import { problemOf } from "./problemOf.js";
import type { Finding } from "./types.js";

/** Files that make one recording (or several, by a run column), and what is stated about them. */
export interface ReadingJob {
  readonly files: readonly string[];
  /** The files are numbered in a row: one log that was split, when time goes on from each to the next. */
  readonly numbered?: boolean;
  /** The files may each hold one channel of one capture; when they do not, each is a log of its own. */
  readonly together?: boolean;
  readonly resource?: DescribedResource;
  /** Small text files of the same folder, which may hold columns of the same names. */
  readonly like?: readonly string[];
  /** Its lead order as notes in the same folder say. */
  readonly noted?: NotedOrder;
  /** The motor that each of its files is of, where the names of the files of the plan tell several. */
  readonly namedMotors?: Readonly<Record<string, string>>;
  /** Letters beside U, V, W in which the names of all files of the plan write lead orders. */
  readonly leadLetters?: readonly LeadLetters[];
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

/** Jobs that are read at the same time, by the bytes that none of them goes beyond: for memory, large ones come one at
 * a time. */
const jobsAtOnce: readonly (readonly [number, number])[] = [
  [16 * 2 ** 20, 4],
  [64 * 2 ** 20, 2],
];

/** Lists what the paths stand for: one job for each file, or for the files that make one log together. */
export async function planReading(paths: readonly string[], options: ReadOptions = {}): Promise<ReadingPlan> {
  const problems: Finding[] = [];
  const found = await jobsOf(paths, options, problems);
  const copies = options.join === true ? [] : await copiesIn(found);
  for (const { finding } of copies) problems.push(finding);
  const left = new Set(copies.filter(({ apart }) => !apart).map(({ job }) => job));
  const planned = found.filter((job) => !left.has(job));
  const leadLetters = lettersOfNames(
    planned.flatMap((job) => job.files.map((file) => `${basename(dirname(file))}/${basename(file)}`)),
  );
  const lettered = leadLetters.length === 0 ? planned : planned.map((job) => ({ ...job, leadLetters }));
  const jobs = await withLikeFiles(ofNamedMotors(lettered));
  let bytes = 0;
  let largest = 0;
  for (const job of jobs) {
    let own = 0;
    for (const file of job.files) own += statsOf(file)?.size ?? 0;
    bytes += own;
    largest = Math.max(largest, own);
  }
  // While one file is fetched or parsed by the engine, the columns of another are worked on.
  const atOnce = jobsAtOnce.find(([most]) => largest <= most)?.[1] ?? 1;
  return { jobs, bytes, atOnce, problems };
}

/** Jobs with the motor that the names of their files tell. */
function ofNamedMotors(jobs: readonly ReadingJob[]): readonly ReadingJob[] {
  const motors = motorsOfNames(jobs.flatMap(({ files }) => files.map((file) => resolve(file))));
  if (motors.size === 0) return jobs;
  return jobs.map((job) => {
    const own = job.files.flatMap((file) => {
      const motor = motors.get(resolve(file));
      return motor === undefined ? [] : [[file, motor] as const];
    });
    return own.length === 0 ? job : { ...job, namedMotors: Object.fromEntries(own) };
  });
}

async function jobsOf(
  paths: readonly string[],
  options: ReadOptions,
  problems: Finding[],
): Promise<ReadingJob[]> {
  const planner = new Planner(options, problems);
  for (const path of paths) await planner.take(path);
  const { jobs } = planner;
  if (options.join === true && (jobs.length > 1 || jobs[0]?.together === true))
    return [{ files: jobs.flatMap((j) => j.files), resource: jobs[0].resource }];
  return numberedTogether(jobs);
}

/** Gathers jobs from paths, each file once, and what was wrong on the way. */
class Planner {
  readonly jobs: ReadingJob[] = [];
  readonly #options: ReadOptions;
  readonly #problems: Finding[];
  readonly #seen = new Set<string>();
  readonly #told = new Set<string>();
  readonly #realPaths = new Map<string, string | undefined>();
  /** Files that are told not to be read. */
  readonly #refused = new Set<string>();

  constructor(options: ReadOptions, problems: Finding[]) {
    this.#options = options;
    this.#problems = problems;
  }

  /** A file, a folder or a descriptor that was named. */
  async take(given: string): Promise<void> {
    const path = isDescriptor(given) ? folderOf(given) : given;
    let isFolder: boolean;
    try {
      isFolder = statSync(path).isDirectory();
    } catch (error) {
      this.#problems.push(problemOf(error, given));
      return;
    }
    await (isFolder ? this.#folder(path) : this.#file(path));
  }

  #add(job: ReadingJob): void {
    const key = job.files.map((f) => resolve(f)).join("\u0000");
    if (!this.#seen.has(key)) this.jobs.push(job);
    this.#seen.add(key);
  }

  /** Problems of a descriptor, once. */
  #tell(descriptor: Descriptor): void {
    // One by one: there may be more than a call takes arguments.
    if (!this.#told.has(descriptor.path)) for (const found of descriptor.problems) this.#problems.push(found);
    this.#told.add(descriptor.path);
  }

  /** Whether a described resource lies outside its folder by a link; its files are then not read. */
  async #leaves(descriptor: Descriptor, resource: DescribedResource): Promise<boolean> {
    const found = await leavingLink(descriptor, resource, this.#realPaths);
    if (found === undefined) return false;
    this.#problems.push(found);
    for (const file of resource.files) this.#refused.add(resolve(file));
    return true;
  }

  async #file(path: string): Promise<void> {
    const descriptor = await readDescriptor(folderOf(path));
    const resource = resourceOf(descriptor, path);
    if (descriptor !== undefined && resource !== undefined) {
      this.#tell(descriptor);
      if (await this.#leaves(descriptor, resource)) return;
    }
    const noted = resource === undefined ? (await notesBeside(dirname(path))).get(basename(path)) : undefined;
    const files = resource !== undefined && resource.files.length > 1 ? resource.files : [path];
    this.#add({ files, resource, ...(noted === undefined ? {} : { noted }) });
  }

  async #folder(path: string): Promise<void> {
    if (await this.#described(path)) return;
    let all: string[];
    try {
      all = await withoutOwnDocuments(path, await readdir(path));
    } catch (error) {
      this.#problems.push(problemOf(error, path));
      return;
    }
    const names = all
      .filter((name) => readableEndings.test(name) && !aside.test(name))
      .filter((name) => !this.#refused.has(resolve(path, name)))
      .sort(byNumber);
    const byOrder = names.length === 0 ? foldersOfOrders(path, all) : [];
    if (byOrder.length > 0) {
      for (const job of await jobsOf(byOrder, this.#options, this.#problems)) this.#add(job);
      return;
    }
    if (names.length === 0 && this.#refused.size === 0) this.#problems.push(emptyFolder(path, all));
    await this.#undescribed(path, all, names);
  }

  /** The resources of the descriptor in a folder; false where there is none, or none of it may be read. */
  async #described(path: string): Promise<boolean> {
    const descriptor = await readDescriptor(path);
    if (descriptor === undefined) return false;
    this.#tell(descriptor);
    let within = 0;
    for (const resource of descriptor.resources)
      if (!(await this.#leaves(descriptor, resource))) {
        this.#add({ files: resource.files, resource });
        within += 1;
      }
    if (within > 0) await this.#tellUnlisted(path, descriptor);
    return within > 0;
  }

  /** Logs in the folder of a descriptor that it does not list. */
  async #tellUnlisted(path: string, descriptor: Descriptor): Promise<void> {
    const listed = new Set(descriptor.resources.flatMap(({ files }) => files.map((file) => resolve(file))));
    const all = await readdir(path).catch(() => [] as string[]);
    const names = (await withoutOwnDocuments(path, all))
      .filter((name) => readableEndings.test(name) && !aside.test(name) && name !== basename(descriptor.path))
      .filter((name) => !listed.has(resolve(path, name)) && !this.#refused.has(resolve(path, name)))
      .sort(byNumber);
    const logs: string[] = [];
    for (const name of names.slice(0, mostLookedAt)) if (!(await isLetter(join(path, name)))) logs.push(name);
    if (logs.length > 0) this.#problems.push(notListed(descriptor.path, logs));
  }

  /** Every readable file of a folder, with what notes in it say of them; the notes are no recordings themselves. */
  async #undescribed(path: string, all: readonly string[], names: readonly string[]): Promise<void> {
    const files = names.map((name) => join(path, name));
    const noted = await ordersInNotes(path, all, names);
    if (noted.size === 0 && (await mayBeChannels(files))) {
      this.#add({ files, together: true });
      return;
    }
    const pages = new Set([...noted.values()].map(({ notes }) => join(path, notes)));
    const letters: string[] = [];
    for (const file of files) if (!pages.has(file) && (await isLetter(file))) letters.push(file);
    const logs = files.filter((file) => !pages.has(file) && !letters.includes(file));
    // Beside logs a letter is no failed input; alone it is all there was to read.
    if (logs.length > 0) for (const file of letters) this.#problems.push(letterFinding(file));
    for (const file of logs.length > 0 ? logs : files) {
      const order = noted.get(basename(file));
      this.#add({ files: [file], ...(order === undefined ? {} : { noted: order }) });
    }
  }
}

/** So many files beside a descriptor are looked at. */
const mostLookedAt = 200;

function notListed(file: string, names: readonly string[]): Finding {
  const some = names.slice(0, 4).map((name) => `"${visible(name, 60)}"`);
  const rest = names.length > some.length ? ` and ${names.length - some.length} more` : "";
  const one = names.length === 1;
  return {
    severity: "note",
    code: "not-listed",
    message: `${some.join(", ")}${rest} ${one ? "stands" : "stand"} beside the descriptor, which does not list ${one ? "it" : "them"}: ${one ? "it was" : "they were"} not read`,
    value: names.length,
    meaning: `add ${one ? "it" : "them"} to its resources, or give ${one ? "its name" : "their names"} beside the folder`,
    file,
  };
}

function letterFinding(file: string): Finding {
  return {
    severity: "warning",
    code: "no-numbers",
    message: "it is a page of words without rows of numbers, and was taken for notes",
    file,
  };
}

/** Files that programs put beside those of people: hidden ones, and marks of an open document. */
const aside = /^(\.|~\$)/;

function emptyFolder(path: string, all: readonly string[]): Finding {
  const holdsFolders = all.some((name) =>
    statSync(join(path, name), { throwIfNoEntry: false })?.isDirectory(),
  );
  return {
    severity: "error",
    code: "empty-folder",
    message:
      "the folder holds no file that could be a recording (text table, spreadsheet, Parquet, Arrow, JSON, MAT, HDF5, NPY, or zip and tar of these) and no datapackage.json",
    ...(holdsFolders
      ? { meaning: "name one of the folders in it; a folder of many customers is for shaftwise triage" }
      : {}),
    file: path,
  };
}

/** Folders within a folder that are named by lead orders, one each: one bench, a folder for every order. */
function foldersOfOrders(path: string, all: readonly string[]): string[] {
  const folders = all
    .filter((name) => statSync(join(path, name), { throwIfNoEntry: false })?.isDirectory())
    .sort(byNumber);
  const letters = lettersOfNames(folders);
  const named = folders.filter((name) => factsFromNames([name], letters).ordering !== undefined);
  return named.length < 2 ? [] : folders.map((name) => join(path, name));
}

/** More files in a folder than this are not looked into before they are read. */
const mostChannelFiles = 16;

/** True for a folder of a few small tables of one kind that all have two or three columns: they may be channels of one
 * capture. */
async function mayBeChannels(files: readonly string[]): Promise<boolean> {
  if (files.length < 2 || files.length > mostChannelFiles) return false;
  if (
    new Set(files.map((f) => extname(f).toLowerCase())).size > 1 ||
    !/\.(csv|tsv|txt|dat|asc|prn)$/i.test(files[0])
  )
    return false;
  for (const file of files) {
    // Opening a pipe would wait for a writer.
    if (statsOf(file)?.isFile() !== true) return false;
    const handle = await open(file).catch(() => undefined);
    if (handle === undefined) return false;
    try {
      const head = Buffer.alloc(4096);
      const { bytesRead } = await handle.read(head, 0, head.length, 0);
      const lines = head
        .toString("latin1", 0, bytesRead)
        .split(/\r\n|\n|\r/)
        .slice(0, -1);
      const line = (lines.at(-1) ?? "").replace(/[,;\s]+$/, "");
      const fields = line.split(
        line.includes(";") ? ";" : line.includes("\t") ? "\t" : line.includes(",") ? "," : /\s+/,
      ).length;
      if (!/\d/.test(line) || fields < 2 || fields > 3) return false;
    } finally {
      await handle.close();
    }
  }
  return true;
}

/** Files named by their date that are looked at together: a month of days. */
const mostDated = 31;

/** How the name of a file counts on: what stays the same, and the number or date that goes up. */
interface Counted {
  readonly stem: string;
  readonly number: number;
  /** The name holds a date or a time of day: files follow each other whatever the difference is. */
  readonly dated: boolean;
}

function countedName(file: string): Counted | undefined {
  // Kept older parts: `motor.log`, `motor.log.1`, `motor.log.2`.
  const kept = /^(.*\.(?:log|csv|txt|dat))(?:\.(\d{1,3}))?$/i.exec(file);
  if (kept?.[2] !== undefined) return { stem: `${kept[1]}\u0000kept`, number: Number(kept[2]), dated: false };
  const at = file.lastIndexOf("/") + 1;
  const name = file.slice(at);
  if (/(^|\D)(19|20)\d\d[-_.]?\d\d[-_.]?\d\d(\D|$|\d{4,6})/.test(name))
    return { stem: `${file.slice(0, at)}${name.replace(/\d/g, "0")}`, number: 0, dated: true };
  const m = /^(.*?)(\d+)(\D*)$/.exec(file);
  return m === null ? undefined : { stem: `${m[1]}\u0000${m[3]}`, number: Number(m[2]), dated: false };
}

/** Puts files without a descriptor that differ only in a last number, counting up by one, or in their date, into one
 * job. */
function numberedTogether(jobs: readonly ReadingJob[]): ReadingJob[] {
  const out: ReadingJob[] = [];
  let last: Counted | undefined;
  for (const job of jobs) {
    const single = job.resource === undefined && job.noted === undefined && job.files.length === 1;
    let here = single ? countedName(job.files[0]) : undefined;
    // The newest part bears no number.
    if (single && here?.stem !== last?.stem && jobs.some((j) => j.files[0] === `${job.files[0]}.1`))
      here = { stem: `${job.files[0]}\u0000kept`, number: 0, dated: false };
    const before = out.at(-1);
    if (
      here !== undefined &&
      last !== undefined &&
      before !== undefined &&
      here.stem === last.stem &&
      (here.dated ? before.files.length < mostDated : here.number === last.number + 1)
    ) {
      if (before.numbered === true) (before.files as string[]).push(...job.files);
      else out[out.length - 1] = { files: [...before.files, ...job.files], numbered: true };
    } else out.push(job);
    last = here;
  }
  return out.map((job) =>
    job.numbered === true && /\.(log|csv|txt|dat)\.\d{1,3}$/i.test(job.files.at(-1) ?? "")
      ? { ...job, files: [...job.files].reverse() }
      : job,
  );
}

function byNumber(a: string, b: string): number {
  return a.localeCompare(b, "en", { numeric: true });
}
