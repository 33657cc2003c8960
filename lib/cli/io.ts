/** Where a command writes, and what the terminal can show. Passed in, so that tests can read it back. */
export interface Io {
  readonly out: (text: string) => void;
  readonly err: (text: string) => void;
  /** Colour may be used on `out`. */
  readonly color: boolean;
  /** Width of the terminal in characters. */
  readonly columns: number;
  /** Progress may be drawn on `err` (it is a terminal). */
  readonly live: boolean;
}

/** A command: reads its arguments, writes to `io`, returns the exit status. */
export type Command = (args: readonly string[], io: Io) => Promise<number>;

/** Wrong usage: the message is printed with a pointer to the help, exit status 2. */
export class UsageError extends Error {
  override readonly name = "UsageError";
}

/** Exit statuses of every command. */
export const exitStatus = { done: 0, failed: 1, usage: 2, partly: 3 } as const;

/** The Io of this process. */
export function processIo(): Io {
  const plain = "NO_COLOR" in process.env || process.env.TERM === "dumb";
  return {
    out: (text) => void process.stdout.write(text),
    err: (text) => void process.stderr.write(text),
    color: Boolean(process.stdout.isTTY) && !plain,
    columns: process.stdout.columns ?? 80,
    live: Boolean(process.stderr.isTTY),
  };
}
