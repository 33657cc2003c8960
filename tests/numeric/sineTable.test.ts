import fc from "fast-check";
import { expect, it } from "vitest";
import { addTurned } from "../../lib/numeric/series/sineTable.js";

it("is within 1e-10 of the library's cosine and sine at any angle", () => {
  const sums = new Float64Array(2);
  fc.assert(
    fc.property(
      fc.double({ min: -1e4, max: 1e4, noNaN: true }),
      fc.double({ min: -50, max: 50, noNaN: true }),
      (angle, factor) => {
        addTurned(Float64Array.of(0, 3), Float64Array.of(1, angle), factor, 1, 2, sums);
        expect(sums[0]).toBeCloseTo(3 * Math.cos(angle * factor), 9);
        expect(sums[1]).toBeCloseTo(3 * Math.sin(angle * factor), 9);
      },
    ),
    { seed: 7, numRuns: 2000 },
  );
});

it("gives not-a-number for angles that are none, and sums what it is given", () => {
  const sums = new Float64Array(2);
  addTurned(Float64Array.of(1, 1), Float64Array.of(0, Number.NaN), 1, 0, 2, sums);
  expect(sums[0]).toBeNaN();
  addTurned(Float64Array.of(1, 2), Float64Array.of(0, Math.PI / 2), 1, 0, 2, sums);
  expect(sums[0]).toBeCloseTo(1, 12);
  expect(sums[1]).toBeCloseTo(2, 12);
});
