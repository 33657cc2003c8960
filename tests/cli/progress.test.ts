import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { progressOf, startProgress } from "../../lib/cli/progress.js";

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

function lines(live: boolean): {
  readonly io: { live: boolean; err(text: string): void };
  readonly seen: string[];
} {
  const seen: string[] = [];
  return { io: { live, err: (text) => void seen.push(text.replace("\r\u001b[K", "")) }, seen };
}

test("nothing is written within the first second, nor ever where no terminal is", () => {
  const quick = lines(true);
  const progress = startProgress(quick.io);
  vi.advanceTimersByTime(900);
  progress.show("watching trials", 1, 10);
  progress.stop();
  const piped = lines(false);
  const other = startProgress(piped.io);
  vi.advanceTimersByTime(60_000);
  other.show("watching trials", 5, 10);
  other.stop();
  expect([quick.seen, piped.seen]).toEqual([[], []]);
});

test("the line goes on while files are read, says what is left by what is done, and goes", () => {
  const { io, seen } = lines(true);
  const progress = startProgress(io);
  vi.advanceTimersByTime(3200);
  expect(seen.at(-1)).toBe("reading, 3 s so far");
  progress.show("watching trials", 0, 200);
  vi.advanceTimersByTime(2000);
  // 20 of 200 took 2 s: 180 more take 18 s.
  progress.show("watching trials", 20, 200);
  expect(seen.at(-1)).toBe("watching trials: 20 of 200, about 18 s left");
  vi.advanceTimersByTime(6000);
  progress.show("watching trials", 100, 200);
  expect(seen.at(-1)).toBe("watching trials: 100 of 200, about 8 s left");
  progress.stop();
  expect(seen.at(-1)).toBe("");
  const count = seen.length;
  vi.advanceTimersByTime(5000);
  expect(seen).toHaveLength(count);
});

test("files are counted where there are several, the parts of the work on the one where there is one", () => {
  const { io, seen } = lines(true);
  const several = startProgress(io);
  const told = progressOf(several, "judging files");
  vi.advanceTimersByTime(4200);
  told.progress(4, 12);
  told.told("watching trials", 3, 9);
  expect(seen.at(-1)).toBe("judging files: 4 of 12, about 9 s left");
  several.stop();
});
