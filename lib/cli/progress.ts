import type { Io } from "./io.js";

/** A line on stderr that appears once the work has taken more than a second, and goes when it ends. */
export function startProgress(io: Pick<Io, "live" | "err">): { show(text: string): void; stop(): void } {
  const started = Date.now();
  let drawn = false;
  return {
    show(text) {
      if (Date.now() - started < 1000) return;
      if (io.live) io.err(`\r\x1b[K${text}`);
      else if (!drawn) io.err(`${text}\n`);
      drawn = true;
    },
    stop() {
      if (drawn && io.live) io.err("\r\x1b[K");
    },
  };
}
