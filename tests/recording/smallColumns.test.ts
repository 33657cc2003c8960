import { describe, expect, test } from "vitest";
import { lineThrough } from "../../lib/recording/columns/relations.js";
import { rowsInOrder } from "../../lib/recording/columns/rowsInOrder.js";
import { oneSeconds } from "../../lib/recording/columns/splitSeconds.js";
import { crossedInMotion, wrapOf } from "../../lib/recording/columns/wrapOf.js";
import type { SourceColumn, SourceTable } from "../../lib/recording/formats/sourceTable.js";

const ramp = (count: number, step: number, from = 0): Float64Array =>
  Float64Array.from({ length: count }, (_, i) => from + i * step);

describe("counters and angles that wrap", () => {
  const wrapped = (values: Float64Array, size: number, low = 0): Float64Array =>
    values.map((v) => low + ((((v - low) % size) + size) % size));

  test.each([
    [65536, 0],
    [4096, 0],
    [360, 0],
    [360, -180],
    [2 * Math.PI, -Math.PI],
  ])("a wrap of %d from %d on is found, either way, and how often", (size, low) => {
    for (const way of [1, -1]) {
      const found = wrapOf(wrapped(ramp(800, (way * size) / 100, 0.31 * size), size, low), [
        1,
        10,
        size,
        8 * size,
      ]);
      expect(found?.size).toBe(size);
      expect([7, 8]).toContain(found?.times);
      // One hundredth of a wrap from row to row is a fiftieth of half a wrap.
      expect(found?.closest).toBeCloseTo(0.02, 6);
    }
  });

  test("what does not come near both ends, or never jumps, wraps at no size", () => {
    expect(wrapOf(ramp(300, 1), [360])).toBeUndefined();
    expect(wrapOf(Float64Array.of(0, 100, 0, 100, 0), [360])).toBeUndefined();
    expect(wrapOf(Float64Array.of(0, 170, 0, 170, 0), [360])).toBeUndefined();
    expect(wrapOf(ramp(30, 1, 500), [360])).toBeUndefined();
    expect(wrapOf(Float64Array.of(0, Number.NaN, 359, 1, 358), [360])?.times).toBe(3);
  });

  test("a command wraps where it moves through the end of its range, not where it steps across it", () => {
    expect(crossedInMotion(wrapped(ramp(400, 3), 360), 360)).toBe(true);
    expect(crossedInMotion(wrapped(ramp(400, -3, 900), 360), 360)).toBe(true);
    const stepped = Float64Array.from({ length: 400 }, (_, i) => (Math.floor(i / 100) % 2 === 0 ? 0 : 350));
    expect(crossedInMotion(stepped, 360)).toBe(false);
    expect(crossedInMotion(ramp(50, 1), 360)).toBe(false);
  });
});

describe("rows in another order than they were measured", () => {
  const order = (time: readonly number[]) => rowsInOrder(Float64Array.from(time));
  test("the order found puts the stamps in order, and does so for any unit and origin of the clock", () => {
    const run = Array.from({ length: 200 }, (_, i) => i / 1000);
    for (const lie of [
      [...run].reverse(),
      [...run.slice(70), ...run.slice(0, 70)],
      run.map((_, i) => run[(i * 67) % 200]),
      run.map((v, i) => (i % 50 === 10 ? run[i + 1] : i % 50 === 11 ? run[i - 1] : v)),
    ]) {
      const found = order(lie);
      expect([...(found?.order ?? [])].map((row) => lie[row])).toEqual(run);
      expect(found?.back).toBe(lie.filter((v, i) => i > 0 && v < lie[i - 1]).length);
      for (const [scale, from] of [
        [1000, 0],
        [1e6, 5e9],
        [1, -3],
      ])
        expect(order(lie.map((v) => from + scale * v))?.how).toBe(found?.how);
    }
  });

  test("stamps that stand still in plenty are several runs", () => {
    const run = Array.from({ length: 60 }, (_, i) => i % 20);
    expect(order(run.map((_, i) => run[(i * 37) % 60]))).toBeUndefined();
    expect(order([3, 2, 1])).toBeUndefined();
  });
});

describe("a moment in two columns", () => {
  const column = (name: string): SourceColumn => ({ name, kind: "number", samples: [] });
  const read = async (names: readonly [string, string], s: number[], rest: number[]): Promise<number[]> => {
    const table = {
      path: "a.csv",
      format: "CSV",
      columns: [...names, "v"].map(column),
      findings: [],
      read: async (indices: readonly number[]) => ({
        columns: indices.map((k) => Float64Array.from([s, rest, s.map(() => 1)][k])),
        words: new Map(),
        origins: new Map(),
        findings: [],
      }),
    } as unknown as SourceTable;
    return [...(await oneSeconds(table).read([0, 2])).columns[0]];
  };

  test.each([
    ["stamp.sec", "stamp.nanosec", 1e9],
    ["sec", "usec", 1e6],
    ["seconds", "ms", 1e3],
  ])("%s and %s are one time", async (whole, part, size) => {
    const times = Array.from({ length: 30 }, (_, i) => 100.75 + i / 8);
    const s = times.map(Math.floor);
    const rest = times.map((t) => (t - Math.floor(t)) * size);
    expect((await read([whole, part], s, rest)).map((v) => Math.round(1e6 * v) / 1e6)).toEqual(times);
    // Seconds with a fraction have it already; a part that is no rest of a second is left alone.
    expect(await read([whole, part], times, rest)).toEqual(times);
    expect(
      await read(
        [whole, part],
        s,
        rest.map((v) => v + size),
      ),
    ).toEqual(s);
    expect(
      await read(
        [whole, part],
        s,
        rest.map((v, i) => (i % 2 ? v : -v - 1)),
      ),
    ).toEqual(s);
  });
});

describe("a line through zero", () => {
  test("factor, share explained, and the same for any scale of either side", () => {
    const x = ramp(200, 0.1, -7);
    const y = x.map((v, i) => 9.5 * v + Math.sin(i * 1.7));
    const found = lineThrough(x, y);
    const [sxx, sxy] = [x.reduce((s, v) => s + v * v, 0), x.reduce((s, v, i) => s + v * y[i], 0)];
    expect(found?.factor).toBeCloseTo(sxy / sxx, 3);
    for (const [a, b] of [
      [3, 1],
      [-2, 5],
      [1, 1e-4],
    ]) {
      const scaled = lineThrough(
        x.map((v) => a * v),
        y.map((v) => b * v),
      );
      expect(scaled?.factor).toBeCloseTo((b / a) * (found?.factor ?? 0), 6);
      expect(scaled?.explained).toBeCloseTo(found?.explained ?? 0, 9);
    }
    // The centred share is the square of Pearson's coefficient.
    const mean = (v: Float64Array): number => v.reduce((s, w) => s + w, 0) / v.length;
    const [mx, my] = [mean(x), mean(y)];
    const c = (f: (i: number) => number): number => x.reduce((s, _, i) => s + f(i), 0);
    const r =
      c((i) => (x[i] - mx) * (y[i] - my)) /
      Math.sqrt(c((i) => (x[i] - mx) ** 2) * c((i) => (y[i] - my) ** 2));
    expect(found?.explainedCentred).toBeCloseTo(r * r, 3);
    expect(lineThrough(x.slice(0, 5), y.slice(0, 5))).toBeUndefined();
  });
});
