import { randomBytes } from "node:crypto";
import { mkdir, open, rename, rm, stat } from "node:fs/promises";
import { join, resolve } from "node:path";
import { contentKey, settingsKey } from "../pipeline/contentKey.js";
import { type Judges, judgePool, ownJob } from "../pipeline/judgePool.js";
import type { FileResult } from "../pipeline/recordingResult.js";
import { connectQueue, type QueuedTask, queueName, redacted } from "./queueConnection.js";
import { inside } from "./queueJudges.js";
import { loadQueue } from "./queuePackages.js";

/** Options of `serveQueue`. */
export interface QueueWorkerOptions {
  readonly url: string;
  /** This machine's name for the folder that all share. Nothing outside it is read or written. */
  readonly shared: string;
  readonly version: string;
  readonly threads?: number;
  /** URL of a module that exports `judge` in place of our own. */
  readonly job?: string;
  readonly limit?: number;
  /** Seconds without a sign of life after which a task is given to another worker; 30 when absent. */
  readonly lock?: number;
  /** Seconds without a task after which the worker ends; never when absent. */
  readonly idle?: number;
  readonly say: (text: string) => void;
  readonly signal?: AbortSignal;
}

/** How a worker ended. */
export interface QueueWorkerReport {
  readonly judged: number;
  /** Version of a study that this worker refused; it ends then. */
  readonly refused?: string;
}

/**
 * Serves a queue: takes tasks, judges them on threads of this process, and puts each result in its place by an atomic rename.
 * Refuses (and puts back) tasks of another version.
 *
 * @throws Error when the packages of the queue are not installed, when the queue cannot be reached
 */
export async function serveQueue(options: QueueWorkerOptions): Promise<QueueWorkerReport> {
  const { url, version, threads = 1, job: module = ownJob, limit, lock = 30, idle, say, signal } = options;
  const shared = resolve(options.shared);
  const { Worker, DelayedError, UnrecoverableError } = await loadQueue();
  const connection = await connectQueue(url, say);
  const taking = connection.duplicate();
  taking.on("error", () => {}); // the first connection's handler speaks
  const pools = new Map<string, Promise<Judges>>();
  let judged = 0;
  let refused: string | undefined;
  let last = Date.now();
  let busy = 0;
  const worker = new Worker<QueuedTask>(
    queueName,
    async (job, token) => {
      const { data } = job;
      if (data.version !== version) {
        refused = String(data.version);
        await job.moveToDelayed(Date.now() + 2000, token);
        throw new DelayedError();
      }
      busy++;
      try {
        const path = resolve(shared, data.path);
        const folder = resolve(shared, data.results);
        if (!/^[0-9a-f]{40}$/.test(data.key)) throw new UnrecoverableError("the task's key is not a key");
        try {
          inside(shared, path, data.path);
          inside(shared, folder, data.results);
        } catch (error) {
          throw new UnrecoverableError((error as Error).message);
        }
        const target = join(folder, `${data.key}.json`);
        if (await exists(target)) return;
        let key: string;
        try {
          key = await contentKey(path, settingsKey(data.settings, version, module));
        } catch (error) {
          throw new UnrecoverableError(`cannot be read by the worker: ${(error as Error).message}`);
        }
        if (key !== data.key)
          throw new UnrecoverableError(
            "the worker sees another content or works by another job than the study",
          );
        const settings = JSON.stringify(data.settings);
        let pool = pools.get(settings);
        if (pool === undefined) {
          pool = judgePool({ threads, settings: data.settings, job: module, limit });
          pools.set(settings, pool);
        }
        const result = await (await pool).judge({ path, key });
        await place(folder, target, result);
        judged++;
      } finally {
        busy--;
        last = Date.now();
      }
    },
    {
      connection: taking,
      concurrency: threads,
      lockDuration: lock * 1000,
      stalledInterval: lock * 1000,
      maxStalledCount: 2,
    },
  );
  worker.on("error", () => {}); // the connection's own handler speaks
  say(`serving ${redacted(url)} with ${threads} thread${threads === 1 ? "" : "s"}, version ${version}`);
  await new Promise<void>((done) => {
    const clock = setInterval(() => {
      const idleFor = busy > 0 ? 0 : (Date.now() - last) / 1000;
      if (refused !== undefined || signal?.aborted || (idle !== undefined && idleFor > idle)) {
        clearInterval(clock);
        done();
      }
    }, 100);
  });
  await worker.close();
  await Promise.all([...pools.values()].map(async (pool) => (await pool).close()));
  for (const each of [connection, taking]) each.disconnect();
  return { judged, ...(refused === undefined ? {} : { refused }) };
}

async function exists(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  );
}

/** Writes a result so that it is there whole or not at all, however many workers do it. */
async function place(folder: string, target: string, result: FileResult): Promise<void> {
  await mkdir(folder, { recursive: true });
  const draft = `${target}.${process.pid}.${randomBytes(4).toString("hex")}`;
  try {
    const file = await open(draft, "w");
    try {
      await file.writeFile(JSON.stringify(result));
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(draft, target);
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
}
