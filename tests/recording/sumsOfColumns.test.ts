import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { differenceOfTwo, lineThrough, sumOfThree } from "../../lib/recording/columns/relations.js";
import { readRecordings } from "../../lib/recording/index.js";
import { uniforms } from "../house/uniforms.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-sums-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Three currents of a star-connected winding: they sum to nothing (Kirchhoff's current law). */
const phases = (rows: number): Float64Array[] =>
  [0, 1, 2].map((k) =>
    Float64Array.from({ length: rows }, (_, i) => 3 * Math.sin(i / 9 - (2 * Math.PI * k) / 3)),
  );
/** What is left of a column when it is logged in every third row alone. */
const inTurns = (column: Float64Array, turn: number): Float64Array =>
  column.map((v, i) => (i % 3 === turn ? v : Number.NaN));

describe("sums and differences of columns", () => {
  test("three phases sum to nothing; shifted against each other they do not", () => {
    const [u, v, w] = phases(400);
    expect(sumOfThree(u, v, w)).toBeLessThan(1e-12);
    expect(sumOfThree(u, u, w)).toBeGreaterThan(1);
  });

  test("columns that are never known in the same rows, or in few, show nothing", () => {
    const [u, v, w] = phases(400).map(inTurns);
    expect(sumOfThree(u, v, w)).toBe(Number.POSITIVE_INFINITY);
    expect(differenceOfTwo(u, v, w)).toBe(Number.POSITIVE_INFINITY);
    const [a, b, c] = phases(15);
    expect(sumOfThree(a, b, c)).toBe(Number.POSITIVE_INFINITY);
    expect(differenceOfTwo(a, b, c)).toBe(Number.POSITIVE_INFINITY);
  });

  test("the error of a loop is the difference of its command and its value, of either sign", () => {
    const random = uniforms(7);
    const command = Float64Array.from({ length: 300 }, (_, i) => (i < 100 ? 0 : 5) + Math.sin(i / 20));
    const value = command.map((v) => 0.8 * v + random());
    const error = command.map((v, i) => v - value[i]);
    expect(differenceOfTwo(command, value, error)).toBeLessThan(1e-12);
    expect(differenceOfTwo(value, command, error)).toBeLessThan(1e-12);
  });
});

describe("a line through the origin", () => {
  const x = Float64Array.from({ length: 60 }, (_, i) => Math.sin(i / 3));
  const y = x.map((v, i) => 2 * v + 0.1 * Math.cos(i));

  test("is the same whatever the columns are measured in, as far as squares can be written", () => {
    const plain = lineThrough(x, y);
    for (const power of [-400, -20, 20, 400]) {
      const scaled = lineThrough(
        x.map((v) => v * 2 ** power),
        y,
      );
      expect(((scaled?.factor ?? 0) * 2 ** power) / (plain?.factor ?? 0)).toBeCloseTo(1, 12);
      expect(scaled?.explainedCentred).toBeCloseTo(plain?.explainedCentred ?? 0, 12);
    }
  });

  test("is none where the squares cannot be written", () => {
    for (const power of [-600, 600, 1000])
      expect(
        lineThrough(
          x.map((v) => v * 2 ** power),
          y,
        ),
        String(power),
      ).toBeUndefined();
  });
});

test("phase currents that are logged in turns are told without a probability that is none", async () => {
  const columns = phases(600).map(inTurns);
  const cell = (v: number): string => (Number.isNaN(v) ? "" : v.toFixed(4));
  const rows = Array.from({ length: 600 }, (_, i) =>
    [i / 1000, ...columns.map((c) => cell(c[i])), Math.sin(i / 90).toFixed(4)].join(","),
  );
  const path = join(folder, "turns.csv");
  writeFileSync(path, `t,ch1,ch2,ch3,ch4\n${rows.join("\n")}\n`);
  const { recordings, problems } = await readRecordings([path]);
  const text = JSON.stringify([recordings.map(({ understanding }) => understanding), problems]);
  expect(text).toContain("ch2");
  expect(text).not.toMatch(/NaN|"probability":null/);
});
