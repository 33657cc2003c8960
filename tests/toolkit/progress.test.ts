import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { progressOf, withProgress } from "../../lib/toolkit/progress.js";

beforeEach(() => {
  vi.useFakeTimers({ toFake: ["Date", "setInterval", "clearInterval"] });
});
afterEach(() => {
  vi.useRealTimers();
});

const ended: boolean[] = [];
const into = (lines: string[]) => (line: string, ends: boolean) => {
  lines.push(line);
  ended.push(ends);
};

test("work of more than a second says how far it has come and ends its line; short and finished work say nothing", () => {
  const lines: string[] = [];
  const progress = progressOf("runs judged", into(lines));
  progress(1, 10);
  vi.advanceTimersByTime(1200);
  progress(4, 10);
  progress(5, 10);
  vi.advanceTimersByTime(1200);
  progress(10, 10);
  expect(lines).toEqual(["runs judged: 4 of 10", "runs judged: 10 of 10, 2 s"]);
  expect(ended.splice(0)).toEqual([false, true]);
  const short = progressOf("runs judged", into(lines));
  short(1, 2);
  vi.advanceTimersByTime(900);
  short(2, 2);
  expect(lines).toHaveLength(2);
});

test("work that lasts says for how long, and stops saying so when it ends or fails", async () => {
  const lines: string[] = [];
  let finish = (_: number) => {};
  const work = new Promise<number>((done) => {
    finish = done;
  });
  const watched = withProgress("reading", work, into(lines));
  vi.advanceTimersByTime(2300);
  finish(5);
  expect(await watched).toBe(5);
  vi.advanceTimersByTime(7000);
  expect(lines).toEqual(["reading: 1 s so far", "reading: 2 s so far", "reading: 2 s"]);
  await expect(withProgress("reading", Promise.reject(new Error("no")), into(lines))).rejects.toThrow("no");
  expect(lines).toHaveLength(3);
});
