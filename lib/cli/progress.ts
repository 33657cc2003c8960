import type { AnalyseFilesOptions } from "../analysis/analyseFiles.js";
import type { Io } from "./io.js";

/** The line that tells how far a command has come. */
export interface Progress {
  /** What is being done, and how far it is: so many of so many parts, all of about one size. */
  show(text: string, done?: number, total?: number): void;
  stop(): void;
}

/** Before this much of a stage is done, or of a second, nothing is said of what is left: it would be a guess. */
const least = { share: 0.03, milliseconds: 400 };
/** How long work must have taken for the line to appear, and between two drawings of it, ms. */
const [patience, pause] = [1000, 200];

/**
 * A line on a live terminal that appears once the work has taken more than a second, and goes when it ends; elsewhere
 * it would stay as the last word. It says what is being done, how many parts of it are done and, by the time that those
 * took, about how long the others will take; where that cannot be told, how long it has taken so far.
 *
 * @param first what the command begins with
 */
export function startProgress(io: Pick<Io, "live" | "err">, first = "reading"): Progress {
  const started = Date.now();
  let stage = { text: first, done: 0, total: 0, since: started };
  let drawnAt = 0;
  const draw = (): void => {
    const now = Date.now();
    if (now - started < patience || now - drawnAt < pause) return;
    drawnAt = now;
    io.err(`\r\x1b[K${lineOf(stage, now)}`);
  };
  // While files are read elsewhere the line goes on by itself; work in this thread draws it as it goes.
  const timer = io.live ? setInterval(draw, 500) : undefined;
  timer?.unref();
  return {
    show(text, done = 0, total = 0) {
      if (!io.live) return;
      // A stage that is first heard of with parts of it done has gone on from the start.
      const since = text === stage.text ? stage.since : done > 0 ? started : Date.now();
      stage = { text, done, total, since };
      draw();
    },
    stop() {
      clearInterval(timer);
      if (drawnAt > 0) io.err("\r\x1b[K");
    },
  };
}

/** The callbacks of `analyseFiles` for a line: by files where there are several, else by the parts of the work on the
 * one. */
export function progressOf(
  progress: Progress,
  text: string,
): Required<Pick<AnalyseFilesOptions, "progress" | "told">> {
  let several = false;
  return {
    progress: (done, total) => {
      several = total > 1;
      if (several) progress.show(text, done, total);
    },
    told: (stage, done, total) => {
      if (!several) progress.show(stage, done, total);
    },
  };
}

/** The words of the line. */
function lineOf(
  { text, done, total, since }: { text: string; done: number; total: number; since: number },
  now: number,
): string {
  const spent = now - since;
  const counted = total > 1 ? `${text}: ${done} of ${total}` : text;
  const known = done > 0 && done / total >= least.share && spent >= least.milliseconds;
  if (!known) return spent < 1000 ? counted : `${counted}, ${timeText(spent)} so far`;
  return `${counted}, about ${timeText((spent / done) * (total - done))} left`;
}

function timeText(milliseconds: number): string {
  const seconds = Math.ceil(milliseconds / 1000);
  return seconds < 100 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
}
