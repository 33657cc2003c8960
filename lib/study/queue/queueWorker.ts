import { randomBytes } from "node:crypto";
import { lstat, mkdir, open, realpath, rename, rm } from "node:fs/promises";
import { basename, dirname, join, resolve } from "node:path";
import { listName } from "../../recording/outputFolder.js";
import { visible } from "../../units/text.js";
import { contentKey, settingsKey } from "../pipeline/contentKey.js";
import { judgePool, ownJob } from "../pipeline/judgePool.js";
import type { FileResult } from "../pipeline/recordingResult.js";
import {
  connectQueue,
  mostStalls,
  type QueuedTask,
  queueNameOf,
  redacted,
  versionGone,
  versionsKey,
} from "./queueConnection.js";
import { loadQueue } from "./queuePackages.js";
import { inside } from "./sharedResults.js";

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
  /** Version of a study that waited for workers of its own version. */
  readonly refused?: string;
}

/**
 * Serves a queue: takes tasks, judges them on threads of this process, and puts each result in its place by an atomic
 * rename. Leaves tasks of another version alone, and says that they wait.
 *
 * @throws Error when the packages of the queue are not installed, when the queue cannot be reached
 */
export async function serveQueue(options: QueueWorkerOptions): Promise<QueueWorkerReport> {
  const { url, version, threads = 1, job: module = ownJob, limit, lock = 30, idle, say, signal } = options;
  const shared = await realpath(options.shared);
  const { Worker, DelayedError, UnrecoverableError } = await loadQueue();
  const connection = await connectQueue(url, say);
  const taking = connection.duplicate();
  taking.on("error", () => {}); // the first connection's handler speaks
  // The settings come with each task: one pool serves all studies.
  const pool = await judgePool({ threads, job: module, limit });
  let judged = 0;
  let refused: string | undefined;
  const lookForOthers = async () => {
    const waiting = await connection.hgetall(versionsKey);
    const other = Object.entries(waiting).find(
      ([v, at]) => v !== version && Date.now() - Number(at) < versionGone,
    );
    if (other === undefined || other[0] === refused) return;
    refused = other[0];
    say(
      `a study of version ${visible(refused, 40)} waits for workers, and this is version ${version}: it is left alone; install the version of the study to serve it`,
    );
  };
  const looking = setInterval(() => void lookForOthers().catch(() => {}), 2000);
  let last = Date.now();
  let busy = 0;
  const serve = async (data: QueuedTask): Promise<boolean> => {
    const { path, folder } = await placesOf(shared, data);
    const target = join(folder, `${data.key}.json`);
    if (await exists(target)) return false;
    let key: string;
    try {
      key = await contentKey(path, settingsKey(data.settings, version, module));
    } catch (error) {
      throw new CannotServe(`cannot be read by the worker: ${(error as Error).message}`);
    }
    if (key !== data.key)
      throw new CannotServe("the worker sees another content or works by another job than the study");
    await place(target, await pool.judge({ path, key, settings: data.settings }));
    return true;
  };
  const worker = new Worker<QueuedTask>(
    queueNameOf(version),
    async (job, token) => {
      busy++;
      try {
        if (await serve(job.data)) judged++;
      } catch (error) {
        if (!signal?.aborted)
          throw error instanceof CannotServe ? new UnrecoverableError(error.message) : error;
        // We are ending, which is no fault of the task: it goes back as it came.
        await job.moveToDelayed(Date.now() + 100, token);
        throw new DelayedError();
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
      maxStalledCount: mostStalls,
    },
  );
  worker.on("error", () => {}); // the connection's own handler speaks
  say(`serving ${redacted(url)} with ${threads} thread${threads === 1 ? "" : "s"}, version ${version}`);
  await new Promise<void>((done) => {
    const clock = setInterval(() => {
      const idleFor = busy > 0 ? 0 : (Date.now() - last) / 1000;
      if (signal?.aborted || (idle !== undefined && idleFor > idle)) {
        clearInterval(clock);
        done();
      }
    }, 100);
  });
  clearInterval(looking);
  // Asked to end, nobody waits for a recording that may take its whole limit.
  if (signal?.aborted) await pool.close();
  await worker.close();
  await pool.close();
  for (const each of [connection, taking]) each.disconnect();
  return { judged, ...(refused === undefined ? {} : { refused }) };
}

/** A task that no worker here can do, however often it is tried. */
class CannotServe extends Error {}

/**
 * Where the recording of a task and the folder for its result really are, links followed.
 *
 * @throws CannotServe when they lie outside of what all share, or the folder is not that of a study
 */
async function placesOf(shared: string, data: QueuedTask): Promise<{ path: string; folder: string }> {
  if (!/^[0-9a-f]{40}$/.test(data.key)) throw new CannotServe("the task's key is not a key");
  const really = async (path: string, what: string): Promise<string> => {
    let real: string;
    try {
      inside(shared, path, what);
      real = await realpath(path);
      inside(shared, real, what);
    } catch (error) {
      throw new CannotServe((error as Error).message);
    }
    return real;
  };
  const path = await really(resolve(shared, String(data.path)), String(data.path));
  const given = resolve(shared, String(data.results));
  const study = await really(dirname(given), String(data.results));
  if (basename(given) !== "queue" || !(await exists(join(study, listName))))
    throw new CannotServe("the folder for its result is not the folder of a study");
  const folder = join(study, "queue");
  await mkdir(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== "EEXIST") throw error;
  });
  if (!(await lstat(folder)).isDirectory())
    throw new CannotServe("the folder for its result is a link or a file");
  return { path, folder };
}

async function exists(path: string): Promise<boolean> {
  return lstat(path).then(
    () => true,
    () => false,
  );
}

/** Writes a result so that it is there whole or not at all, however many workers do it. */
async function place(target: string, result: FileResult): Promise<void> {
  const draft = `${target}.${process.pid}.${randomBytes(4).toString("hex")}`;
  try {
    const file = await open(draft, "wx");
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
