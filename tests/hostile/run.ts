/**
 * Reads and judges thousands of damaged files in child processes, which are watched for crashes, hangs and memory:
 * `nice npx tsx tests/hostile/run.ts <count> <first number> [results.json] [structure]`. With `structure` the damage knows the formats, and each file is
 * read under a limit of 1 GiB. Prints the counts and every failure; exit status 1 when there is one. A run whose
 * results file is there already goes on where it was stopped. `SHAFTWISE_LANES` processes work at once: one, unless it
 * says otherwise.
 */
import { type ChildProcess, fork } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { serialize } from "node:v8";
import { processorTime } from "../house/processorTime.js";
import type { Attempt } from "./attempt.js";
import type { RunMessage } from "./runChild.js";
import { seedFiles } from "./seeds.js";

const lanes = Number(process.env.SHAFTWISE_LANES ?? 1);
/** Seconds of processor time, and of the clock, without an answer that count as a hang. */
const hang = { processor: 30, clock: 240 };
const structure = process.argv[5] === "structure";
/** Resident memory of the process, MiB: beyond the first a file failed, beyond the second the process is replaced
 * between two files. */
const memory = { limit: 1024, replace: 800 };
const piece = 25;

interface Row {
  judged: number;
  refused: number;
  gaveUp: number;
  failed: number;
  slowest: number;
}
type Failure = Attempt | { readonly number: number; readonly failure: string };

/** What is written after each piece: the whole state of the run. */
interface State {
  readonly first: number;
  readonly count: number;
  readonly kind: string;
  seconds: number;
  replaced: number;
  largest: number;
  readonly done: number[];
  readonly times: number[];
  readonly formats: Record<string, Row>;
  readonly damages: Record<string, number>;
  readonly failures: Failure[];
}

const count = Number(process.argv[2] ?? 20000);
const first = Number(process.argv[3] ?? 1);
const written = process.argv[4];
const kind = structure ? "structure" : "bytes";
const fresh: State = {
  first,
  count,
  kind,
  seconds: 0,
  replaced: 0,
  largest: 0,
  done: [],
  times: [],
  formats: {},
  damages: {},
  failures: [],
};
const state: State = written && existsSync(written) ? JSON.parse(readFileSync(written, "utf8")) : fresh;
if (state.first !== first || state.count !== count || state.kind !== kind)
  throw new Error(`${written} holds another run (${state.count} from ${state.first}, ${state.kind})`);

const home = mkdtempSync(join(tmpdir(), "shaftwise-run-"));
const seeds = join(home, "seeds");
writeFileSync(seeds, serialize(await seedFiles()));

/** A child that is kept from piece to piece. */
class Lane {
  #child: ChildProcess | undefined;
  #said = "";

  #start(): Promise<ChildProcess> {
    const heap = ["--max-semi-space-size=32", `--max-old-space-size=${Math.floor(0.75 * memory.limit)}`];
    const child = fork(join(import.meta.dirname, "runChild.ts"), [seeds, kind], {
      execArgv: [...process.execArgv, ...heap],
      stdio: ["ignore", "ignore", "pipe", "ipc"],
    });
    this.#said = "";
    child.stderr?.on("data", (text) => {
      this.#said = `${this.#said}${text}`.slice(-500);
    });
    return new Promise((ready, failed) => {
      child.once("message", () => ready(child));
      child.once("exit", (code) => failed(new Error(`no process could begin (${code}): ${this.#said}`)));
    });
  }

  /** Works on a piece; whatever happens, every number of it has a result or is a failure. */
  async work(
    from: number,
    to: number,
  ): Promise<{ results: Attempt[]; failures: Failure[]; largest: number }> {
    const results: Attempt[] = [];
    const failures: Failure[] = [];
    let [largest, next] = [0, from];
    while (next < to) {
      this.#child ??= await this.#start();
      const child = this.#child;
      child.removeAllListeners("message").removeAllListeners("exit");
      const ended = await new Promise<string | undefined>((resolve) => {
        let [used, since, hangs] = [processorTime(child.pid), Date.now(), false];
        const watch = setInterval(() => {
          const late = Date.now() - since > 1000 * hang.clock;
          if (!late && !(processorTime(child.pid) - used > hang.processor)) return;
          hangs = true;
          child.kill("SIGKILL");
        }, 1000);
        const stop = (why: string | undefined): void => {
          clearInterval(watch);
          resolve(why);
        };
        child.on("message", (message: RunMessage) => {
          [used, since] = [processorTime(child.pid), Date.now()];
          if (message.kind === "result") {
            results.push(message.result);
            next = message.result.number + 1;
            largest = Math.max(largest, message.megabytes);
            if (message.megabytes > memory.limit)
              failures.push({ number: message.result.number, failure: `${message.megabytes} MiB resident` });
            // A process grown large is replaced before it can be blamed on a file that is not at fault.
            if (message.megabytes > memory.replace) stop("large");
          } else if (message.kind === "end") stop(undefined);
        });
        child.on("exit", (code, signal) => {
          const how = signal ? `killed by ${signal}` : `exit ${code}`;
          stop(hangs ? "no answer: it hangs" : `${how}: ${this.#said}`);
        });
        child.send({ from: next, to });
      });
      if (ended === undefined) continue;
      this.close();
      state.replaced += 1;
      if (ended === "large") continue;
      failures.push({ number: next, failure: ended });
      next += 1;
    }
    return { results, failures, largest };
  }

  close(): void {
    this.#child?.removeAllListeners("message").removeAllListeners("exit");
    this.#child?.kill("SIGKILL");
    this.#child = undefined;
  }
}

function note({ results, failures, largest }: Awaited<ReturnType<Lane["work"]>>): void {
  for (const result of results) {
    state.formats[result.ending] ??= { judged: 0, refused: 0, gaveUp: 0, failed: 0, slowest: 0 };
    const row = state.formats[result.ending];
    row[result.outcome] += 1;
    row.slowest = Math.max(row.slowest, Math.round(result.milliseconds));
    for (const name of result.did) state.damages[name] = (state.damages[name] ?? 0) + 1;
    state.times.push(Math.round(result.milliseconds));
    if (result.outcome === "failed") failures.push(result);
  }
  for (const failure of failures) console.log(JSON.stringify(failure));
  state.failures.push(...failures);
  state.largest = Math.max(state.largest, largest);
}

const done = new Set(state.done);
const left = Array.from({ length: Math.ceil(count / piece) }, (_, k) => first + k * piece).filter(
  (n) => !done.has(n),
);
const [before, started] = [state.seconds, Date.now()];
await Promise.all(
  Array.from({ length: lanes }, async () => {
    const lane = new Lane();
    for (let from = left.shift(); from !== undefined; from = left.shift()) {
      note(await lane.work(from, Math.min(first + count, from + piece)));
      state.done.push(from);
      state.seconds = before + Math.round((Date.now() - started) / 1000);
      if (written === undefined) continue;
      writeFileSync(`${written}.part`, JSON.stringify(state));
      renameSync(`${written}.part`, written);
    }
    lane.close();
  }),
);
rmSync(home, { recursive: true, force: true });
const { times, done: _, formats, failures, damages, ...rest } = state;
times.sort((a, b) => a - b);
console.table(formats);
console.log(JSON.stringify(damages));
console.log(
  JSON.stringify({
    ...rest,
    files: times.length,
    failed: failures.length,
    median: times[times.length >> 1],
    slowest: times.at(-1),
  }),
);
process.exit(failures.length === 0 ? 0 : 1);
