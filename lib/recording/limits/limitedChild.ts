import { writeSync } from "node:fs";
import { Worker } from "node:worker_threads";
import { type ChildMessage, columnPipe, overMemory } from "./childProtocol.js";
import { type TakenApart, takeApart } from "./columnTransfer.js";

/**
 * Entry of a process that works on one file after another under limits: `<module> <bytes>`. Tasks come as messages, the
 * module's default export works on them, results go back as messages and their columns as plain bytes over a pipe.
 */

/** Looks at the memory while the main thread is busy, and ends a process whose parent is gone. */
const watch = `
const { workerData: { bytes, parent, words } } = require("node:worker_threads");
const { writeSync } = require("node:fs");
setInterval(() => {
  const over = process.memoryUsage.rss() > bytes;
  if (over) try { writeSync(2, words); } catch {}
  if (over || process.ppid !== parent) process.kill(process.pid, "SIGKILL");
}, 20);
`;

const [module, bytes] = process.argv.slice(2);
const parent = process.ppid;
new Worker(watch, {
  eval: true,
  workerData: { bytes: Number(bytes), parent, words: `${overMemory}\n` },
  execArgv: [],
}).unref();
process.on("disconnect", () => process.exit());
// Ctrl-C in a terminal reaches all; it is for the one that started us to say when we end.
process.on("SIGINT", () => {});

const send = (message: ChildMessage): void => void process.send?.(message);

function sendColumns({ columns }: TakenApart): void {
  for (const column of columns) {
    const view = new Uint8Array(column.buffer, column.byteOffset, column.byteLength);
    for (let sent = 0; sent < view.length; ) {
      try {
        sent += writeSync(columnPipe, view, sent, Math.min(view.length - sent, 1 << 20));
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== "EAGAIN") throw error;
      }
    }
  }
}

const { default: work } = (await import(module)) as { default: (task: unknown) => Promise<unknown> };
process.on("message", async (task: unknown) => {
  try {
    const apart = takeApart(await work(task));
    send({ kind: "result", rest: apart.rest, columns: apart.columns.map(({ length }) => length) });
    sendColumns(apart);
  } catch (error) {
    send({ kind: "error", message: error instanceof Error ? error.message : String(error) });
  }
});
send({ kind: "ready" });
