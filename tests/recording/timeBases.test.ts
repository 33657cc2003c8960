import { describe, expect, test } from "vitest";
import { mayBeTime, onOneTime, resampled, xOfPairs } from "../../lib/recording/columns/timeBases.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import { tableOf } from "../answers/hands.js";

// Signals that were each sampled by a clock of their own, on one clock: what straight lines and held values make of
// them.

const of = (n: number, value: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => value(i));
const hole = Number.NaN;

describe("values on another clock", () => {
  test("lie on the straight line between samples, and nowhere before the first or after the last", () => {
    const found = resampled(
      Float64Array.of(1, 2, 4),
      Float64Array.of(10, 20, 0),
      Float64Array.of(0, 1, 1.5, 2, 3, 4, 5),
    );
    expect([...found]).toEqual([hole, 10, 15, 20, 10, 0, hole]);
  });
  test("are held where the signal stays constant for long, or is text", () => {
    const from = of(12, (i) => i);
    const steps = of(12, (i) => (i < 6 ? 1 : 5));
    expect([...resampled(from, steps, Float64Array.of(5, 5.5, 6))]).toEqual([1, 1, 5]);
    const slope = of(12, (i) => i);
    expect([...resampled(from, slope, Float64Array.of(5.5))]).toEqual([5.5]);
    expect([...resampled(from, slope, Float64Array.of(5.5), true)]).toEqual([5]);
  });
  test("leave out rows without time or value, and rows that step back a little", () => {
    const from = Float64Array.of(0, hole, 2, 3, 1.9, 4);
    const values = Float64Array.of(0, 99, 20, hole, 99, 40);
    expect([...resampled(from, values, Float64Array.of(1, 2.5, 3))]).toEqual([10, 25, 30]);
    expect([...resampled(Float64Array.of(hole), Float64Array.of(1), Float64Array.of(0))]).toEqual([hole]);
  });
  test("of two rows of one moment the second counts from there on", () => {
    expect([
      ...resampled(Float64Array.of(0, 1, 1, 2), Float64Array.of(0, 1, 5, 6), Float64Array.of(0.5, 1, 1.5)),
    ]).toEqual([0.5, 5, 5.5]);
  });
  test("of a clock that begins anew go by its stretches", () => {
    const from = of(40, (i) => i % 20);
    const values = of(40, (i) => (i < 20 ? i : 100 + i));
    const to = of(80, (i) => (i % 40) / 2);
    const found = resampled(from, values, to);
    expect(found[1]).toBe(0.5);
    expect(found[41]).toBe(120.5);
    expect(Number.isNaN(found[39])).toBe(true);
    const same = resampled(from, values, from);
    expect([...same]).toEqual([...values]);
    expect(same).not.toBe(values);
  });
});

describe("columns that may be a time", () => {
  const is = (name: string, more = {}): boolean => mayBeTime({ name, kind: "number", samples: [], ...more });
  test("by their name in many languages, their unit or their stamps", () => {
    for (const name of ["t", "time_ms", "Zeit", "время", "时间", "x [s]", "y (ms)", "timestamp", "simTime"])
      expect(is(name), name).toBe(true);
    for (const name of ["speed", "time [rpm]", "torque", "Zeit [A]", "x"]) expect(is(name), name).toBe(false);
    expect(is("x", { kind: "stamp" })).toBe(true);
    expect(is("time", { kind: "text" })).toBe(false);
    expect(is("x", { unit: "us" })).toBe(true);
    expect(is("time", { unit: "rpm" })).toBe(false);
    expect(is("x", { label: "time" })).toBe(true);
  });
  test("or as the X of two pairs or more", () => {
    expect([...xOfPairs(["Speed X", "Speed Y", "Current X", "Current Y"])]).toEqual([
      [0, "Speed"],
      [2, "Current"],
    ]);
    expect([...xOfPairs(["Speed X (s)", "Speed Y (rpm)", "Iq[X]", "Iq[Y]"]).keys()]).toEqual([0, 2]);
    // One pair may be places in a plane, and so may pairs among many others.
    expect(xOfPairs(["Speed X", "Speed Y"]).size).toBe(0);
    expect(xOfPairs(["a X", "a Y", "b X", "b Y", "c", "d"]).size).toBe(0);
    expect(xOfPairs(["a X", "b Y", "c X", "d Y"]).size).toBe(0);
    expect(xOfPairs(["X", "Y", "X", "Y"]).size).toBe(0);
    const long = "a".repeat(250);
    expect(xOfPairs([`${long} X`, `${long} Y`, "b X", "b Y"]).size).toBe(0);
  });
});

