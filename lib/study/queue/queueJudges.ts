import { createHash } from "node:crypto";
import { constants, lstatSync, mkdirSync } from "node:fs";
import { open, rm } from "node:fs/promises";
import { join, relative, resolve, sep } from "node:path";
import type { Job } from "bullmq";
import { OutputRefused } from "../../recording/outputFolder.js";
import { visible } from "../../units/text.js";
import type { Judges } from "../pipeline/judgePool.js";
import { type FileResult, isFileResult, type StudySettings } from "../pipeline/recordingResult.js";
import {
  connectQueue,
  mostStalls,
  type QueuedTask,
  queueNameOf,
  versionBeat,
  versionsKey,
} from "./queueConnection.js";
import { loadQueue } from "./queuePackages.js";

/** Options of `queueJudges`. */
export interface QueueOptions {
  readonly url: string;
  /** Folder that this machine and every worker see, each under its own name for it. */
  readonly shared: string;
  /** Folder of the study's results, inside `shared`. */
  readonly out: string;
  readonly version: string;
  readonly settings?: StudySettings;
  /** How many recordings wait in the queue at once; 64 when absent. */
  readonly window?: number;
  readonly say: (text: string) => void;
}

interface Waiting {
  readonly task: QueuedTask;
  readonly id: string;
  readonly resolve: (result: FileResult) => void;
  /** Results of it that could not be used. */
  malformed: number;
}

/**
 * Judges through a queue: tasks go to Redis, results come back as files named by their key in a folder that all share.
 * A result is there once, however often a task was delivered; a task that Redis has forgotten is put in again.
 *
 * @throws Error when the packages of the queue are not installed, when the queue cannot be reached, or `out` does not
 * lie in `shared`
 */
export async function queueJudges(options: QueueOptions): Promise<Judges> {
  const { url, version, settings = {}, window = 64, say } = options;
  const shared = resolve(options.shared);
  const folder = resolve(options.out, "queue");
  inside(shared, folder, "the result folder");
  const { Queue, QueueEvents } = await loadQueue();
  const connection = await connectQueue(url, say);
  const listening = connection.duplicate();
  listening.on("error", () => {});
  const queue = new Queue<QueuedTask>(queueNameOf(version), { connection });
  const events = new QueueEvents(queueNameOf(version), { connection: listening });
  const quiet = () => {}; // the connection's own handler speaks
  queue.on("error", quiet);
  events.on("error", quiet);
  const living = () => void connection.hset(versionsKey, version, Date.now()).catch(quiet);
  living();
  const life = setInterval(living, versionBeat).unref();
  const waiting = new Map<string, Waiting>();
  const results = relative(shared, folder).split(sep).join("/");
  const study = createHash("sha256").update(results).digest("hex").slice(0, 8);

  const put = ({ task, id }: Waiting): Promise<Job<QueuedTask>> =>
    queue.add("judge", task, {
      jobId: id,
      removeOnComplete: true,
      removeOnFail: false,
      attempts: 3,
      backoff: { type: "fixed", delay: 1000 },
    });

  /** Looks whether a task has come to its end. */
  const look = async (entry: Waiting, thorough: boolean): Promise<void> => {
    const { id, task } = entry;
    const place = join(folder, `${task.key}.json`);
    let result = await readResult(place);
    if (result === "malformed") {
      // It would be found again at every start.
      await rm(place, { force: true });
      entry.malformed += 1;
      result =
        entry.malformed < 3
          ? undefined
          : { recordings: [], reason: "its workers gave results that cannot be used", poison: true };
    }
    if (result === undefined && thorough) {
      const state = await queue.getJobState(id);
      if (state === "failed") {
        const job = await queue.getJob(id);
        const said = job?.failedReason ?? "no reason was given";
        const givenUp = (job?.stalledCounter ?? 0) > mostStalls;
        result = {
          recordings: [],
          reason: givenUp ? "its worker process ended again and again while judging it" : said,
          poison: true,
        };
        await job?.remove();
      } else if (state === "unknown") {
        // Done between the two looks, or forgotten by a Redis that was restarted.
        const again = await readResult(place);
        if (again === undefined) await put(entry);
        else if (again !== "malformed") result = again;
      }
    }
    if (result !== undefined && waiting.delete(id)) entry.resolve(result);
  };
  const onEnd = ({ jobId }: { jobId: string }) => {
    const entry = waiting.get(jobId);
    if (entry !== undefined) look(entry, true).catch(quiet);
  };
  events.on("completed", onEnd);
  events.on("failed", onEnd);
  let closed = false;
  let sweeps = 0;
  const sweep = async () => {
    while (!closed) {
      await new Promise((wake) => setTimeout(wake, 500).unref());
      const thorough = ++sweeps % 4 === 0;
      for (const entry of [...waiting.values()]) {
        if (closed) return;
        await look(entry, thorough).catch(quiet);
      }
    }
  };
  void sweep();

  return {
    width: window,
    judge: async ({ path, key }) => {
      const known = await readResult(join(folder, `${key}.json`));
      if (known === "malformed") await rm(join(folder, `${key}.json`), { force: true });
      else if (known !== undefined) return known;
      ownFolder(folder);
      const absolute = resolve(path);
      inside(shared, absolute, path);
      const task: QueuedTask = {
        version,
        settings,
        path: relative(shared, absolute).split(sep).join("/"),
        key,
        results,
      };
      return await new Promise<FileResult>((done, fail) => {
        const entry: Waiting = { task, id: `${study}-${key}`, resolve: done, malformed: 0 };
        waiting.set(entry.id, entry);
        put(entry).catch(fail);
      });
    },
    finished: async () => {
      if (lstatSync(folder, { throwIfNoEntry: false })?.isDirectory())
        await rm(folder, { recursive: true, force: true });
    },
    close: async () => {
      closed = true;
      clearInterval(life);
      await Promise.allSettled([events.close(), queue.close()]);
      for (const each of [connection, listening]) each.disconnect();
    },
  };
}

/** Makes the folder of the results inside the study's, which is ours by now; a link there leads elsewhere. */
function ownFolder(folder: string): void {
  const kind = lstatSync(folder, { throwIfNoEntry: false });
  if (kind === undefined) mkdirSync(folder, { recursive: true });
  else if (!kind.isDirectory())
    throw new OutputRefused(`${visible(folder)} is a link or a file: move it away`);
}

/** A result as a worker left it; undefined when there is none, or it is not a plain file. */
async function readResult(path: string): Promise<FileResult | "malformed" | undefined> {
  let text: string;
  try {
    const file = await open(
      path,
      constants.O_RDONLY | (constants.O_NOFOLLOW ?? 0) | (constants.O_NONBLOCK ?? 0),
    );
    try {
      const kind = await file.stat();
      if (!kind.isFile() || kind.size > largestResult) return "malformed";
      text = await file.readFile("utf8");
    } finally {
      await file.close();
    }
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "ELOOP" ? "malformed" : undefined;
  }
  try {
    const result: unknown = JSON.parse(text);
    return isFileResult(result) ? result : "malformed";
  } catch {
    return "malformed";
  }
}

/** A result is some kilobytes for each recording. */
const largestResult = 256 * 2 ** 20;

/** @throws Error when a path lies outside the shared folder */
export function inside(shared: string, path: string, what: string): void {
  const away = relative(shared, path);
  if (away === "" || away === ".." || away.startsWith(`..${sep}`) || resolve(away) === away)
    throw new Error(
      `${what} does not lie in the shared folder ${shared}: name a folder (--shared) that holds both`,
    );
}
