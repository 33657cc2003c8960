import { expect, test } from "vitest";
import { seededRandom } from "../../../lib/numeric/distributions/seededRandom.js";
import { ewmaChart } from "../../../lib/study/population/controlChart.js";

/**
 * Average run length of the weighted moving average chart with steady limits, from its start: Lucas, J. M. and
 * Saccucci, M. S. (1990), Exponentially weighted moving average control schemes, Technometrics 32, 1-12, table 3, as
 * printed in Montgomery, Introduction to Statistical Quality Control, table 9.11 (from memory); the digits beyond those
 * from R's package spc 0.6.7, `xewma.arl(lambda, width, shift, sided = "two")`.
 */
const table: readonly (readonly [
  lambda: number,
  width: number,
  shift: number,
  length: number,
  runs: number,
])[] = [
  [0.1, 2.814, 0, 499.58, 2000],
  [0.1, 2.814, 0.5, 31.297, 4000],
  [0.1, 2.814, 1, 10.331, 4000],
  [0.1, 2.814, 2, 4.3626, 4000],
  [0.25, 2.998, 0, 499.84, 2000],
  [0.25, 2.998, 0.5, 48.294, 4000],
  [0.25, 2.998, 1, 11.136, 4000],
  [0.25, 2.998, 2, 3.6137, 4000],
];

test.each(table)(
  "lambda %d, width %d, shift %d: an alarm after %d values on average",
  (lambda, width, shift, length, runs) => {
    const random = seededRandom(17);
    const chart = { lambda, width, center: 0, sigma: 1, steady: true };
    const lengths = Array.from({ length: runs }, () => {
      // In pieces, each begun anew: only the first alarm of a start counts, so a piece without one is made longer.
      const values: number[] = [];
      for (let most = 4 * Math.ceil(length); ; most *= 2) {
        while (values.length < most) values.push(shift + random.normal());
        const [first] = ewmaChart(values, chart).signals;
        if (first !== undefined) return first.at + 1;
      }
    });
    const mean = lengths.reduce((a, b) => a + b, 0) / runs;
    const error = Math.sqrt(lengths.reduce((sum, l) => sum + (l - mean) ** 2, 0) / (runs - 1) / runs);
    expect(Math.abs(mean - length)).toBeLessThan(3.3 * error);
    expect(error).toBeLessThan(0.025 * length);
  },
);
