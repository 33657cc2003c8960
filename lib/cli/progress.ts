import type { Io } from "./io.js";

/** A line on a live terminal that appears once the work has taken more than a second, and goes when it ends; elsewhere it would stay as the last word. */
export function startProgress(io: Pick<Io, "live" | "err">): { show(text: string): void; stop(): void } {
  const started = Date.now();
  let drawn = false;
  return {
    show(text) {
      if (!io.live || Date.now() - started < 1000) return;
      io.err(`\r\x1b[K${text}`);
      drawn = true;
    },
    stop() {
      if (drawn) io.err("\r\x1b[K");
    },
  };
}
