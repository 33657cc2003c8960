import { describe, expect, test } from "vitest";
import { cleanTime } from "../../lib/recording/columns/cleanTime.js";
import type { Finding } from "../../lib/recording/types.js";

// Clocks with something wrong in known rows: which rows are left out, and what is said of them.

const clock = (n: number, change: Readonly<Record<number, number>> = {}, step = 0.25): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => change[i] ?? i * step);
function cleaned(time: Float64Array, more: Partial<Parameters<typeof cleanTime>[2]> = {}) {
  const findings: Finding[] = [];
  const { time: kept, keep } = cleanTime(time, findings, { file: "log.csv", ...more });
  const rows = [...keep(Float64Array.from(time, (_, i) => i))];
  return {
    kept,
    rows,
    findings,
    codes: findings.map(({ code, severity }) => `${severity} ${code}`),
    first: findings[0],
  };
}
const without = (n: number, ...gone: readonly number[]): number[] =>
  Array.from({ length: n }, (_, i) => i).filter((i) => !gone.includes(i));

describe("rows that are left out", () => {
  test("none of a clock that runs on, whose array is kept", () => {
    const time = clock(50);
    const { kept, codes, rows } = cleaned(time);
    expect(kept).toBe(time);
    expect(codes).toEqual([]);
    expect(rows).toHaveLength(50);
  });

  test("rows without a time, by their lines where these are known", () => {
    const holes = clock(50, { 10: Number.NaN, 11: Number.NaN });
    const { rows, codes, first } = cleaned(holes, { firstLine: 5 });
    expect(rows).toEqual(without(50, 10, 11));
    expect(codes).toEqual(["warning time-missing", "warning time-gaps"]);
    expect(first).toMatchObject({ value: 2, row: 15, file: "log.csv", meaning: "these rows are left out" });
    expect(first.message).toBe("2 of 50 rows have no time (about lines 15, 16)");
    const one = cleaned(clock(50, { 10: Number.NaN })).first;
    expect(one.message).toBe("1 of 50 rows has no time (rows 11)");
    expect(one.row).toBe(11);
  });

  test("rows that step back, and not the rows behind a stamp that leaps ahead", () => {
    const back = cleaned(clock(200, { 30: 6 }));
    expect(back.rows).toEqual(without(200, 30));
    expect(back.first).toMatchObject({ code: "time-steps-back", severity: "warning", value: 1, row: 31 });
    const ahead = cleaned(clock(200, { 30: 900 }));
    expect(ahead.rows).toEqual(without(200, 30));
    const at = cleaned(clock(200, { 0: 900 }));
    expect(at.rows).toEqual(without(200, 0));
    const two = cleaned(clock(200, { 30: 900, 31: 901 }));
    expect(two.rows).toEqual(without(200, 30, 31));
    const near = cleaned(clock(200, { 30: 20, 31: 20.25, 32: 20.5 }));
    expect(near.rows).toEqual(without(200, 30, 31, 32));
    expect(near.first.message).toContain("(rows 31, 32, 33)");
    expect(cleaned(clock(200, { 29: Number.NaN, 30: 900 })).rows).toEqual(without(200, 29, 30));
    // The last stamp alone tells of no leap before it.
    expect(cleaned(clock(40, { 39: 3 })).rows).toEqual(without(40, 39));
    // More than one row in a hundred is no slip of a clock.
    expect(cleaned(clock(200, { 30: 6, 60: 6, 90: 6 })).codes[0]).toBe("error time-steps-back");
    expect(cleaned(clock(200, { 30: 6, 60: 6 })).codes[0]).toBe("warning time-steps-back");
  });

  test("a clock that begins anew is no spike: what follows is left out, and said", () => {
    const anew = Float64Array.from({ length: 40 }, (_, i) => (i < 30 ? i : i - 30));
    const { rows, first } = cleaned(anew);
    expect(rows).toEqual(without(40, ...Array.from({ length: 10 }, (_, i) => 30 + i)));
    expect(first).toMatchObject({ code: "time-steps-back", severity: "error", value: 10 });
    expect(first.message).toContain("(rows 31, 32, 33, 34, 35, 36, 37, 38, 39, 40)");
    const more = Float64Array.from({ length: 42 }, (_, i) => (i < 30 ? i : i - 30));
    expect(cleaned(more).first.message).toContain(", 40, and 2 more)");
  });

  test("stamps that were found far away, by the rows that they are of", () => {
    const gone = clock(50, { 10: Number.NaN, 20: Number.NaN });
    const strays = new Map([
      [10, 9e9],
      [20, 8e9],
    ]);
    const { codes, first, rows } = cleaned(gone, { strays });
    expect(codes[0]).toBe("warning time-stray");
    expect(codes).not.toContain("warning time-missing");
    expect(first.message).toBe(
      "the time of 2 of 50 rows, first 9000000000 s, is far away from that of all others (rows 11, 21)",
    );
    expect(first.meaning).toBe("these rows are left out");
    expect(rows).toEqual(without(50, 10, 20));
    const part = cleaned(clock(10, { 3: Number.NaN }), {
      strays: new Map([[13, 7]]),
      rows: Int32Array.from({ length: 10 }, (_, i) => i + 10),
    });
    expect(part.first).toMatchObject({ code: "time-stray", row: 14, meaning: "this row is left out" });
    expect(part.first.message).toContain("rows, 7 s,");
    expect(cleaned(clock(10, { 3: Number.NaN }), { strays: new Map([[4, 7]]) }).codes[0]).toBe(
      "warning time-missing",
    );
  });
});

