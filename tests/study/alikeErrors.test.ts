import { expect, test } from "vitest";
import { studentT } from "../../lib/numeric/distributions/distributions.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { surpriseOf, tOfSurprise } from "../../lib/study/population/dayModel.js";
import { levelModel } from "../../lib/study/population/levelModel.js";
import { oddGroups } from "../../lib/study/population/oddGroups.js";
import { outlyingMotors } from "../../lib/study/population/outlyingMotors.js";
import { seeded } from "./seeded.js";

const batches = Array.from({ length: 60 }, (_, i) => `B${Math.floor(i / 10)}`);
const normal = seeded(11).normal;
/** Sixty motors that differ by 0.01; those of B3 lie 0.06 higher. */
const values = batches.map((b) => 1 + 0.01 * normal() + (b === "B3" ? 0.06 : 0));

test("an error that all motors have alike hides neither how they differ nor an odd batch", () => {
  const own = new Float64Array(60).fill(0.1 ** 2);
  const without = levelModel(values, new Float64Array(60), { batch: batches });
  const withErrors = levelModel(values, own, { batch: batches });
  expect(withErrors.errorPart).toBeLessThan(0.03);
  expect(without.errorPart).toBe(1);
  for (const i of [0, 7, 33]) expect(withErrors.scale[i] / without.scale[i]).toBeCloseTo(1, 2);
  const column = { values, errors: new Float64Array(60).fill(0.1) };
  const odd = oddGroups({ resistance: column }, batches);
  expect(isUndetermined(odd) ? [] : odd.odd.map((o) => o.group)).toEqual(["B3"]);
  const [seen, plain] = [column, { values }].map((c) => {
    const found = outlyingMotors({ resistance: c }, batches, { factors: { batch: batches } });
    return isUndetermined(found) ? Number.NaN : found.smallest[0].above;
  });
  expect(seen).toBeCloseTo(plain, 3);
});

test("errors that the motors' spread leaves room for are believed as stated", () => {
  const errors = batches.map((_, i) => (i % 4 === 0 ? 0.02 : 0.002));
  const noisy = values.map((v, i) => v + errors[i] * normal());
  const model = levelModel(
    noisy,
    errors.map((e) => e ** 2),
    { batch: batches },
  );
  expect(model.errorPart).toBe(1);
});

test("a surprise beyond the last digit of a chance next to one is still a finite t", () => {
  for (const surprise of [5, 30, 60, 200]) {
    const t = tOfSurprise(surprise, 42);
    expect(surpriseOf(t, 42)).toBeCloseTo(surprise, 6);
    expect(studentT.upper(t, 40)).toBeGreaterThan(0);
  }
});
