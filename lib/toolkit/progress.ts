import { notebookWriter } from "../chart/render/notebookWriter.js";

/** Time without a word that a reader may take for a hang, ms. */
const patience = 1000;

/** Takes a line of progress; the last one of the work with `ends`. */
export type SayProgress = (line: string, ends: boolean) => void;

/**
 * Where progress is said in a notebook: one line below the cell, written over until the work ends. The kernel sends
 * what is written at once, also while a cell computes without a pause.
 */
function lineOfCell(): SayProgress | undefined {
  if (notebookWriter() === undefined) return undefined;
  let width = 0;
  return (line, ends) => {
    process.stdout.write(`\r${line.padEnd(width)}${ends ? "\n" : ""}`);
    width = line.length;
  };
}

const since = (begun: number): string => `${((Date.now() - begun) / 1000).toFixed(0)} s`;

/**
 * Says in a notebook how far long work has come, at most once a second and never for work that is shorter; elsewhere
 * nothing.
 *
 * @param say - Where a line goes; the cell's output when absent.
 * @returns To be called after each part.
 */
export function progressOf(
  what: string,
  say: SayProgress | undefined = lineOfCell(),
): (done: number, total: number) => void {
  const begun = Date.now();
  let last = begun;
  let said = false;
  return (done, total) => {
    if (say === undefined || (done < total ? Date.now() - last < patience : !said)) return;
    last = Date.now();
    said = done < total;
    say(`${what}: ${done} of ${total}${said ? "" : `, ${since(begun)}`}`, !said);
  };
}

/** Awaits work and says, while it lasts, for how long it has been going on. */
export async function withProgress<T>(
  what: string,
  work: Promise<T>,
  say: SayProgress | undefined = lineOfCell(),
): Promise<T> {
  if (say === undefined) return work;
  const begun = Date.now();
  let said = false;
  const timer = setInterval(() => {
    said = true;
    say(`${what}: ${since(begun)} so far`, false);
  }, patience);
  try {
    return await work;
  } finally {
    clearInterval(timer);
    if (said) say(`${what}: ${since(begun)}`, true);
  }
}
