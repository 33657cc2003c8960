import { expect, test } from "vitest";
import { estimateConstants } from "../../lib/identify/index.js";
import { cutTrials } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { logPlant, shaft } from "../steps/plants.js";

/** A log of speed alone that is stated to be a coast-down from one end to the other. */
function statedCoast(speed: { time: Float64Array; values: Float64Array }): Recording {
  return {
    path: "stated",
    time: speed.time,
    channels: {
      speed: {
        role: "speed",
        name: "speed",
        sourceUnit: "rad/s",
        recognisedBy: "test",
        data: speed.values,
      },
    },
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
    declaredTrials: [{ kind: "coast", start: 0, end: Number.POSITIVE_INFINITY, by: "caller" }],
  };
}

const log = { interval: 2e-3, jitter: 0.1, rows: 2000, stepTime: 0, from: 0, noise: 0.3, quantum: 0.05 };
// J 1e-3, B 5e-4, Tc 0.02: Tc/J 20 rad/s2, B/J 0.5 1/s. From 150 rad/s it is at rest after 3.1 s
// (2*ln((150 + 40)/40); theory of the run-down with both frictions, any handbook of mechanics).
const made = shaft(1e-3, 1, 5e-4, 0.02);

test("a stated coast-down gives friction over inertia, whatever else was not logged", () => {
  const recording = statedCoast(logPlant(made, { ...log, seed: 46700001, to: 0, start: [150] }));
  const { ratios } = estimateConstants(recording, cutTrials(recording).trials);
  for (const [found, value] of [
    [ratios.coulombOverInertia, 20],
    [ratios.viscousOverInertia, 0.5],
  ] as const) {
    expect(found!.low).toBeLessThan(value);
    expect(found!.high).toBeGreaterThan(value);
    expect(found!.high - found!.low).toBeLessThan(0.3 * value);
  }
});

test("what is stated to be a coast-down and gains speed is none, and that is the reason", () => {
  const recording = statedCoast(logPlant(made, { ...log, seed: 46700002, stepTime: 0.5, to: 0.05 }));
  const { ratios, missing } = estimateConstants(recording, cutTrials(recording).trials);
  expect(ratios.coulombOverInertia).toBeUndefined();
  expect(ratios.viscousOverInertia).toBeUndefined();
  const why = missing.find((m) => m.quantity === "coulombOverInertia")!.needs;
  expect(why).toMatch(/nothing drives the shaft.*gains speed/);
});
