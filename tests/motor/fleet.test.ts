import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { fleetSeed, storedFiles } from "../../datasets/parcel-sorter-fleet/make.js";
import { type FleetRun, fleet, fleetConstants, simulate } from "../../lib/simulation/index.js";

const made = fleet(fleetSeed);
const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

test("the stored files are what the script makes, byte for byte", () => {
  const folder = join(import.meta.dirname, "../../datasets/parcel-sorter-fleet");
  for (const [name, text] of storedFiles())
    expect(readFileSync(join(folder, name), "utf8") === text, name).toBe(true);
});

test("the same seed grows the same fleet, another seed another", () => {
  expect(fleet(fleetSeed)).toEqual(made);
  expect(fleet(fleetSeed + 1).motors[0]).not.toEqual(made.motors[0]);
});

test("2,000 motors, eight batches, every recording named once", () => {
  expect(made.motors).toHaveLength(2000);
  expect(made.runs).toHaveLength(2000 + 10 * 3 * 3 + 24 * 12);
  expect(new Set(made.runs.map((run) => run.recording)).size).toBe(made.runs.length);
  expect(new Set(made.motors.map((m) => m.batch)).size).toBe(8);
  expect(made.truth.miswired).toHaveLength(7);
  expect(made.truth.drifting).toHaveLength(2);
  // Nothing is special twice.
  const wrong = new Set(made.truth.miswired.map((m) => m.motor));
  expect(made.truth.drifting.some((m) => wrong.has(m.motor))).toBe(false);
});

test("the batch with the wrong grease has the friction it should have", () => {
  const friction = (bad: boolean) =>
    mean(
      made.motors
        .filter((m) => (m.batch === made.truth.badBatch) === bad)
        .map((m) => Math.log(m.model.coulombFriction)),
    );
  expect(Math.exp(friction(true) - friction(false))).toBeCloseTo(fleetConstants.badBatch.coulombFriction, 1);
});

test("a drifting motor's friction has grown by (1 + rate)^weeks", () => {
  for (const { motor, perWeek } of made.truth.drifting) {
    const own = made.motors.find((m) => m.motor === motor)!.model.coulombFriction;
    const last = made.runs.filter((r) => r.motor === motor && r.kind === "watch").at(-1)!;
    const grown = Math.log(last.bench.motor.coulombFriction / own) / Math.log(1 + perWeek);
    // Run-to-run spread of 2 % is less than a week of drift.
    expect(Math.abs(grown - 12)).toBeLessThan(2);
  }
});

describe("a run shows what its wiring makes of it", () => {
  const end = (run: FleetRun) => {
    const trace = simulate(run.bench, made.program, run.simulation);
    const at = trace.time.findIndex((t) => t >= 0.75);
    return { speed: trace.truth.speed[at], gain: trace.truth.torqueGain };
  };
  test("sound", () => {
    const { speed, gain } = end(made.runs[0]);
    expect(gain).toBeGreaterThan(0.98);
    expect(speed).toBeGreaterThan(200);
  });
  test.each(made.truth.miswired.map((m) => [m.fault, m.motor] as const))("%s, %s", (fault, motor) => {
    const { speed, gain } = end(made.runs.find((r) => r.motor === motor && r.kind === "first")!);
    if (fault === "stale-offset") expect(gain).toBeCloseTo(-0.5, 9);
    if (fault === "offset-half-turn") expect(gain).toBeCloseTo(-1, 9);
    if (fault === "leads-exchanged") expect(gain).toBe(0);
    if (fault === "stale-offset" || fault === "offset-half-turn") expect(speed).toBeLessThan(-50);
    if (fault === "leads-exchanged") expect(Math.abs(speed)).toBeLessThan(1);
  });
});

describe("the life table", () => {
  test("follows its Weibull law where nothing is censored: median = scale*(ln 2)^(1/shape)", () => {
    const uncensored = fleet(7, {
      ...fleetConstants,
      life: {
        ...fleetConstants.life,
        service: [1e9, 1e9],
        inspected: 0,
        temperatures: [fleetConstants.life.referenceTemperature],
      },
    });
    const hours = uncensored.lives
      .filter((life) => life.batch !== uncensored.truth.badBatch)
      .map((life) => life.by)
      .sort((a, b) => a - b);
    const { shape, scale } = fleetConstants.life;
    const median = scale * Math.log(2) ** (1 / shape);
    // 1,750 lives: the median's standard error is about 1.4 %.
    expect(hours[Math.floor(hours.length / 2)] / median).toBeGreaterThan(0.95);
    expect(hours[Math.floor(hours.length / 2)] / median).toBeLessThan(1.05);
  });

  test("holds exact, right, left and interval censored lines, all in order", () => {
    const kinds = { exact: 0, right: 0, left: 0, interval: 0 };
    for (const { after, by } of made.lives) {
      expect(by).toBeGreaterThanOrEqual(after);
      if (by === Number.POSITIVE_INFINITY) kinds.right += 1;
      else if (by === after) kinds.exact += 1;
      else if (after === 0) kinds.left += 1;
      else kinds.interval += 1;
    }
    for (const count of Object.values(kinds)) expect(count).toBeGreaterThan(2);
  });
});
