import { notebookWriter } from "../chart/render/notebookWriter.js";

/** Time without a word that a reader may take for a hang, ms. */
const patience = 3000;

/**
 * Says in a notebook how far long work has come, at most once in three seconds and never for short work; elsewhere nothing.
 *
 * @param say - Where a line goes; the cell's output when absent.
 * @returns To be called after each part, and awaited: it lets the line reach the reader.
 */
export function progressOf(
  what: string,
  say: ((line: string) => void) | undefined = notebookWriter() && console.log,
): (done: number, total: number) => Promise<void> {
  let last = Date.now();
  return async (done, total) => {
    if (say === undefined || done >= total || Date.now() - last < patience) return;
    last = Date.now();
    say(`${what}: ${done} of ${total}`);
    await new Promise((next) => setImmediate(next));
  };
}

/** Awaits work and says, while it lasts, for how long it has been going on. */
export async function withProgress<T>(
  what: string,
  work: Promise<T>,
  say: ((line: string) => void) | undefined = notebookWriter() && console.log,
): Promise<T> {
  if (say === undefined) return work;
  const begun = Date.now();
  const timer = setInterval(
    () => say(`${what}: ${Math.round((Date.now() - begun) / 1000)} s so far`),
    patience,
  );
  try {
    return await work;
  } finally {
    clearInterval(timer);
  }
}
