import { writeSync } from "node:fs";
import { Worker } from "node:worker_threads";
import { GaveUp, type Limits } from "./limits.js";

/** Memory that both threads see: the earliest time at which a piece of work is too late (0: none), and how often we
 * have answered. */
interface Shared {
  readonly deadline: Float64Array;
  readonly answers: Int32Array;
}

/**
 * The other thread. It looks every 50 ms; when a piece of work is late it says so, and when the main thread does not
 * answer, because it is busy with just that, it makes it stop what it is doing.
 */
const thread = `
const { parentPort, workerData: { deadline, answers } } = require("node:worker_threads");
const inspector = require("node:inspector");
const { writeSync } = require("node:fs");
let asked = 0, since = 0, stopped = false;
setInterval(() => {
  const now = Date.now();
  if (asked !== Atomics.load(answers, 0)) {
    if (now - since > 300 && !stopped) {
      stopped = true;
      const session = new inspector.Session();
      session.connectToMainThread();
      session.post("Runtime.terminateExecution", () => session.disconnect());
    } else if (now - since > 10_000) {
      try { writeSync(2, "shaftwise: a file took too long and its reader could not be stopped\\n"); } catch {}
      process.kill(process.pid, "SIGKILL");
    }
    return;
  }
  stopped = false;
  if (deadline[0] === 0 || now < deadline[0]) return;
  asked += 1;
  since = now;
  parentPort.postMessage(asked);
}, 50).unref?.();
parentPort.on("message", () => {});
`;

interface Stage {
  readonly until: number;
  readonly limits: Limits;
  readonly failed: (error: GaveUp) => void;
}

let shared: Shared | undefined;
const stages = new Set<Stage>();

/**
 * Works on one file in this process within its limit of time: work that takes longer, were it in a loop without end, is
 * stopped. Memory is not limited here: see `LimitedProcess`.
 *
 * @throws GaveUp when the time is over; whatever the work does later is not heard
 */
export function withinTime<Result>(limits: Limits, work: () => Promise<Result>): Promise<Result> {
  shared ??= start();
  return new Promise<Result>((done, failed) => {
    const stage: Stage = { until: Date.now() + 1000 * limits.seconds, limits, failed };
    const end = () => {
      stages.delete(stage);
      setDeadline();
    };
    stages.add(stage);
    setDeadline();
    // In a turn of its own: what is stopped takes with it all that has called it. And behind a promise: Node.js ends a
    // process whose callback of the event loop itself is stopped (its stack of async contexts is then amiss).
    setImmediate(() => {
      void Promise.resolve().then(work).then(done, failed).finally(end);
    });
  });
}

function setDeadline(): void {
  let earliest = 0;
  for (const { until } of stages) if (earliest === 0 || until < earliest) earliest = until;
  if (shared !== undefined) shared.deadline[0] = earliest;
}

function start(): Shared {
  const made: Shared = {
    deadline: new Float64Array(new SharedArrayBuffer(8)),
    answers: new Int32Array(new SharedArrayBuffer(4)),
  };
  const worker = new Worker(thread, { eval: true, workerData: made, execArgv: [] });
  worker.on("message", (asked: number) => {
    for (const stage of [...stages]) {
      if (Date.now() < stage.until) continue;
      stages.delete(stage);
      stage.failed(GaveUp.forTime(stage.limits));
    }
    setDeadline();
    Atomics.store(made.answers, 0, asked);
  });
  // A mistake of the watchdog must not end the work.
  worker.on("error", (error) => writeSync(2, `shaftwise: ${error.message}\n`));
  worker.unref();
  return made;
}
