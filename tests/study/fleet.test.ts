import { readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { summaryText } from "../../lib/cli/studyText.js";
import { fleet } from "../../lib/simulation/index.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { readLifeTable } from "../../lib/study/life/readLifeTable.js";
import { judge } from "../../lib/study/pipeline/judgeFile.js";
import { type StudySummary, studySummary } from "../../lib/study/population/studySummary.js";
import { uglyIn } from "../house/humanText.js";

// The demo fleet: its truth is known, a study over all of its 2,378 recordings is stored
// (datasets/parcel-sorter-fleet/study, made by makeStudy.ts).
const home = join(import.meta.dirname, "../../datasets/parcel-sorter-fleet");
const constants = JSON.parse(readFileSync(join(home, "constants.json"), "utf8"));
const { truth } = fleet(constants.seed);
let summary: StudySummary;
const told: string[] = [];

beforeAll(async () => {
  const { lives, unit } = await readLifeTable(join(home, "life.csv"));
  summary = await studySummary(join(home, "study"), {
    lives,
    lifeUnit: unit,
    limits: { kv: { lower: 86, upper: 92 } },
    told: (stage, done, total) => told.push(total > 0 ? `${stage} ${done} of ${total}` : stage),
  });
});

test("what is looked at is told as it goes", () => {
  const charts = summary.distributions.map((_, i, all) => `control charts ${i} of ${all.length}`);
  const parts = ["outlying motors", "differences by batch", "differences by rig", "drift", ...charts];
  expect(told).toEqual([...parts, "where spread comes from"]);
});

test("every miswired motor is found, and no other", () => {
  expect(summary.motors).toBe(2000);
  expect(summary.recordings).toBe(2378);
  expect([...new Set(summary.wiring.map((w) => w.motor))].sort()).toEqual(
    truth.miswired.map((m) => m.motor).sort(),
  );
  // With one phase open the shaft turns and follows, by an uneven torque: its cause is what is not sound.
  const word = (fault: string) =>
    fault === "leads-exchanged" ? "blocked" : fault === "lead-open" ? "tracking" : "against";
  for (const { motor, fault } of truth.miswired) {
    const found = summary.wiring.find((w) => w.motor === motor)!;
    expect(found.sense === "against" ? "against" : found.verdict).toBe(word(fault));
    if (fault === "lead-open") expect(found.cause).toBe("open-phase");
  }
});

test("the bad batch stands out, in friction, and no other batch or rig does", () => {
  expect([...new Set(summary.odd.map((o) => `${o.factor} ${o.group}`))]).toEqual([`batch ${truth.badBatch}`]);
  const share = Object.fromEntries(summary.odd.map((o) => [o.constant, o.share]));
  expect(share.coulombFriction).toBeCloseTo(constants.badBatch.coulombFriction - 1, 1);
  expect(share.viscousFriction).toBeCloseTo(constants.badBatch.viscousFriction - 1, 1);
});

test("the drifting motors are found, and no other of those watched", () => {
  expect(summary.watched).toBe(constants.watched.count);
  expect([...new Set(summary.drifting.map((d) => d.motor))].sort()).toEqual(
    truth.drifting.map((d) => d.motor).sort(),
  );
  expect(
    summary.drifting.every((d) => d.constant === "coulombFriction" && d.change > 0.2 && d.change < 1.2),
  ).toBe(true);
});

test("no sound motor is called outlying", () => {
  if (isUndetermined(summary.outlying)) throw new Error(summary.outlying.undetermined);
  expect(summary.outlying.outlying).toEqual([]);
  expect(summary.outlying.smallest.length).toBeGreaterThan(3);
});

test("the spread is divided as the generator made it: kv between motors, friction between batches because of the bad one", () => {
  const shares = Object.fromEntries(summary.components.map((c) => [c.constant, c.split.shares]));
  expect(shares.kv.motor).toBeGreaterThan(0.85);
  expect(shares.coulombFriction.batch).toBeGreaterThan(0.4);
  const kv = summary.components.find((c) => c.constant === "kv")!.split.deviations;
  const middle = summary.distributions.find((d) => d.constant === "kv")!.description.mean.value;
  expect(kv.motor.value / middle).toBeCloseTo(constants.spread.fluxLinkage, 3);
});

test("rigs differ in resistance, which their current gain moves, and the gauge study sees them", () => {
  const rigs = summary.differences.find((d) => d.factor === "rig")!;
  expect(rigs.constants.find((c) => c.constant === "resistance")!.holm).toBeLessThan(0.01);
  const gauge = summary.gauge.find((g) => g.constant === "resistance")!.study;
  expect(gauge.reproducibility).toBeGreaterThan(0.001);
  expect(gauge.table.map((line) => line.df)).toEqual([9, 2, 18, 60]);
});

test("the chart of daily friction is out of its limits on the days of the bad batch", () => {
  if (isUndetermined(summary.charts)) throw new Error(summary.charts.undetermined);
  const { chart } = summary.charts.find((c) => c.constant === "coulombFriction")!;
  const out = new Set(chart.individuals.signals.map((s) => chart.dates[s.at]));
  for (const day of ["2026-03-23", "2026-03-24", "2026-03-25", "2026-03-26", "2026-03-27"])
    expect(out.has(day)).toBe(true);
});

test("the life model holds the truth in its intervals: shape, characteristic life, activation energy, the bad batch's life", () => {
  const { life } = summary;
  if (life === undefined || "undetermined" in life.model) throw new Error("no life model");
  const within = (e: { low: number; high: number }, value: number) => e.low <= value && value <= e.high;
  expect(life.better).toMatchObject({ distribution: "weibull" });
  expect(within(life.model.shape!, truth.life.shape)).toBe(true);
  expect(life.referenceTemperature).toBe(constants.life.referenceTemperature);
  expect(within(life.characteristic!, truth.life.scale)).toBe(true);
  expect(within(life.activationEnergy!, truth.life.activationEnergy)).toBe(true);
  expect(life.differing).toEqual([truth.badBatch]);
  expect(within(life.groups[0].ratio, constants.badBatch.life)).toBe(true);
  const b10 = truth.life.scale * (-Math.log(0.9)) ** (1 / truth.life.shape);
  expect(within(life.b10!, b10)).toBe(true);
});

test("capability says what the shape and the counts allow", () => {
  const [{ constant, result }] = summary.capability;
  expect(constant).toBe("kv");
  if (isUndetermined(result)) throw new Error(result.undetermined);
  expect(result.cpk.value).toBeGreaterThan(1);
  expect(result.cp!.value).toBeGreaterThanOrEqual(result.cpk.value);
});

test("recordings of the stored sample, read and judged now, agree with the stored study", async () => {
  for (const [name, fault] of [
    ["roller-0001-first", undefined],
    ["roller-1695-first", "leads-exchanged"],
  ] as const) {
    const result = await judge(join(home, "sample", `${name}.csv`), {});
    expect(result.reason).toBeNull();
    const [{ trials, motor, about }] = result.recordings;
    expect(motor).toBe(name.slice(0, 11));
    expect(about.batch).toMatch(/^B0\d$/);
    expect(trials[0].verdict).toBe(fault === undefined ? "tracking" : "blocked");
  }
});

test("what is said of it reads well", () => {
  const text = summaryText(summary, { color: false, columns: 100 });
  expect(text.length).toBeGreaterThan(500);
  expect(uglyIn(text, [], 100)).toEqual([]);
});
