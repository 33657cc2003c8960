import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, expect, test, vi } from "vitest";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { RateClock, workOf } from "../../lib/study/pipeline/rateClock.js";
import { WorkAhead } from "../../lib/study/pipeline/workAhead.js";

afterEach(() => {
  vi.useRealTimers();
});

interface Scenario {
  readonly sizes: readonly number[];
  readonly workers: number;
  /** Result from which on the last worker joins. */
  readonly joins?: number;
  readonly noise?: number;
}

/** Milliseconds of a file, as measured (45 ms for 30 kB, 0.85 s for 1.7 MB), and what a process that has just begun
 * spends on compiling. */
const pace = (bytes: number, judged: number) => 30 + bytes / 2000 + 400 * Math.exp(-judged / 40);

/** What is said to be left against what was left, whenever something is said, for processes that work side by side. */
function replay({ sizes, workers, joins = 0, noise = 0.3 }: Scenario): number[] {
  vi.useFakeTimers();
  vi.setSystemTime(0);
  const random = seededRandom(11);
  const clock = new RateClock();
  const free = Array.from({ length: workers }, () => ({ at: 1500, judged: 0 }));
  const said: { at: number; left: number }[] = [];
  const whole = sizes.reduce((sum, bytes) => sum + workOf(bytes), 0);
  let done = 0;
  let end = 0;
  sizes.forEach((bytes, k) => {
    const crew = k < joins ? free.slice(0, workers - 1) : free;
    const next = crew.reduce((a, b) => (b.at < a.at ? b : a));
    if (k === joins && joins > 0) free[workers - 1].at = next.at + 1500;
    next.at += pace(bytes, next.judged++) * Math.exp(noise * random.normal());
    end = Math.max(end, next.at);
    // Results come in order nearly enough.
    vi.setSystemTime(Math.max(Date.now(), next.at));
    clock.tick(workOf(bytes), crew.length);
    done += workOf(bytes);
    const left = clock.warm ? clock.left(whole - done) : null;
    if (left !== null && k < sizes.length - 1) said.push({ at: Date.now(), left });
  });
  return said.map(({ at, left }) => left / Math.max(0.001, (end - at) / 1000));
}

const even = (count: number) => new Array<number>(count).fill(30_000);
function mixed(count: number, bytes: number): number[] {
  const random = seededRandom(5);
  return Array.from({ length: count }, () => (random.uniform() < 0.1 ? bytes : 30_000));
}
/** Small files first, then long ones. */
const longLast = (count: number) =>
  Array.from({ length: count }, (_, k) => (k < count / 2 ? 30_000 : 1_500_000));

const scenarios: readonly [string, Scenario][] = [100, 1000, 10_000].flatMap((count) =>
  [1, 2].flatMap((workers): [string, Scenario][] => [
    [`${count} alike, ${workers} at work`, { sizes: even(count), workers }],
    [`${count}, one in ten slow, ${workers} at work`, { sizes: mixed(count, 1_500_000), workers }],
    [`${count}, the slow ones last, ${workers} at work`, { sizes: longLast(count), workers }],
    ...(workers > 1
      ? [[`${count} alike, one more joins`, { sizes: even(count), workers, joins: 20 }] as [string, Scenario]]
      : []),
  ]),
);

test.each(scenarios)("%s: the first time left that is said is within a factor of two", (name, scenario) => {
  const said = replay(scenario);
  if (said.length === 0) expect(name).toMatch(/^100[ ,]/);
  else {
    expect(said[0]).toBeGreaterThan(0.5);
    expect(said[0]).toBeLessThan(2);
  }
});

test("nothing is said of so few that the end comes before it can be known", () => {
  expect(replay({ sizes: even(100), workers: 1 })).toEqual([]);
});

test("what lies ahead is told by the sizes, less what is known from before", async () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-ahead-"));
  try {
    const paths = Array.from({ length: 1200 }, (_, k) => {
      const path = join(folder, `${String(k).padStart(4, "0")}.csv`);
      writeFileSync(path, "x".repeat(k < 600 ? 100 : 8000));
      return path;
    });
    const truth = (from: number, isKnown: (k: number) => boolean) =>
      paths.reduce((sum, _, k) => sum + (k < from || isKnown(k) ? 0 : workOf(k < 600 ? 100 : 8000)), 0);
    const near = (found: number, wanted: number) => {
      expect(found / wanted).toBeGreaterThan(0.7);
      expect(found / wanted).toBeLessThan(1.4);
    };
    const plain = await WorkAhead.of(paths, 100);
    near(
      plain.from(100),
      truth(100, () => false),
    );
    near(
      plain.from(900),
      truth(900, () => false),
    );
    for (const isKnown of [(k: number) => k >= 700, (k: number) => k % 2 === 0]) {
      const ahead = await WorkAhead.of(paths, 100, async (path) => isKnown(Number(path.slice(-8, -4))));
      near(ahead.from(100), truth(100, isKnown));
    }
    expect((await WorkAhead.of(paths, 1200)).from(1200)).toBe(0);
  } finally {
    rmSync(folder, { recursive: true });
  }
});
