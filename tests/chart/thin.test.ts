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
        // Five of each bucket, and both sides of as many steps as there are buckets.
        expect(kept.length).toBeLessThanOrEqual(7 * buckets + 2);
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

/** A clock with uneven steps, a command that holds and a noisy trace with gaps and single peaks. */
const log = fc
  .record({
    gaps: fc.array(fc.double({ min: 1e-4, max: 1, noNaN: true }), { minLength: 300, maxLength: 3000 }),
    changes: fc.array(fc.nat(3000), { maxLength: 40 }),
    noise: fc.infiniteStream(
      fc.oneof({ weight: 20, arbitrary: fc.double({ min: -1, max: 1 }) }, fc.constant(Number.NaN)),
    ),
    peak: fc.nat(3000),
    buckets: fc.integer({ min: 5, max: 120 }),
  })
  .map(({ gaps, changes, noise, peak, buckets }) => {
    let t = 0;
    const time = Float64Array.from(gaps, (gap) => (t += gap));
    // A trace that changes more often than the picture has stretches does not hold its value.
    const at = new Set(changes.slice(0, buckets).map((i) => i % time.length));
    let level = 0;
    const command = Float64Array.from(time, (_, i) => (at.has(i) ? ++level : level));
    const measured = Float64Array.from(time, () => noise.next().value as number);
    measured[peak % time.length] = 50;
    return { time, command, measured, buckets };
  });

test("a thinned picture keeps the ends, the extremes of each bucket, the gaps, and both sides of every step", () => {
  fc.assert(
    fc.property(log, ({ time, command, measured, buckets }) => {
      const kept = thin(time, [command, measured], buckets);
      const has = new Set(kept);
      const count = time.length;
      expect([...kept]).toEqual([...has].sort((a, b) => a - b));
      expect(has.has(0) && has.has(count - 1)).toBe(true);
      for (let i = 1; i < count; i++)
        if (command[i] !== command[i - 1]) expect([has.has(i - 1), has.has(i)]).toEqual([true, true]);
      // Drawn as a held line, the kept samples give the command at every instant of the log.
      let last = 0;
      for (let i = 0; i < count; i++) {
        if (has.has(i)) last = i;
        expect(command[last]).toBe(command[i]);
      }
      if (count <= 2 * buckets) return;
      const span = time[count - 1] - time[0];
      const bucketOf = (i: number): number => {
        for (let b = 0; b < buckets - 1; b++) if (time[i] <= time[0] + (span * (b + 1)) / buckets) return b;
        return buckets - 1;
      };
      const all = new Map<number, number[]>();
      for (let i = 0; i < count; i++) all.set(bucketOf(i), [...(all.get(bucketOf(i)) ?? []), i]);
      for (const members of all.values()) {
        const values = members.map((i) => measured[i]).filter((v) => !Number.isNaN(v));
        const drawn = members.filter((i) => has.has(i)).map((i) => measured[i]);
        expect(has.has(members[0]) && has.has(members[members.length - 1])).toBe(true);
        if (values.length > 0) {
          expect(drawn).toContain(Math.min(...values));
          expect(drawn).toContain(Math.max(...values));
        }
        if (values.length < members.length) expect(drawn.some(Number.isNaN)).toBe(true);
      }
    }),
    { numRuns: 40, seed: 20261125 },
  );
});
