import { createHash } from "node:crypto";
import { open } from "node:fs/promises";
import { basename, dirname, resolve } from "node:path";
import { visible } from "../units/text.js";
import { factsFromNames } from "./factsFromNames.js";
import { copyOfOtherOrder } from "./findingText.js";
import { endsOfFile, statsOf } from "./formats/fileBytes.js";
import type { Finding } from "./types.js";

/** Bytes at either end that tell most files apart. */
const end = 4096;
/** Bytes that are compared at once. */
const piece = 64 * 1024;

/** Files to be read, and the lead order that a descriptor or notes give them. */
interface Given {
  readonly files: readonly string[];
  readonly resource?: { readonly facts: { readonly ordering?: string } };
  readonly noted?: { readonly ordering: string };
}

/** A job whose file holds the bytes of another's, and what is to be said of it. */
interface Copy<Job> {
  readonly job: Job;
  /** The two are said to be of different lead orders: both are read. */
  readonly apart: boolean;
  readonly finding: Finding;
}

/**
 * Files that are copies of one in the same folder that was given before, byte for byte: what is measured twice never
 * has the same noise, so a copy is no second trial. It is told, and is to be left out unless the two are said to be of
 * different orders.
 */
export async function copiesIn<Job extends Given>(jobs: readonly Job[]): Promise<Copy<Job>[]> {
  const bySize = new Map<string, { readonly size: number; readonly jobs: Job[] }>();
  for (const job of jobs) {
    // What a descriptor lists stands for itself.
    if (job.files.length !== 1 || job.resource !== undefined) continue;
    const found = statsOf(job.files[0]);
    if (found === undefined || !found.isFile() || found.size === 0) continue;
    const key = `${found.size} ${dirname(resolve(job.files[0]))}`;
    const alike = bySize.get(key) ?? { size: found.size, jobs: [] };
    alike.jobs.push(job);
    bySize.set(key, alike);
  }
  const found = new Map<Job, Job>();
  for (const { size, jobs: alike } of bySize.values()) {
    if (alike.length < 2) continue;
    // Many logs of one length differ in their first or last rows: only those that do not are compared with each other.
    const byEnds = new Map<string, Job[]>();
    for (const job of alike) {
      const ends = endsOf(job.files[0], size) ?? "";
      const others = byEnds.get(ends) ?? [];
      const first = await firstSame(others, job, size);
      if (first === undefined) byEnds.set(ends, [...others, job]);
      else found.set(job, first);
    }
  }
  return jobs.flatMap((job) => {
    const first = found.get(job);
    return first === undefined ? [] : [copyOf(job, first)];
  });
}

/** A digest of the first and the last bytes of a file; undefined where it cannot be read. */
function endsOf(path: string, size: number): string | undefined {
  try {
    const hash = createHash("sha256");
    for (const bytes of endsOfFile(path, end, size)) hash.update(bytes);
    return hash.digest("base64");
  } catch {
    return undefined;
  }
}

/** The lead order of a job as its descriptor, notes or name say. */
function orderOf({ files, resource, noted }: Given): string | undefined {
  return resource?.facts.ordering ?? noted?.ordering ?? factsFromNames([files[0]]).ordering;
}

function copyOf<Job extends Given>(job: Job, first: Job): Copy<Job> {
  const [order, other] = [orderOf(job), orderOf(first)];
  const apart = order !== other;
  return {
    job,
    apart,
    finding: {
      severity: "warning",
      code: apart ? copyOfOtherOrder : "same-bytes",
      message: `it holds the very bytes of "${visible(basename(first.files[0]), 60)}"${apart ? `, which is of ${other ?? "no"} order and not of ${order ?? "no"} order` : ""}`,
      meaning: apart
        ? "both are read; what is measured twice never has the same noise, so one of the two may be under a wrong name"
        : "a copy is no second trial: it is read once, under the name that came first",
      file: job.files[0],
    },
  };
}

async function firstSame<Job extends Given>(
  candidates: readonly Job[],
  job: Job,
  size: number,
): Promise<Job | undefined> {
  for (const other of candidates) if (await same(other.files[0], job.files[0], size)) return other;
  return undefined;
}

async function same(first: string, second: string, size: number): Promise<boolean> {
  const files = await Promise.all([first, second].map((path) => open(path, "r").catch(() => undefined)));
  try {
    const [a, b] = files;
    if (a === undefined || b === undefined) return false;
    const [left, right] = [Buffer.alloc(piece), Buffer.alloc(piece)];
    for (let start = 0; start < size; start += piece) {
      const [m, n] = await Promise.all([a.read(left, 0, piece, start), b.read(right, 0, piece, start)]);
      if (m.bytesRead !== n.bytesRead) return false;
      if (left.compare(right, 0, n.bytesRead, 0, m.bytesRead) !== 0) return false;
    }
    return true;
  } finally {
    for (const file of files) await file?.close();
  }
}