describe("how it was sampled", () => {
  const said = (time: Float64Array, more: Parameters<typeof cleaned>[1] = {}) => cleaned(time, more);

  test("stamps that repeat: a note, or more than one in twenty a warning", () => {
    const repeats = (every: number) =>
      Float64Array.from({ length: 100 }, (_, i) => (i % every === 1 ? i - 1 : i));
    expect(said(repeats(50)).codes).toContain("note time-repeats");
    expect(said(repeats(50)).findings[0].value).toBe(2);
    expect(said(repeats(10)).codes).toContain("warning time-repeats");
    expect(said(repeats(50)).kept).toHaveLength(100);
  });

  test("a gap, with its length, its place and the usual step", () => {
    const gap = Float64Array.from(
      { length: 200 },
      (_, i) => 0.01 * (i + (i >= 150 ? 40 : 0) + (i >= 50 ? 9 : 0)),
    );
    const { codes, findings } = said(gap, { firstLine: 3 });
    expect(codes).toEqual(["note time-gaps"]);
    expect(findings[0].message).toBe(
      "2 gaps in the sampling; the longest is 0.41 s at 1.99 s, where samples come every 0.01 s",
    );
    expect(findings[0]).toMatchObject({ unit: "s", row: 153 });
    expect(findings[0].value).toBeCloseTo(0.41, 9);
    expect(said(gap).findings[0].row).toBe(151);
    const long = Float64Array.from({ length: 200 }, (_, i) => 0.01 * (i + (i >= 50 ? 101 : 0)));
    expect(said(long).codes).toEqual(["warning time-gaps"]);
    expect(said(long).findings[0].message).toMatch(/^1 gap in/);
    const often = Float64Array.from({ length: 200 }, (_, i) => i + 3 * Math.floor(i / 60));
    expect(said(often).codes).toEqual(["warning time-gaps"]);
    // Twice the step, or a little more, is no gap but uneven.
    const little = Float64Array.from({ length: 200 }, (_, i) => i + (i >= 50 ? 1.4 : 0));
    expect(said(little).codes).toEqual([]);
  });

  test("uneven sampling: more than one interval in twenty a tenth off the usual", () => {
    const uneven = (every: number, by = 0.3) =>
      Float64Array.from({ length: 200 }, (_, i) => i + (i % every === 0 ? by : 0));
    const { codes, findings } = said(uneven(10));
    expect(codes).toEqual(["note time-uneven"]);
    expect(findings[0].value).toBeCloseTo(0.2, 1);
    expect(findings[0].message).toContain("% of the intervals are more than a tenth off the usual 1 s");
    expect(said(uneven(60)).codes).toEqual([]);
    expect(said(uneven(10, 0.08)).codes).toEqual([]);
  });

  test("of rows that were written when something changed nothing is said, nor of two", () => {
    const gap = Float64Array.of(0, 1, 2, 90, 91, 92);
    expect(said(gap).codes).toEqual(["warning time-gaps"]);
    expect(said(gap, { events: true }).codes).toEqual([]);
    expect(said(clock(6, { 3: Number.NaN, 4: 40 }), { events: true }).codes).not.toContain(
      "warning time-gaps",
    );
    expect(said(Float64Array.of(0, 5)).codes).toEqual([]);
    expect(said(new Float64Array(20)).codes).toEqual(["warning time-repeats"]);
  });
});
