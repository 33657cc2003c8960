import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { progressOf, withProgress } from "../../lib/toolkit/progress.js";

beforeEach(() => {
  vi.useFakeTimers({ toFake: ["Date", "setInterval", "clearInterval"] });
});
afterEach(() => {
  vi.useRealTimers();
});

test("long work says how far it has come, short work and finished work say nothing", async () => {
  const lines: string[] = [];
  const progress = progressOf("runs analysed", (line) => lines.push(line));
  await progress(1, 10);
  vi.advanceTimersByTime(3500);
  await progress(4, 10);
  await progress(5, 10);
  vi.advanceTimersByTime(3500);
  await progress(10, 10);
  expect(lines).toEqual(["runs analysed: 4 of 10"]);
});

test("work that lasts says for how long, and stops saying so when it ends or fails", async () => {
  const lines: string[] = [];
  let finish = (_: number) => {};
  const work = new Promise<number>((done) => {
    finish = done;
  });
  const watched = withProgress("reading", work, (line) => lines.push(line));
  vi.advanceTimersByTime(7000);
  finish(5);
  expect(await watched).toBe(5);
  vi.advanceTimersByTime(7000);
  expect(lines).toEqual(["reading: 3 s so far", "reading: 6 s so far"]);
  await expect(withProgress("reading", Promise.reject(new Error("no")), () => {})).rejects.toThrow("no");
});
