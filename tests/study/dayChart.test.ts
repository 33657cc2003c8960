import { expect, test } from "vitest";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { dayChart } from "../../lib/study/population/dayChart.js";

/** Values of motors, so many a day, with what is added to each by its place and day; an effect common to each day. */
function production(
  options: {
    readonly days: number;
    readonly daily: number;
    readonly seed: number;
    readonly batchOf?: (i: number) => number;
    readonly ofBatch?: number;
    readonly ofDay?: number;
  },
  added: (day: number, i: number) => number = () => 0,
) {
  const { days, daily, seed, batchOf = () => 0, ofBatch = 0, ofDay = 0 } = options;
  const random = seededRandom(seed);
  const dayEffects = Array.from({ length: days }, () => ofDay * random.normal());
  const batchEffects = Array.from({ length: days * daily }, () => ofBatch * random.normal());
  const places = Array.from({ length: days * daily }, (_, i) => i);
  const day = (i: number) => Math.floor(i / daily);
  const values = places.map(
    (i) => 50 + dayEffects[day(i)] + batchEffects[batchOf(i)] + random.normal() + added(day(i), i),
  );
  const dates = places.map((i) => new Date(Date.UTC(2026, 0, 5 + day(i))).toISOString().slice(0, 10));
  const chart = dayChart(
    values,
    dates,
    places.map((i) => `B${batchOf(i)}`),
  );
  if (isUndetermined(chart)) throw new Error(chart.undetermined);
  return chart;
}
const seeds = Array.from({ length: 20 }, (_, k) => 1 + k);

test("a step of the last third is found with its day and size, three motors a day for ten days", () => {
  const charts = seeds.map((seed) => production({ days: 10, daily: 3, seed }, (d) => (d >= 7 ? 4 : 0)));
  const found = charts.filter(({ steps }) => steps.length === 1 && steps[0].at === 7);
  expect(found.length).toBeGreaterThanOrEqual(15);
  const held = found.filter(({ steps: [s] }) => s.low * 50 <= 4.2 && s.high * 50 >= 3.8);
  expect(held.length).toBeGreaterThanOrEqual(found.length - 3);
});

test("a step that begins with a batch is told from batches that differ, and those alone are none", () => {
  const batches = { days: 33, daily: 3, batchOf: (i: number) => Math.floor(i / 10), ofBatch: 0.5 };
  const stepped = seeds.map((seed) => production({ ...batches, seed }, (_, i) => (i >= 70 ? 4 : 0)));
  expect(stepped.filter((c) => c.steps.some((s) => s.at === 23)).length).toBeGreaterThanOrEqual(14);
  const sound = seeds.map((seed) => production({ ...batches, ofBatch: 2, seed }));
  expect(sound.filter((c) => c.steps.length + c.individuals.signals.length > 0).length).toBeLessThanOrEqual(
    2,
  );
});

test("what moves all motors of a day alike widens the limits: days that differ are no steps and none is apart", () => {
  const sound = seeds.map((seed) => production({ days: 20, daily: 6, ofDay: 2, seed }));
  expect(sound.filter((c) => c.steps.length + c.individuals.signals.length > 0).length).toBeLessThanOrEqual(
    2,
  );
});

test("a day apart beside a step: each is found, and the limits follow the step", () => {
  const chart = production({ days: 30, daily: 4, seed: 3 }, (d) => (d >= 12 ? -3 : 0) + (d === 20 ? 4 : 0));
  expect(chart.steps.map((s) => s.at)).toEqual([12]);
  expect(chart.individuals.signals).toEqual([{ at: 20, rule: "beyond its limits" }]);
  const { lower, upper, values } = chart.individuals;
  expect(values.flatMap((v, d) => (v < lower[d] || v > upper[d] ? [d] : []))).toEqual([20]);
  expect(upper[25]).toBeLessThan(upper[5] - 2);
});

test("a motor that is far off does not hide the step", () => {
  const chart = production(
    { days: 30, daily: 4, seed: 5 },
    (d, i) => (d >= 12 ? 2 : 0) + (i === 30 ? 4000 : 0),
  );
  expect(chart.steps.length).toBe(1);
  expect(Math.abs(chart.steps[0].at - 12)).toBeLessThanOrEqual(1);
});

test("many days, few days, a motor a day, a batch a day", () => {
  expect(production({ days: 900, daily: 1, seed: 1 }).dates.length).toBe(300);
  expect(production({ days: 8, daily: 1, seed: 1 }).individuals.values.length).toBe(8);
  const ofBatches = production({
    days: 12,
    daily: 2,
    batchOf: (i) => Math.floor(i / 2),
    ofBatch: 1,
    seed: 1,
  });
  expect(ofBatches.individuals.upper.every(Number.isFinite)).toBe(true);
  const two = production({ days: 9, daily: 2, batchOf: (i) => (i < 2 ? 0 : 1), ofBatch: 1, seed: 1 });
  expect(two.individuals.upper.every(Number.isFinite)).toBe(true);
});
