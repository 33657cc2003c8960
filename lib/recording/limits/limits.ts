import { totalmem } from "node:os";

/** What one file may cost before it is given up. */
export interface Limits {
  readonly seconds: number;
  /** Memory of the process that works on it, bytes. */
  readonly bytes: number;
}

const gibibyte = 2 ** 30;

/** Memory of this machine, or of the container it is. */
function memory(): number {
  const given = process.constrainedMemory?.() ?? 0;
  return given > 0 && given < totalmem() ? given : totalmem();
}

/** What each of so many processes may have: 4 GiB where there is enough, and never less than 1 GiB, which a long log
 * may need. */
export function shareOfMemory(processes: number): number {
  return Math.max(gibibyte, Math.min(4 * gibibyte, (0.8 * memory()) / processes));
}

/** Ten minutes, and 4 GiB or six tenths of what this machine (or its container) has, whichever is less. */
export function usualLimits(): Limits {
  return { seconds: 600, bytes: Math.min(4 * gibibyte, 0.6 * memory()) };
}

/** Why work on a file was given up. */
export type GaveUpFor = "time" | "memory" | "ended";

/** Thrown when work on a file was ended from outside: for its time, for its memory, or because its process ended. */
export class GaveUp extends Error {
  override readonly name = "GaveUp";
  constructor(
    readonly why: GaveUpFor,
    message: string,
  ) {
    super(message);
  }

  static forTime({ seconds }: Limits): GaveUp {
    return new GaveUp("time", `given up after ${seconds} s: the time limit of one recording`);
  }

  static forMemory({ bytes }: Limits): GaveUp {
    return new GaveUp(
      "memory",
      `given up: it needs more than ${inWords(bytes)} of memory, the limit of one recording`,
    );
  }
}

function inWords(bytes: number): string {
  return bytes < gibibyte
    ? `${Math.round(bytes / 2 ** 20)} MiB`
    : `${Number((bytes / gibibyte).toFixed(1))} GiB`;
}
