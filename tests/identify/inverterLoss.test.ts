import { describe, expect, test } from "vitest";
import { inverterLoss } from "../../lib/identify/electrical/inverterLoss.js";
import { estimateConstants } from "../../lib/identify/index.js";
import { withRowTimes } from "../../lib/identify/steps/rowTimes.js";
import type { StepFit } from "../../lib/identify/steps/stepFitTypes.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";
import { madeRecording } from "../house/madeRecording.js";
import { Moving } from "../judge/rigPlant.js";

describe("loss of an inverter", () => {
  test("without a log it is what is usual: two thirds of none, one third of the positive half of a normal distribution", () => {
    const { mean, deviation, reach, none } = inverterLoss(2);
    // Five in a hundred of all, fifteen of those that lose anything, lie above the 92.5 % quantile of a normal
    // distribution, 1.4395 (Abramowitz and Stegun, table 26.1); 1.95996 at 97.5 %.
    expect(mean + 1.95996 * reach).toBeCloseTo(2 * 1.4395, 3);
    expect(reach).toBeGreaterThan(deviation);
    // Mean of the half-normal distribution: usual*sqrt(2/pi); its mean square is usual^2.
    expect(mean).toBeCloseTo((2 / 3) * Math.sqrt(2 / Math.PI), 10);
    expect(deviation).toBeCloseTo(Math.sqrt(4 / 3 - (4 / 9) * (2 / Math.PI)), 10);
    expect(none).toBeCloseTo(2 / 3, 12);
  });

  test("of several usual sizes without a log it is the mean of what each would be, and its end the mixture's", () => {
    const { mean, reach, none } = inverterLoss([1, 4]);
    expect(mean).toBeCloseTo((1 / 3) * Math.sqrt(2 / Math.PI) * 2.5, 10);
    expect(none).toBeCloseTo(2 / 3, 12);
    // Two normal tails by hand: (1 - F(x)) + (1 - F(x/4)) = 0.15 at x = 4.1460, of which the first is 1.7e-5.
    expect(mean + 1.95996 * reach).toBeCloseTo(4.146, 3);
    expect(inverterLoss([2])).toEqual(inverterLoss(2));
    // A log that shows it decides here too.
    expect(inverterLoss([1, 4], { size: 1, error: 0.01 }).mean).toBeCloseTo(1, 3);
  });

  test("a log that shows it decides, one that shows none lets it vanish, and far outside stays in range", () => {
    const seen = inverterLoss(2, { size: 1, error: 0.01 });
    expect(seen.mean).toBeCloseTo(1, 3);
    expect(seen.none).toBeLessThan(1e-100);
    const absent = inverterLoss(2, { size: 0, error: 0.01 });
    expect(absent.mean).toBeLessThan(1e-4);
    expect(absent.none).toBeGreaterThan(0.99);
    for (const size of [-1e6, -1, 1e6]) {
      const far = inverterLoss(2, { size, error: 0.01 });
      expect(Number.isFinite(far.mean) && far.mean >= 0 && far.deviation >= 0).toBe(true);
    }
    // Either side of the switch to Mills' ratio.
    const [a, b] = [-0.0599, -0.0601].map((size) => inverterLoss(2, { size, error: 0.01 }).mean);
    expect(Math.abs(a / b - 1)).toBeLessThan(0.02);
  });
});

test("a weight on the shaft is told from friction: inertia and both directions beside it", () => {
  const rig = {
    ...{ inertia: 2e-5, constant: 0.03, resistance: 0.8, inductance: 5e-4, volts: 60 },
    ...{ coulomb: 4e-3, stiction: 1.3, viscous: 8e-6, law: () => 1, ripple: { periods: 24, part: 0.01 } },
    load: { name: "weight", torque: () => 0.02 },
  };
  const moving = new Moving(rig, 0.3);
  const random = seeded(77);
  const rows = 2000;
  const column = (): Float64Array => new Float64Array(rows);
  const [time, currentCommand, current, position] = [column(), column(), column(), column()];
  for (let k = 0; k < rows; k++) {
    const t = k * 1e-3;
    const asked = t < 0.2 ? 0 : t < 0.8 ? 1.5 : t < 1.5 ? -1.5 : 0.75;
    time[k] = t;
    currentCommand[k] = asked;
    current[k] = moving.current + 0.02 * gaussian(random);
    position[k] = ((2 * Math.PI) / 4000) * Math.floor((moving.angle * 4000) / (2 * Math.PI));
    for (let s = 0; s < 10; s++) moving.step({ current: asked }, 1e-4);
  }
  const recording = madeRecording(
    time,
    { currentCommand, current, position },
    { resolution: (2 * Math.PI) / 4000 },
  );
  const { ratios, findings } = estimateConstants(recording, cutTrials(recording).trials);
  const holds = (name: keyof typeof ratios, truth: number): void => {
    expect(ratios[name]!.low).toBeLessThan(truth);
    expect(ratios[name]!.high).toBeGreaterThan(truth);
  };
  holds("inertiaOverTorqueConstant", 2e-5 / 0.03);
  expect(ratios.inertiaOverTorqueConstant!.high / ratios.inertiaOverTorqueConstant!.low).toBeLessThan(1.05);
  holds("coulombOverTorqueConstant", 4e-3 / 0.03);
  holds("coulombOverTorqueConstantPositive", 0.024 / 0.03);
  holds("coulombOverTorqueConstantNegative", -0.016 / 0.03);
  expect(findings.map((f) => f.code)).toContain("friction-differs-by-direction");
  expect(findings.map((f) => f.code)).not.toContain("below-zero");
});

test("times that are short beside the rows are known to half a row", () => {
  const time = (value: number, half: number) => ({
    value,
    low: value - half,
    high: value + half,
    unit: "s",
    method: "",
  });
  const fit = {
    model: "second-order-overdamped",
    timeConstant: time(2.5, 0.03),
    fastTimeConstant: time(0.0038, 0.0015),
    naturalFrequency: { ...time(10, 2), unit: "rad/s" },
    deadTime: time(0.001, 0.0001),
  } as unknown as StepFit;
  const slow = withRowTimes(fit, 0.02);
  expect(slow.fastTimeConstant!.low).toBe(0);
  expect(slow.fastTimeConstant!.high).toBeGreaterThan(0.0138);
  expect(slow.naturalFrequency).toBeUndefined();
  expect(slow.timeConstant).toEqual(fit.timeConstant);
  const quick = withRowTimes(fit, 1e-4);
  expect(quick.naturalFrequency!.low).toBeLessThanOrEqual(8);
  expect(quick.deadTime!.high - quick.deadTime!.low).toBeCloseTo(2 * Math.hypot(1e-4, 5e-5), 12);
});
