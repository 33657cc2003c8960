import { open, stat } from "node:fs/promises";
import { availableParallelism } from "node:os";
import type { ReadOptions } from "../columns/readOptions.js";
import type { ReadingJob } from "../planReading.js";
import type { ReadResult } from "../readResult.js";
import { WantsOwnProcess, withSmallEngine } from "./engineHere.js";
import type { Limits } from "./limits.js";
import { ProcessPool } from "./processPool.js";
import { withinTime } from "./watchdog.js";

/** Plain text up to this size is read by this process. */
const plainBytes = 64 * 2 ** 20;

/** Processes that read under limits, by what these are. */
const pools = new Map<string, ProcessPool>();

/**
 * Reads a job under limits of time and memory: small plain text here, which costs nothing, and all else in a process of
 * its own.
 *
 * @throws GaveUp when it went beyond a limit, or ended its process
 */
export async function readLimited(
  job: ReadingJob,
  options: ReadOptions,
  limits: Limits,
  here: (job: ReadingJob, options: ReadOptions) => Promise<ReadResult>,
): Promise<ReadResult> {
  const { limits: _, ...own } = options;
  if (await isPlain(job.files)) {
    try {
      return await withinTime(limits, () => withSmallEngine(() => here(job, own)));
    } catch (error) {
      if (!(error instanceof WantsOwnProcess)) throw error;
    }
  }
  const key = `${limits.seconds} ${limits.bytes}`;
  let pool = pools.get(key);
  if (pool === undefined) {
    pool = new ProcessPool(moduleBeside("readJobTask"), Math.min(2, availableParallelism()), limits);
    pools.set(key, pool);
  }
  return (await pool.run({ job, options: own })) as ReadResult;
}

/** URL of a module beside this one, as it is loaded here. */
function moduleBeside(name: string): string {
  return new URL(`./${name}${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`, import.meta.url).href;
}

/** Whether all files of a job are plain text, and together not large. */
async function isPlain(files: readonly string[]): Promise<boolean> {
  let bytes = 0;
  const head = Buffer.alloc(1024);
  for (const path of files) {
    const kind = await stat(path).catch(() => undefined);
    // What is not there, or no file, is refused in no time.
    if (kind === undefined || !kind.isFile()) continue;
    bytes += kind.size;
    if (bytes > plainBytes) return false;
    const file = await open(path).catch(() => undefined);
    if (file === undefined) continue;
    try {
      const { bytesRead } = await file.read(head, 0, head.length, 0);
      if (!isText(head.subarray(0, bytesRead))) return false;
    } finally {
      await file.close();
    }
  }
  return true;
}

/** No control characters but those of a text, or the mark of a 16-bit text. */
function isText(head: Buffer): boolean {
  const mark = head.length >= 2 ? head.readUInt16BE(0) : 0;
  if (mark === 0xfeff || mark === 0xfffe) return true;
  if (head.toString("latin1", 0, 2) === "PK") return false;
  return head.every((byte) => byte >= 32 || (byte >= 9 && byte <= 13) || byte === 26 || byte === 27);
}
