import { type ChildProcess, fork } from "node:child_process";
import { join } from "node:path";
import { processorTime } from "../house/processorTime.js";
import type { Asked, WarmMessage } from "./warm.js";

/** What running some test files told. */
export interface Told {
  /** A file did not answer in time, or the process came to an end. */
  readonly late: boolean;
  readonly files: readonly Extract<WarmMessage, { kind: "file" }>[];
}

/** MiB resident beyond which the process is replaced. */
const largest = 2500;
/** Seconds by the clock without a word that count as hanging where nothing is computed. */
const longest = 120;

/** The process that runs tests, begun anew when it hangs, ends or grows large. */
export class WarmProcess {
  readonly #copy: string;
  #child: ChildProcess | undefined;
  /** Mutants that were met while the library was loaded. */
  atStart: readonly number[] = [];
  /** Those of them whose value would have been another. */
  shownAtStart: readonly number[] = [];

  constructor(copy: string) {
    this.#copy = copy;
  }

  async #start(mutant: number): Promise<ChildProcess> {
    const child = fork(join(this.#copy, "tests/mutation/warm.ts"), [], {
      cwd: this.#copy,
      execArgv: ["--import", "tsx", "--max-old-space-size=3500"],
      stdio: ["ignore", "ignore", "pipe", "ipc"],
      env: { ...process.env, MUTANT: String(mutant), VITEST: "true" },
    });
    let said = "";
    child.stderr?.on("data", (text) => {
      said = `${said}${text}`.slice(-800);
    });
    return new Promise((ready, failed) => {
      child.once("message", (message: WarmMessage) => {
        if (message.kind === "ready") [this.atStart, this.shownAtStart] = [message.reached, message.shown];
        ready(child);
      });
      child.once("exit", (code) => failed(new Error(`the process ended at its start (${code}): ${said}`)));
    });
  }

  /**
   * Runs files with a mutant switched on. `cold` begins a process with it, for mutants that are met while the library
   * loads; `patience` gives the seconds of processor time after which a test that says nothing counts as hanging.
   */
  async ask(asked: Asked, patience: (file: string) => number, cold = false): Promise<Told> {
    if (cold) this.close();
    const files: Extract<WarmMessage, { kind: "file" }>[] = [];
    try {
      this.#child ??= await this.#start(cold ? asked.mutant : -1);
    } catch (error) {
      if (!cold) throw error;
      return { late: true, files };
    }
    const child = this.#child;
    child.removeAllListeners("message").removeAllListeners("exit");
    const told = await new Promise<Told>((resolve) => {
      let [used, since, most] = [processorTime(child.pid), Date.now(), patience(asked.files[0] ?? "")];
      const watch = setInterval(() => {
        if (processorTime(child.pid) - used > most || Date.now() - since > 1000 * (longest + 4 * most))
          stop(true);
      }, 500);
      const stop = (late: boolean): void => {
        clearInterval(watch);
        if (late) this.close();
        resolve({ late, files });
      };
      const wait = (file: string): void => {
        [used, since, most] = [processorTime(child.pid), Date.now(), patience(file)];
      };
      child.on("exit", () => stop(true));
      child.on("message", (message: WarmMessage) => {
        if (message.kind === "starts") wait(message.file);
        if (message.kind === "file") files.push(message);
        if (message.kind !== "end") return;
        stop(false);
        if (message.megabytes > largest) this.close();
      });
      child.send(asked);
    });
    if (cold) this.close();
    return told;
  }

  close(): void {
    this.#child?.removeAllListeners("message").removeAllListeners("exit");
    this.#child?.kill("SIGKILL");
    this.#child = undefined;
  }
}
