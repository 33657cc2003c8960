import { expect, test } from "vitest";
import { fitLife, isUndetermined, lifeBand, lifeSummary } from "../../lib/study/life/index.js";
import { seeded } from "./seeded.js";

const random = seeded(11).uniform;
const lives = Array.from({ length: 80 }, (_, i) => {
  const group = i % 2 === 0 ? "A" : "B";
  const t = 1000 * (i % 2 === 0 ? 1 : 0.5) * (-Math.log(random())) ** 0.5;
  return t > 1200 ? { group, after: 1200, by: Number.POSITIVE_INFINITY } : { group, after: t, by: t };
});

test("the band of a life is the interval of its times, narrowest where most failed; at 63.2 % it is that of the scale", () => {
  const model = fitLife("weibull", lives);
  if (isUndetermined(model)) throw new Error(model.undetermined);
  const middle = 1 - Math.exp(-1);
  const [at] = lifeBand(model, middle, 0.9, [], 2);
  expect(at.time / (model.scale?.value ?? 0)).toBeCloseTo(1, 6);
  expect(at.low / (model.scale?.low ?? 0)).toBeCloseTo(1, 4);
  expect(at.high / (model.scale?.high ?? 0)).toBeCloseTo(1, 4);
  const band = lifeBand(model, 0.01, 0.95);
  expect(band).toHaveLength(13);
  for (const { low, time, high } of band) expect(low < time && time < high).toBe(true);
  const width = band.map(({ low, high }) => Math.log(high / low));
  expect(width[0]).toBeGreaterThan(2 * Math.min(...width));
  expect(() => lifeBand(model, 0.5, 0.2)).toThrow("a band runs between two shares within 0 and 1");
});

test("what a model with groups expects of all units is the mean over them", () => {
  const { expected, model, differing } = lifeSummary(lives);
  if (isUndetermined(model) || expected === undefined) throw new Error("no model");
  expect(differing).toHaveLength(1);
  for (const t of [100, 400, 900]) {
    const mean = (model.survivalAt(t, [0]) + model.survivalAt(t, [1])) / 2;
    expect(expected(t)).toBeCloseTo(mean, 12);
    // And it follows what was found: half of the units of each scale.
    const alive = lives.filter(({ after }) => after > t).length / lives.length;
    expect(Math.abs(expected(t) - alive)).toBeLessThan(0.08);
  }
});
