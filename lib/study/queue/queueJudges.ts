import { createHash } from "node:crypto";
import { relative, resolve, sep } from "node:path";
import type { Job, Queue, QueueEvents } from "bullmq";
import type { Judges } from "../pipeline/judgePool.js";
import type { FileResult, StudySettings } from "../pipeline/recordingResult.js";
import {
  connectQueue,
  mostStalls,
  type QueuedTask,
  queueNameOf,
  versionBeat,
  versionsKey,
} from "./queueConnection.js";
import { loadQueue } from "./queuePackages.js";
import { inside, SharedResults } from "./sharedResults.js";

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
  queue.on("error", quiet);
  events.on("error", quiet);
  const living = () => void connection.hset(versionsKey, version, Date.now()).catch(quiet);
  living();
  const life = setInterval(living, versionBeat).unref();
  const results = relative(shared, folder).split(sep).join("/");
  const study = createHash("sha256").update(results).digest("hex").slice(0, 8);
  const tasks = new WaitingTasks(queue, events, new SharedResults(folder));

  return {
    width: window,
    judge: async ({ path, key, settings: own = settings }) => {
      const known = await tasks.results.take(key);
      if (known !== undefined && known !== "malformed") return known;
      tasks.results.own();
      const absolute = resolve(path);
      inside(shared, absolute, path);
      const file = relative(shared, absolute).split(sep).join("/");
      return await tasks.wait(`${study}-${key}`, { version, settings: own, path: file, key, results });
    },
    finished: () => tasks.results.remove(),
    close: async () => {
      tasks.close();
      clearInterval(life);
      await Promise.allSettled([events.close(), queue.close()]);
      for (const each of [connection, listening]) each.disconnect();
    },
  };
}

/** For errors of which the connection's own handler speaks. */
const quiet = () => {};

/** Tasks in the queue, each until its result is there or it is given up. */
class WaitingTasks {
  private readonly waiting = new Map<string, Waiting>();
  private closed = false;

  constructor(
    private readonly queue: Queue<QueuedTask>,
    events: QueueEvents,
    readonly results: SharedResults,
  ) {
    const ended = ({ jobId }: { jobId: string }) => {
      const entry = this.waiting.get(jobId);
      if (entry !== undefined) this.look(entry, true).catch(quiet);
    };
    events.on("completed", ended);
    events.on("failed", ended);
    void this.sweep();
  }

  /** Puts a task in and waits for its end. */
  wait(id: string, task: QueuedTask): Promise<FileResult> {
    return new Promise<FileResult>((done, fail) => {
      const entry: Waiting = { task, id, resolve: done, malformed: 0 };
      this.waiting.set(id, entry);
      this.put(entry).catch(fail);
    });
  }

  close(): void {
    this.closed = true;
  }

  private put({ task, id }: Waiting): Promise<Job<QueuedTask>> {
    return this.queue.add("judge", task, {
      jobId: id,
      removeOnComplete: true,
      removeOnFail: false,
      attempts: 3,
      backoff: { type: "fixed", delay: 1000 },
    });
  }

  /** Looks at all tasks again and again, every fourth time also at what the queue says of them. */
  private async sweep(): Promise<void> {
    let sweeps = 0;
    while (!this.closed) {
      await new Promise((wake) => setTimeout(wake, 500).unref());
      const thorough = ++sweeps % 4 === 0;
      for (const entry of [...this.waiting.values()]) {
        if (this.closed) return;
        await this.look(entry, thorough).catch(quiet);
      }
    }
  }

  /** Looks whether a task has come to its end. */
  private async look(entry: Waiting, thorough: boolean): Promise<void> {
    let result = await this.resultOf(entry);
    if (result === undefined && thorough) result = await this.endInQueue(entry);
    if (result !== undefined && this.waiting.delete(entry.id)) entry.resolve(result);
  }

  /** The result that a worker left; a third one that cannot be used ends the task. */
  private async resultOf(entry: Waiting): Promise<FileResult | undefined> {
    const result = await this.results.take(entry.task.key);
    if (result !== "malformed") return result;
    entry.malformed += 1;
    if (entry.malformed < 3) return undefined;
    return { recordings: [], reason: "its workers gave results that cannot be used", poison: true };
  }

  /** What the queue says of a task without a result: failed, or forgotten and put in again. */
  private async endInQueue(entry: Waiting): Promise<FileResult | undefined> {
    const { id, task } = entry;
    const state = await this.queue.getJobState(id);
    if (state === "failed") {
      const job = await this.queue.getJob(id);
      const said = job?.failedReason ?? "no reason was given";
      const givenUp = (job?.stalledCounter ?? 0) > mostStalls;
      await job?.remove();
      const reason = givenUp ? "its worker process ended again and again while judging it" : said;
      return { recordings: [], reason, poison: true };
    }
    if (state !== "unknown") return undefined;
    // Done between the two looks, or forgotten by a Redis that was restarted.
    const again = await this.results.look(task.key);
    if (again === undefined) await this.put(entry);
    return again === "malformed" ? undefined : again;
  }
}
