import { expect, test } from "vitest";
import { rowsInOrder } from "../../lib/recording/columns/rowsInOrder.js";

const even = (n: number, from = 0, step = 0.001): number[] =>
  Array.from({ length: n }, (_, i) => from + i * step);
const how = (time: readonly number[]) => rowsInOrder(Float64Array.from(time))?.how;

test("rows in another order than they were measured are told from several runs", () => {
  const run = even(200);
  expect(how(run)).toBeUndefined();
  expect(how([...run].reverse())).toBe("backwards");
  expect(how([...run.slice(70), ...run.slice(0, 70)])).toBe("from the middle");
  expect(how([...run.slice(0, 50), run[51], run[50], ...run.slice(52)])).toBe("a few rows late");
  expect(how(run.map((_, i) => run[(i * 67) % 200]))).toBe("shuffled");
  // Sorted by another column: few steps back, and the stretches mesh.
  expect(how([0, 1, 2, 3, 4, 5].flatMap((k) => run.filter((_, i) => i % 6 === k)))).toBe("shuffled");
});

test("runs one after the other, with the same clock, another, or a coarse one, stay several runs", () => {
  expect(how([...even(100), ...even(100)])).toBeUndefined();
  expect(how([...even(100), ...even(100, 0.0004)])).toBeUndefined();
  expect(how([...even(100, 5), ...even(100)])).toBeUndefined();
  expect(how([...even(40), ...even(40), ...even(40), ...even(40), ...even(40), ...even(40)])).toBeUndefined();
  expect(
    how([...even(40, 0.00011), ...even(40, 0.0009), ...even(40, 0.0002), ...even(40, 0.00047), ...even(40)]),
  ).toBeUndefined();
});

test("rows without time come last", () => {
  expect([...(rowsInOrder(Float64Array.of(3, 2, Number.NaN, 1, 0))?.order ?? [])]).toEqual([4, 3, 1, 0, 2]);
});
