import { expect, test } from "vitest";
import { quantiles } from "../../lib/study/index.js";

test("expected quantiles are symmetric about the mean and the band is that of an order statistic", () => {
  const values = [3, 1, 2, 5, 4];
  const made = quantiles(values);
  expect(made.map(({ found }) => found)).toEqual([1, 2, 3, 4, 5]);
  expect(made[2].expected).toBeCloseTo(3, 12);
  expect(made[0].expected + made[4].expected).toBeCloseTo(6, 12);
  // Blom's place of the largest of five: (5 - 3/8)/(5 + 1/4) = 0.8810, normal quantile 1.1798 (E. S. Pearson and H. O.
  // Hartley, Biometrika Tables for Statisticians, table 1, by interpolation; value from memory); times the
  // deviation 1.5811.
  expect(made[4].expected).toBeCloseTo(3 + 1.1798 * Math.sqrt(2.5), 2);
  // The smallest of n uniform values is below x with probability 1 - (1 - x)^n: at 2.5 %, x =
  // 1 - 0.975^(1/5) = 0.005051, normal quantile -2.5722.
  expect(made[0].low).toBeCloseTo(3 - 2.5722 * Math.sqrt(2.5), 2);
  for (const { low, expected, high } of made) expect(low < expected && expected < high).toBe(true);
  expect(quantiles([1, 2])).toEqual([]);
});