describe("a table with more than one time", () => {
  const [fast, slow] = [of(21, (i) => i / 10), of(21, (i) => (i < 11 ? i / 5 : hole))];
  const speed = fast.map((t) => 10 * t);
  const current = slow.map((t) => 3 * t);
  const names = ["time [s]", "speed", "t2 [s]", "current"];
  const table = tableOf(names, [fast, speed, slow, current]);
  const read = async (given: SourceTable, at: readonly number[]) =>
    (await onOneTime(given).read(at)).columns.map((c) => [...c]);

  test("is brought onto the finest of them, and that is said", async () => {
    const [time, v, other, i] = await read(table, [0, 1, 2, 3]);
    expect(time).toEqual([...fast]);
    expect(v).toEqual([...speed]);
    expect(other).toEqual([...fast]);
    for (const [k, value] of i.entries()) expect(value).toBeCloseTo(3 * fast[k], 9);
    const { findings, owned } = await onOneTime(table).read([3]);
    expect(findings).toHaveLength(1);
    expect(owned).toBe(false);
  });
  test("also where the finest comes second", async () => {
    const turned = tableOf(["time [s]", "current", "t2 [s]", "speed"], [slow, current, fast, speed]);
    const [time, i, , v] = await read(turned, [0, 1, 2, 3]);
    expect(time).toEqual([...fast]);
    expect(v).toEqual([...speed]);
    expect(i[1]).toBeCloseTo(0.3, 9);
  });
  test("whose stamps begin at other moments is shifted by what lies between", async () => {
    const origins = new Map([
      [0, "2024-01-01T00:00:00Z"],
      [2, "2024-01-01T00:00:01Z"],
    ]);
    const stamped = {
      ...table,
      read: async (at: readonly number[]) => ({ ...(await table.read(at)), origins }),
    };
    const { columns, origins: told } = await onOneTime(stamped).read([3]);
    expect(Number.isNaN(columns[0][9])).toBe(true);
    expect(columns[0][10]).toBeCloseTo(0, 9);
    expect(columns[0][15]).toBeCloseTo(1.5, 9);
    expect(told.get(2)).toBe("2024-01-01T00:00:00Z");
  });
  test("with one time, the same time twice, or a time constant, is left as it is", async () => {
    const one = tableOf(["time [s]", "speed", "current"], [fast, speed, current]);
    expect(onOneTime(one)).toBe(one);
    const twice = tableOf(names, [fast, speed, fast.slice(), current]);
    expect((await read(twice, [3]))[0]).toEqual([...current]);
    const constant = tableOf(names, [fast, speed, of(21, () => 5), current]);
    expect((await read(constant, [3]))[0]).toEqual([...current]);
    expect((await onOneTime(constant).read([3])).findings).toEqual([]);
  });
  test("arranged in another way is left as it is", () => {
    for (const order of [
      ["time [s]", "t2 [s]", "speed", "current"],
      ["a", "speed", "time [s]", "current", "t2 [s]", "x"],
      ["time [s]", "speed", "t2 [s]"],
    ]) {
      const other = tableOf(
        order,
        order.map(() => fast),
      );
      expect(onOneTime(other)).toBe(other);
    }
    const counted = tableOf(["n", ...names], [of(21, (i) => i), fast, speed, slow, current]);
    expect(onOneTime(counted)).not.toBe(counted);
  });
});
