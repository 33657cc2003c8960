import { describe, expect, test } from "vitest";
import { tried } from "../../lib/diagnosis/breakaway.js";
import { observe } from "../../lib/diagnosis/observe.js";
import { breakawayModel } from "../../lib/diagnosis/tables/breakaway.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

const n = 800;
const time = Float64Array.from({ length: n }, (_, i) => i * 0.0025);
const of = (value: (t: number) => number): Float64Array => time.map(value);
const step = (amperes: number): Float64Array =>
  of((t) => (t < 0.2 || t >= 1.8 ? 0 : t < 1 ? amperes : -amperes));
const trial = { ...trialOf("torque"), to: n, start: 0, end: time[n - 1] };

/** A shaft that stands. */
const stands = of(() => 0);
const logged = (amperes: number, facts: Partial<Recording> = {}, current?: Float64Array): Recording =>
  recordingOf(
    time,
    { currentCommand: step(amperes), position: stands, ...(current ? { current } : {}) },
    facts,
  );
const heldAt = (recording: Recording): number => {
  const run = runOf(recording);
  return tried(run, trial, trialSignals(run, trial))?.held ?? Number.NaN;
};

describe("how likely friction holds a shaft against an effort", () => {
  test("a stated rating leaves the spread of friction alone: half at its middle, one in six a deviation above", () => {
    const { middle, spread } = breakawayModel.friction.torque;
    const machine = { ratedCurrent: 10 };
    expect(heldAt(logged(10 * middle, { machine }))).toBeCloseTo(0.5, 6);
    // Normal distribution: 0.158655 beyond one standard deviation.
    const total = Math.hypot(spread, breakawayModel.known);
    expect(heldAt(logged(10 * middle * Math.exp(total), { machine }))).toBeCloseTo(0.158655, 5);
  });

  test("stated friction and torque constant are taken as they are", () => {
    const machine = { staticFriction: 0.2, torqueConstant: 0.1 };
    expect(heldAt(logged(2, { machine }))).toBeCloseTo(0.5, 6);
    expect(heldAt(logged(6, { machine }))).toBeLessThan(0.01);
    expect(heldAt(logged(0.7, { machine }))).toBeGreaterThan(0.99);
  });

  test("the more is asked the less likely; a noisy current tells of a larger motor", () => {
    const list = [0.05, 0.2, 1, 5, 20].map((amperes) => heldAt(logged(amperes)));
    for (let k = 1; k < list.length; k += 1) expect(list[k]).toBeLessThan(list[k - 1]);
    const random = seeded(5);
    const noisy = (part: number) =>
      logged(
        1,
        {},
        step(1).map((i) => i + part * gaussian(random)),
      );
    expect(heldAt(noisy(0.2))).toBeGreaterThan(2 * heldAt(noisy(0.002)));
  });

  test("an effort that moved the shaft elsewhere in the log bounds its friction", () => {
    const twice = Float64Array.from({ length: 2 * n }, (_, i) => i * 0.0025);
    const currentCommand = twice.map((t) => (t > 2.2 && t < 3.8 ? 0.3 : t > 0.2 && t < 1.8 ? 0.35 : 0));
    const turned = (t: number): number => (t < 2.2 ? 0 : 20 * (Math.min(t, 3.8) - 2.2) ** 2);
    const recording = recordingOf(twice, { currentCommand, position: twice.map(turned) });
    const first = { ...trial, to: n };
    const second = { ...trial, from: n, to: 2 * n, start: twice[n], end: twice[2 * n - 1] };
    const held = (trials: readonly (typeof trial)[]): number => {
      const run = runOf({ ...recording }, trials);
      return tried(run, first, trialSignals(run, first))?.held ?? Number.NaN;
    };
    expect(held([first])).toBeGreaterThan(0.1);
    expect(held([first, second])).toBeCloseTo(breakawayModel.elsewhere, 9);
  });

  test("no current that flowed is no effort", () => {
    const random = seeded(7);
    expect(
      heldAt(
        logged(
          5,
          {},
          of(() => 0.01 * gaussian(random)),
        ),
      ),
    ).toBeGreaterThan(0.999);
  });
});

describe("a shaft that stood under a torque", () => {
  const said = (recording: Recording) => observe(runOf(recording), trial);

  test("is blocked under what its motor is rated for, and open under little of it", () => {
    const machine = { ratedCurrent: 5 };
    expect(said(logged(5, { machine }))).toMatchObject({ verdict: "blocked", behaviour: "still" });
    const weak = said(logged(0.25, { machine }));
    expect(weak).toMatchObject({ verdict: "undetermined", behaviour: "still" });
    expect(weak.text).toContain("up to 0.25 A, beside what is stated of the motor that is little");
    expect(weak.missing[0]).toMatch(/raise it in steps, within the limits of motor and drive/);
  });

  test("where nothing tells what is much for the motor, a small current leaves it open", () => {
    expect(said(logged(0.1)).verdict).toBe("undetermined");
    expect(said(logged(40)).verdict).toBe("blocked");
  });

  test("in an order of leads, of which half are blocked, less is asked for", () => {
    expect(said(logged(1)).verdict).toBe("undetermined");
    expect(said(logged(1, { ordering: "VUW" })).verdict).toBe("blocked");
  });
});
