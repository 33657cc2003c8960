import fc from "fast-check";
import { expect, test } from "vitest";
import { short, thin } from "../../lib/chart/marks/thin.js";

test("a single sample that sticks out stays", () => {
  const time = Float64Array.from({ length: 100_000 }, (_, i) => i * 1e-4);
  const values = time.map(() => 0);
  values[54_321] = 9;
  values[12_345] = -9;
  const kept = thin(time, [values], 300);
  expect(kept.length).toBeLessThan(1000);
  expect(kept).toContain(54_321);
  expect(kept).toContain(12_345);
  expect(kept[0]).toBe(0);
  expect(kept[kept.length - 1]).toBe(99_999);
});

test("the extremes of every trace stay, in order, whatever the data", () => {
  const sample = fc.oneof(
    { weight: 9, arbitrary: fc.double({ noNaN: true, min: -1e6, max: 1e6 }) },
    { weight: 1, arbitrary: fc.constant(Number.NaN) },
  );
  fc.assert(
    fc.property(
      fc.array(sample, { minLength: 1, maxLength: 400 }),
      fc.integer({ min: 1, max: 40 }),
      (values, buckets) => {
        const time = values.map((_, i) => i * 0.01);
        const kept = Array.from(thin(time, [values], buckets));
        expect(kept).toEqual([...new Set(kept)].sort((a, b) => a - b));
        expect(kept.length).toBeLessThanOrEqual(Math.max(2 * buckets, 4 * buckets + 2));
        const finite = values.filter((value) => !Number.isNaN(value));
        const drawn = kept.map((i) => values[i]).filter((value) => !Number.isNaN(value));
        if (finite.length > 0) {
          expect(Math.max(...drawn)).toBe(Math.max(...finite));
          expect(Math.min(...drawn)).toBe(Math.min(...finite));
        }
        if (finite.length < values.length) expect(kept.some((i) => Number.isNaN(values[i]))).toBe(true);
      },
    ),
    { seed: 11, numRuns: 200 },
  );
});

test("numbers are shortened, missing ones become gaps", () => {
  expect(short(2 / 3)).toBe(0.66667);
  expect(short(Number.NaN)).toBeNull();
});
