import { expect, test } from "vitest";
import { backEmfVector } from "../../lib/identify/electrical/backEmfVector.js";
import { coastStretches } from "../../lib/identify/mechanical/coastDown.js";
import { signalsOf } from "../../lib/identify/signals.js";
import { fitStepResponse } from "../../lib/identify/steps/fitStepResponse.js";
import type { Trial } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { madeRecording } from "../house/madeRecording.js";
import { uniforms } from "../house/uniforms.js";

const random = uniforms(90210);
const noise = (size: number): number => size * (random() + random() + random() - 1.5);
const time = Float64Array.from({ length: 3000 }, (_, i) => 1e-3 * i);

/** Torque for a second, then none: the shaft speeds up along a line and runs down along another. */
const driven = (t: number): boolean => t > 0.2 && t < 1.2;
const speedAt = (t: number): number =>
  t < 0.2 ? 0 : t < 1.2 ? 100 * (t - 0.2) : Math.max(0, 100 - 30 * (t - 1.2));
const trial = (kind: Trial["kind"], command?: Trial["command"]): Trial => ({
  kind,
  command,
  from: 0,
  to: time.length,
  start: 0,
  end: 3,
  steps: [],
  source: "declared",
});

test("the part of a torque trial whose command and current are zero is a coast-down; with a current it is none", () => {
  const currentCommand = time.map((t) => (driven(t) ? 2 : 0));
  const speed = time.map((t) => speedAt(t) + noise(0.05));
  const found = (left: number) => {
    const current = time.map((t) => (driven(t) ? 2 : t > 1.2 ? left : 0) + noise(0.002));
    const run = runOf(madeRecording(time, { currentCommand, current, speed }));
    const signals = signalsOf(run);
    if (signals === null) throw new Error("no signals");
    return coastStretches(run, signals, [trial("torque", "currentCommand")]);
  };
  const [stretch, ...others] = found(0);
  expect(others).toEqual([]);
  expect(time[stretch.from]).toBeCloseTo(1.2, 2);
  expect(stretch.to).toBe(time.length);
  // A brake current of a quarter: something acts on the shaft.
  expect(found(-0.5)).toEqual([]);
});

test("one axis of voltages tells the size of the back-EMF and no direction", () => {
  // v = R i + psi w, with R = 0.5 ohm and psi = 0.08 V s/rad, standing and at several speeds.
  const current = time.map((t) => (driven(t) ? 3 : t > 2 ? -1 : 0.5) + noise(0.02));
  const speed = time.map((t) => speedAt(t) + noise(0.02));
  const voltageQ = time.map((_, i) => 0.5 * current[i] + 0.08 * speed[i] + noise(0.02));
  const run = runOf(madeRecording(time, { current, speed, voltageQ }, {}, { drive: { polePairs: 1 } }));
  const vector = backEmfVector(run, false);
  expect(vector?.size.value).toBeCloseTo(0.08, 2);
  expect(vector?.offsetError).toBeUndefined();
  expect(vector?.torqueGain).toBeUndefined();
});

test("a line from a known beginning is no response, however steep (closed form)", () => {
  const at = Float64Array.from({ length: 400 }, (_, i) => 0.005 * (i - 100));
  const values = at.map((t) => 2 + 0.7 * t + noise(0.01));
  for (const drift of [true, "auto"] as const) {
    const fit = fitStepResponse(at, values, { stepTime: 0, initial: 2, drift, shapes: ["first-order"] });
    expect(fit.model, String(drift)).toBe("none");
  }
});
