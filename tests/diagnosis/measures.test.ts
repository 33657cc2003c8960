import { expect, test } from "vitest";
import { judgeSweep } from "../../lib/diagnosis/alignmentSweep.js";
import { nextTest } from "../../lib/diagnosis/nextTest.js";
import { bestDirectFit } from "../../lib/identify/commutation/torqueLaw.js";
import type { Channel, ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { holdsOf } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { upperBound95 } from "../calibration/summary.js";

function recordingOf(columns: Partial<Record<ChannelRole, Float64Array>>, time: Float64Array): Recording {
  const channels: Partial<Record<ChannelRole, Channel>> = {};
  for (const [role, data] of Object.entries(columns) as [ChannelRole, Float64Array][])
    channels[role] = { role, name: role, sourceUnit: "", recognisedBy: "test", data };
  return { path: "test", time, channels, machine: {}, drive: { polePairs: 4 }, encoder: {}, findings: [] };
}
const whole = (kind: Trial["kind"], time: Float64Array): Trial => ({
  kind,
  from: 0,
  to: time.length,
  start: 0,
  end: time[time.length - 1],
  steps: [],
  source: "found",
});

test("the torque law in weak form recovers a = g*Kt/J of w' = a*i - c*sign(w), position in counts", () => {
  // Closed form: constant current and Coulomb friction give a constant acceleration.
  const a = 400;
  const c = 60;
  const time = Float64Array.from({ length: 1200 }, (_, k) => k / 1000);
  const current = time.map((t) => (t < 0.1 ? 0 : t < 0.6 ? 1 : -1));
  const count = (2 * Math.PI) / 4000;
  let w = 0;
  let x = 0;
  const position = time.map((_, k) => {
    const pull = a * current[k];
    const next = w + (pull - c * (w === 0 ? Math.sign(pull) : Math.sign(w))) * 1e-3;
    x += ((w + next) / 2) * 1e-3;
    w = next;
    return Math.round(x / count) * count;
  });
  const recording = recordingOf({ currentCommand: current, current, position }, time);
  const trial = whole("torque", time);
  const signals = trialSignals(runOf(recording), trial);
  const fit = bestDirectFit(signals, holdsOf(signals, trial));
  expect(fit?.direct).toBeGreaterThan(0.97 * a);
  expect(fit?.direct).toBeLessThan(1.03 * a);
  expect(Math.abs((fit?.direct ?? 0) - a)).toBeLessThan(2 * (fit?.error ?? 0));
});

test("a sweep both ways gives the pole pairs, the sense and the lag of friction", () => {
  // The shaft follows at 1/p of the electrical angle, behind by a lag on either way (theory, section 2b).
  const time = Float64Array.from({ length: 2000 }, (_, k) => k / 500);
  const sweepAngle = time.map((t) => (t < 2 ? 10 * t : 40 - 10 * t));
  const lag = 0.2;
  for (const sense of [1, -1]) {
    const position = sweepAngle.map((s, k) => (sense * (s - (time[k] < 2 ? lag : -lag))) / 4);
    const result = judgeSweep(
      runOf(recordingOf({ sweepAngle, position }, time)),
      whole("alignment-sweep", time),
    );
    expect(result.sense).toBe(sense > 0 ? "with" : "against");
    expect(result.lag).toBeCloseTo(lag, 2);
    // n = abs(k - p): 0 when the sense agrees, 2p = 8 when it does not.
    expect(result.mismatch?.value).toBeCloseTo(sense > 0 ? 0 : 8, 1);
  }
});

test("the next test separates a jam from an offset near 90 deg, and none is asked for when nothing is open", () => {
  const open = nextTest(
    new Map([
      ["jam", 0.5],
      ["disturbed-offset", 0.5],
    ]),
  );
  expect(open?.test).toMatch(/by hand/);
  expect(open?.information).toBeGreaterThan(0.5);
  expect(open?.information).toBeLessThanOrEqual(1);
  expect(nextTest(new Map([["phases-swapped", 0.999]]))).toBeUndefined();
});

test("the upper bound of a count of none is the rule of three", () => {
  // Hanley and Lippman-Hand 1983 (from memory): 3/n at 95 %; exactly 1 - 0.05^(1/n).
  expect(upperBound95(0, 100)).toBeCloseTo(0.0295, 4);
  // Clopper-Pearson, one-sided 95 %: the bound p solves P(X <= 1; n = 20) = 0.05.
  const p = upperBound95(1, 20);
  expect((1 - p) ** 20 + 20 * p * (1 - p) ** 19).toBeCloseTo(0.05, 6);
});
