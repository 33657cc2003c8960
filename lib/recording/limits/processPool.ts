import { LimitedProcess } from "./limitedProcess.js";
import type { Limits } from "./limits.js";

/** Garbage is collected by the thread that makes it, where every core has a process: one that judges one short file
 * after another would spend a tenth of all processor time on handing it out to other threads. */
export const ownGarbage: readonly string[] = ["--single-threaded-gc"];

/**
 * Processes that each work on one task at a time under limits. A process that went beyond them is replaced; the task
 * that did it is rejected with `GaveUp`, and no other suffers.
 */
export class ProcessPool {
  readonly #idle: LimitedProcess[] = [];
  readonly #all = new Set<LimitedProcess>();
  readonly #queue: (() => void)[] = [];
  #busy = 0;
  #closed = false;

  /**
   * @param module URL of a module whose default export works on a task
   * @param processes most at once; each is started when it is first needed
   * @param flags of the engine, besides those that every such process has
   */
  constructor(
    private readonly module: string,
    private readonly processes: number,
    private readonly limits: Limits,
    private readonly flags: readonly string[] = [],
  ) {}

  /** Works on a task as soon as a process is free. */
  async run(task: unknown): Promise<unknown> {
    if (this.#busy >= this.processes) await new Promise<void>((turn) => this.#queue.push(turn));
    else this.#busy += 1;
    try {
      if (this.#closed) throw new Error("the processes have been closed");
      const process = this.#idle.pop() ?? this.#start();
      try {
        return await process.run(task);
      } finally {
        if (process.gone || this.#closed) this.#all.delete(process);
        else this.#idle.push(process);
      }
    } finally {
      const next = this.#queue.shift();
      if (next === undefined) this.#busy -= 1;
      else next();
    }
  }

  #start(): LimitedProcess {
    const process = new LimitedProcess(this.module, this.limits, this.flags);
    this.#all.add(process);
    return process;
  }

  /** Ends all processes; what they were working on is rejected. */
  async close(): Promise<void> {
    this.#closed = true;
    await Promise.all([...this.#all].map((process) => process.close()));
    this.#all.clear();
    this.#idle.length = 0;
  }
}
