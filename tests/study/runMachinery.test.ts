import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, expect, it, vi } from "vitest";
import { readAbout } from "../../lib/study/pipeline/aboutTable.js";
import { Crew } from "../../lib/study/pipeline/crew.js";
import { otherTables } from "../../lib/study/pipeline/otherTables.js";
import { RateClock } from "../../lib/study/pipeline/rateClock.js";

const home = mkdtempSync(join(tmpdir(), "machinery-"));
afterAll(() => rmSync(home, { recursive: true, force: true }));
afterEach(() => {
  vi.useRealTimers();
});
const written = (name: string, text: string) => {
  mkdirSync(home, { recursive: true });
  writeFileSync(join(home, name), text);
  return join(home, name);
};

it("tables about recordings or motors are told from recordings by their headings", () => {
  const tables = [
    written("runs.csv", "recording,motor,batch,rig,date,kind\nr1,m1,B1,rig-1,2026-01-12,first\n"),
    written("life.csv", "motor,after [h],by [h],temperature [K]\nm1,100,120,310\n"),
    written("facts.csv", '"motor";"batch"\n"m1";"B1"\n'),
  ];
  const recordings = [
    written("a.csv", "time [s],motor,current [A]\n0,1,2\n"),
    written("b.csv", "count,temperature\n1,20\n"),
    written("c.csv", "date,hours,temperature\n1,2,20\n"),
    written("d.csv", "0.1,0.2\n"),
    written("e.csv", ""),
    join(home, "none.csv"),
  ];
  expect(otherTables([...tables, ...recordings])).toEqual(tables);
});

it("a table about recordings is held against those given before anything is judged", async () => {
  const facts = await readAbout(written("about.csv", "recording,batch\nr1,B1\nr9,B2\n"));
  expect(() => facts.check(["runs/x.csv"])).toThrow(/none of the recordings .* "r1"/);
  expect(() => facts.check(["runs/r1.csv", "runs/x.csv"])).not.toThrow();
  facts.find("runs/r1.csv", "m1", {});
  expect(facts.unused()).toEqual(["r9"]);
});

it("the first time left that is said is within a factor of two, though the first results are slow", () => {
  vi.useFakeTimers();
  // Milliseconds from result to result: a process that starts and compiles, as measured, then 65 ms.
  const pace = (k: number) => (k === 0 ? 1500 : 65 + 400 * Math.exp(-k / 40));
  const total = 2000;
  const clock = new RateClock();
  const said: number[] = [];
  for (let k = 0; k < total; k++) {
    vi.advanceTimersByTime(pace(k));
    clock.tick();
    const left = clock.left(total - k - 1);
    if (left === null || k === total - 1) continue;
    const truth = Array.from({ length: total - k - 1 }, (_, i) => pace(k + 1 + i)).reduce((a, b) => a + b, 0);
    said.push(left / (truth / 1000));
  }
  expect(said[0]).toBeGreaterThan(0.5);
  expect(said[0]).toBeLessThan(2);
  expect(Math.max(...said)).toBeLessThan(2);
});

it("a small study has one process, a long one gets the others", async () => {
  vi.useFakeTimers();
  const mostAtOnce = async (files: number, each: number) => {
    const crew = new Crew(4, files);
    let [now, most] = [0, 0];
    const work = async () => {
      most = Math.max(most, ++now);
      await new Promise((done) => setTimeout(done, each));
      now--;
    };
    const all = Promise.all(Array.from({ length: files }, () => crew.run(work)));
    await vi.advanceTimersByTimeAsync(files * each + 10);
    await all;
    return most;
  };
  expect(await mostAtOnce(100, 70)).toBe(1);
  expect(await mostAtOnce(2000, 70)).toBe(4);
  expect(await mostAtOnce(6, 20_000)).toBe(4);
});
