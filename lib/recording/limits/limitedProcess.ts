import { type ChildProcess, spawn } from "node:child_process";
import { rmSync } from "node:fs";
import type { Socket } from "node:net";
import { fileURLToPath } from "node:url";
import { visible } from "../../units/text.js";
import { forget, temporaryFolder } from "../formats/temporaryFolder.js";
import { type ChildMessage, columnPipe, overMemory } from "./childProtocol.js";
import { putTogether } from "./columnTransfer.js";
import { lateOptimising } from "./lateOptimising.js";
import { GaveUp, type Limits } from "./limits.js";

interface Waiting {
  readonly done: (value: unknown) => void;
  readonly failed: (error: Error) => void;
}

/** A process that works on one task after another and is ended when one of them goes beyond its limits. */
export class LimitedProcess {
  readonly #child: ChildProcess;
  readonly #temporary: string;
  readonly #ready: Promise<void>;
  #waiting: Waiting | undefined;
  #said = "";
  #gone = false;
  #closing = false;
  #overTime = false;

  /**
   * @param module URL of a module whose default export works on a task
   * @param flags of the engine, besides those that every such process has
   */
  constructor(
    module: string,
    private readonly limits: Limits,
    flags: readonly string[] = [],
  ) {
    this.#temporary = temporaryFolder(() => this.kill());
    const entry = new URL(
      `./limitedChild${import.meta.url.endsWith(".ts") ? ".ts" : ".js"}`,
      import.meta.url,
    );
    // Its own heap may have most of the limit; what it holds outside of that is watched by itself.
    const heap = `--max-old-space-size=${Math.max(64, Math.floor((0.75 * limits.bytes) / 2 ** 20))}`;
    this.#child = spawn(
      process.execPath,
      [
        heap,
        ...lateOptimising(),
        ...flags,
        ...loader(entry.href),
        fileURLToPath(entry),
        module,
        String(limits.bytes),
      ],
      {
        stdio: ["ignore", "ignore", "pipe", "ipc", "pipe"],
        serialization: "advanced",
        // What it writes for itself lies where we can remove it, however it ends.
        env: { ...process.env, TMPDIR: this.#temporary, TEMP: this.#temporary, TMP: this.#temporary },
      },
    );
    this.#child.stderr?.on("data", (chunk: Buffer) => {
      this.#said = `${this.#said}${chunk.toString("latin1")}`.slice(-8192);
    });
    let begun: Waiting;
    this.#ready = new Promise((done, failed) => {
      begun = { done: done as () => void, failed };
    });
    this.#ready.catch(() => {});
    this.#child.on("message", (message: ChildMessage) => {
      if (message.kind === "ready") begun.done(undefined);
      else void this.#take(message);
    });
    const ended = (error: Error) => {
      if (this.#gone) return;
      this.#gone = true;
      begun.failed(error);
      this.#waiting?.failed(error);
      this.#waiting = undefined;
      rmSync(this.#temporary, { recursive: true, force: true });
      forget(this.#temporary);
    };
    this.#child.on("error", (error) =>
      ended(new GaveUp("ended", `no process could be started to read it: ${visible(error.message, 200)}`)),
    );
    this.#child.on("close", (code, signal) => ended(this.#why(code, signal)));
    this.#pipe().pause();
    this.#hold(false);
  }

  /** Only a process that is at work keeps this one from ending. */
  #hold(yes: boolean): void {
    const all = [this.#child, this.#child.channel, this.#child.stderr, this.#pipe()];
    for (const each of all as ({ ref?: () => void; unref?: () => void } | null | undefined)[])
      if (yes) each?.ref?.();
      else each?.unref?.();
  }

  get gone(): boolean {
    return this.#gone;
  }

  /**
   * Works on one task; one at a time.
   *
   * @throws GaveUp when it went beyond a limit or the process ended; the process is of no more use then
   * @throws Error with what the work itself threw
   */
  async run(task: unknown): Promise<unknown> {
    this.#hold(true);
    try {
      await this.#ready;
      return await this.#work(task);
    } finally {
      // One that is being ended is waited for, whatever it still answers.
      if (!this.#gone && !this.#closing) this.#hold(false);
    }
  }

  async #work(task: unknown): Promise<unknown> {
    const result = new Promise<unknown>((done, failed) => {
      this.#waiting = { done, failed };
    });
    this.#child.send(task as object, (error) => {
      if (error !== null) this.#waiting?.failed(new GaveUp("ended", "the process that reads it ended"));
    });
    const clock = setTimeout(() => {
      // When it was we who were busy, an answer may be waiting to be heard.
      setImmediate(() => {
        if (this.#waiting === undefined) return;
        this.#overTime = true;
        this.kill();
      });
    }, this.limits.seconds * 1000);
    try {
      return await result;
    } finally {
      clearTimeout(clock);
    }
  }

  kill(): void {
    this.#child.kill("SIGKILL");
  }

  /** Ends the process and waits until it is gone. */
  async close(): Promise<void> {
    if (this.#gone) return;
    this.#closing = true;
    this.#hold(true);
    const closed = new Promise((resolve) => this.#child.once("close", resolve));
    this.kill();
    await closed;
  }

  #pipe(): Socket {
    return this.#child.stdio[columnPipe] as Socket;
  }

  async #take(message: Exclude<ChildMessage, { kind: "ready" }>): Promise<void> {
    const waiting = this.#waiting;
    if (waiting === undefined) return;
    try {
      if (message.kind === "error") throw new Error(message.message);
      const columns = message.columns.map((length) => new Float64Array(length));
      await fill(this.#pipe(), columns);
      // An end in between has been told already.
      if (this.#waiting !== waiting) return;
      this.#waiting = undefined;
      waiting.done(putTogether({ rest: message.rest, columns }));
    } catch (error) {
      this.#waiting = undefined;
      waiting.failed(error as Error);
    }
  }

  #why(code: number | null, signal: NodeJS.Signals | null): GaveUp {
    if (this.#overTime) return GaveUp.forTime(this.limits);
    if (this.#said.includes(overMemory) || /heap out of memory|bad_alloc|Allocation failed/i.test(this.#said))
      return GaveUp.forMemory(this.limits);
    const how = signal === null ? `status ${code}` : `signal ${signal}`;
    return new GaveUp("ended", `the process that worked on it ended (${how})`);
  }
}

/** Reads columns from a stream that brings them one after another. */
async function fill(stream: Socket, columns: readonly Float64Array[]): Promise<void> {
  const views = columns.map((column) => new Uint8Array(column.buffer)).filter(({ length }) => length > 0);
  if (views.length === 0) return;
  await new Promise<void>((done, failed) => {
    let at = 0;
    let filled = 0;
    const stop = (error?: Error) => {
      stream.pause();
      stream.off("data", take).off("close", broken);
      if (error === undefined) done();
      else failed(error);
    };
    const broken = () => stop(new GaveUp("ended", "the process that worked on it ended"));
    const take = (chunk: Buffer) => {
      for (let used = 0; used < chunk.length; ) {
        const part = Math.min(chunk.length - used, views[at].length - filled);
        views[at].set(chunk.subarray(used, used + part), filled);
        used += part;
        filled += part;
        if (filled < views[at].length) continue;
        at += 1;
        filled = 0;
        if (at === views.length) return stop();
      }
    };
    stream.on("data", take).on("close", broken);
    stream.resume();
  });
}

/** Lets a process load TypeScript as it is: for work on the sources only. */
function loader(entry: string): string[] {
  if (!entry.endsWith(".ts")) return [];
  const api = import.meta.resolve("tsx/esm/api");
  return ["--import", `data:text/javascript,import{register}from"${api}";register()`];
}
