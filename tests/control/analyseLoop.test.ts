import fc from "fast-check";
import { expect, test } from "vitest";
import { analyseLoop, type SpeedLoop, simulateLoop, stepPrediction } from "../../lib/control/index.js";
import { isStable, loopMargins } from "../../lib/control/margins/loopMargins.js";
import {
  continuousPoles,
  continuousResponse,
  frequencyRange,
} from "../../lib/control/models/continuousLoop.js";
import {
  sampledLoop,
  sampledPoles,
  sampledResponse,
  toContinuousPole,
} from "../../lib/control/models/sampledLoop.js";
import { fixLoop } from "../../lib/control/models/speedLoop.js";

const base: SpeedLoop = {
  plant: { inertia: 1e-4, torqueConstant: 0.1, viscousFriction: 1e-4 },
  gains: { kp: 0.2, ki: 8 },
  currentBandwidth: 5000,
  sampleTime: 2.5e-4,
  speedMeasurement: "difference",
};
const variants: SpeedLoop[] = [
  base,
  { ...base, positionGain: 20 },
  { ...base, computationDelay: 1.7e-4, speedFilter: 3000 },
  { ...base, computationDelay: 6.1e-4, integration: "trapezoid", speedMeasurement: "direct" },
  { ...base, currentBandwidth: undefined, integration: "forward" },
  { ...base, positionGain: 40, speedFilter: 2000, gains: { kp: 0.2, ki: 8, referenceWeight: 0.3 } },
];

test("the closed loop over one sample and the sample-by-sample run agree without friction, limits and counts", () => {
  for (const loop of variants) {
    const fixed = fixLoop(loop);
    const system = sampledLoop(fixed);
    let x = system.input.map(() => 0);
    const trace = simulateLoop(loop, { duration: 200 * 2.5e-4, reference: () => 1 });
    let worst = 0;
    for (let k = 0; k <= 200; k++) {
      worst = Math.max(worst, Math.abs(x[system.index.speed] - trace.speed[k]));
      x = system.transition.map((row, i) => row.reduce((s, v, j) => s + v * x[j], 0) + system.input[i]);
    }
    const size = Math.max(...trace.speed);
    expect(worst / size).toBeLessThan(2e-4);
  }
});

test("every sampled pole is a zero of 1 + L(z)", () => {
  // L is known on the unit circle; the poles by their place: the argument principle counts zeros outside through the
  // winding number.
  for (const [k, loop] of variants.entries()) {
    for (const gain of [1, 20, 60]) {
      const fixed = { ...fixLoop(loop), torquePerAmpere: 0.1 * gain };
      const l = sampledResponse(fixed);
      let turned = 0;
      let before = 0;
      const nyquist = Math.PI / fixed.sampleTime;
      const points = 8000;
      for (let n = 0; n <= points; n++) {
        const omega = nyquist * (n === 0 ? 1e-9 : (n / points) ** 4);
        const v = l(omega);
        const phi = Math.atan2(v.im, 1 + v.re);
        if (n > 0) {
          let d = phi - before;
          if (d > Math.PI) d -= 2 * Math.PI;
          if (d < -Math.PI) d += 2 * Math.PI;
          turned += d;
        }
        before = phi;
      }
      // Open-loop poles at z = 1 (the sum; with a position loop the position and the sum again) are passed on the
      // outside: half a turn for each over the whole circle, a quarter over the half circle that was walked. Friction
      // keeps the speed's pole inside.
      const atOne = fixed.positionGain === undefined ? 1 : 2;
      const outside = Math.round(((atOne * Math.PI) / 2 - turned) / Math.PI) + 0;
      expect([k, gain, sampledPoles(fixed).filter((z) => Math.hypot(z.re, z.im) > 1).length]).toEqual([
        k,
        gain,
        outside,
      ]);
    }
  }
});

test("the continuous model approaches the sampled one as the sample time falls", () => {
  const errors = [4e-4, 2e-4, 1e-4].map((sampleTime) => {
    const fixed = fixLoop({ ...base, sampleTime });
    const exact = sampledPoles(fixed)
      .map((z) => toContinuousPole(z, sampleTime))
      .sort((a, b) => b.re - a.re)[0];
    const near = continuousPoles(fixed, 4)[0];
    return Math.abs(exact.re / near.re - 1);
  });
  expect(errors[0]).toBeLessThan(0.03);
  // backward summing differs from the integral by half a sample: the error falls as the sample time
  expect(errors[1] / errors[0]).toBeCloseTo(0.5, 1);
  expect(errors[2] / errors[1]).toBeCloseTo(0.5, 1);
});

test("at its gain margin a loop stands on the edge of stability, in both models", () => {
  for (const loop of [
    ...variants,
    { ...base, sampleTime: undefined, computationDelay: 3e-4, speedMeasurement: undefined },
  ]) {
    const fixed = fixLoop(loop);
    const { gainMargin, delayMargin } = loopMargins(fixed);
    const scaled = (k: number) => ({ ...fixed, torquePerAmpere: fixed.torquePerAmpere * k });
    expect(isStable(scaled(gainMargin * 0.99), 6)).toBe(true);
    expect(isStable(scaled(gainMargin * 1.01), 6)).toBe(false);
    if (fixed.sampleTime === 0) {
      expect(isStable({ ...fixed, computationDelay: fixed.computationDelay + delayMargin * 0.98 }, 6)).toBe(
        true,
      );
      expect(isStable({ ...fixed, computationDelay: fixed.computationDelay + delayMargin * 1.02 }, 6)).toBe(
        false,
      );
    }
  }
});

test("the report carries the spread of the plant", () => {
  const inertia = { value: 1e-4, low: 0.8e-4, high: 1.2e-4, unit: "kg.m2", method: "test" };
  const analyse = () => analyseLoop({ ...base, plant: { ...base.plant, inertia } }, { draws: 80 });
  const wide = analyse();
  const plain = analyseLoop(base);
  expect(plain.margins?.phaseMargin?.low).toBe(plain.margins?.phaseMargin?.high);
  const crossover = wide.margins!.crossover!;
  // crossover is about kp*Kt/J: +-20 % of J
  expect(crossover.low / crossover.value).toBeGreaterThan(0.78);
  expect(crossover.low / crossover.value).toBeLessThan(0.9);
  expect(crossover.high / crossover.value).toBeGreaterThan(1.12);
  expect(wide.stableShare).toBe(1);
  expect(wide.stableAtCorners).toBe(true);
  expect(analyse()).toEqual(wide);
});

test("a reversed torque is unstable, says why, and grows as predicted when run", () => {
  const loop: SpeedLoop = { ...base, plant: { ...base.plant, torqueGain: -0.5 } };
  const report = analyseLoop(loop);
  expect(report.stable).toBe(false);
  expect(report.margins).toBeUndefined();
  expect(report.runaway?.text).toMatch(/right half plane/);
  const tau = report.runaway!.growthTime.value;
  expect(report.poles[0].re * tau).toBeCloseTo(1, 1);
  // the run itself: from a small disturbance the speed grows by e every tau of the sampled pole
  const trace = simulateLoop(loop, { duration: 0.2, reference: () => 1e-3 });
  const n = trace.speed.length - 1;
  const m = n - 40;
  const measured = Math.log(trace.speed[n] / trace.speed[m]) / (trace.time[n] - trace.time[m]);
  expect(measured / report.poles[0].re).toBeCloseTo(1, 3);
});

test("an uncertain sign of the torque shows in the share of stable loops", () => {
  const report = analyseLoop({
    ...base,
    plant: { ...base.plant, torqueGain: { value: 0.1, low: -0.1, high: 0.3, unit: "1", method: "test" } },
  });
  expect(report.stable).toBe(true);
  expect(report.stableAtCorners).toBe(false);
  // P(g > 0) with mean 0.1 and standard deviation 0.2/1.96 is 0.836
  expect(report.stableShare).toBeGreaterThan(0.75);
  expect(report.stableShare).toBeLessThan(0.92);
});

test("the offset tolerance is where the demand fails", () => {
  const report = analyseLoop({
    ...base,
    gains: { kp: 0.2, ki: 40 },
    plant: { inertia: 1e-4, torqueConstant: 0.1 },
  });
  const { marginBelow, stableBelow } = report.offset;
  expect(stableBelow).toBeGreaterThan(85);
  expect(marginBelow).toBeGreaterThan(10);
  expect(marginBelow).toBeLessThan(89);
  const at = (degrees: number) =>
    analyseLoop({
      ...base,
      gains: { kp: 0.2, ki: 40 },
      plant: { inertia: 1e-4, torqueConstant: 0.1, torqueGain: Math.cos((degrees * Math.PI) / 180) },
    }).margins!.phaseMargin!.value;
  expect(at(marginBelow - 0.5)).toBeGreaterThan(30);
  expect(at(marginBelow + 0.5)).toBeLessThan(30);
  // breakaway friction against the current limit: cos(limit) = 0.05/(0.1*1)
  const limited = analyseLoop({ ...base, currentLimit: 1, plant: { ...base.plant, coulombFriction: 0.05 } });
  expect(limited.offset.torqueBelow).toBeCloseTo(60, 9);
});

test("without any delay the quadratic's own figures come out", () => {
  // J s^2 + K kp s + K ki with omega0 = 100, zeta = 0.5
  const loop: SpeedLoop = {
    plant: { inertia: 0.01, torqueConstant: 1 },
    gains: { kp: 1, ki: 100, referenceWeight: 0 },
  };
  const report = analyseLoop(loop);
  expect(report.poles[0].frequency).toBeCloseTo(100, 9);
  expect(report.poles[0].damping).toBeCloseTo(0.5, 9);
  const { figures } = stepPrediction(loop);
  // overshoot exp(-pi zeta/sqrt(1-zeta^2)): Ogata, second-order systems
  expect(figures.overshoot).toBeCloseTo(Math.exp((-Math.PI * 0.5) / Math.sqrt(0.75)), 3);
  expect(report.assumptions.join(" ")).toMatch(/without delay/);
});

test("numbers that make no loop are named", () => {
  expect(() => analyseLoop({ ...base, plant: { ...base.plant, inertia: 0 } })).toThrow(
    /inertia must be above 0, found 0/,
  );
  expect(() => analyseLoop({ ...base, computationDelay: -1 })).toThrow(/computationDelay/);
  expect(() => analyseLoop({ ...base, computationDelay: 1 })).toThrow(/50 sample times/);
  expect(() => analyseLoop({ ...base, sampleTime: undefined })).toThrow(/difference needs a sampleTime/);
  expect(() => analyseLoop({ ...base, gains: { kp: Number.NaN, ki: 1 } })).toThrow(/kp/);
  expect(() => analyseLoop(base, { padeOrder: 20 })).toThrow(/padeOrder/);
});

test("whatever the numbers, the analysis answers", () => {
  const size = (low: number, high: number) =>
    fc.double({ min: Math.log(low), max: Math.log(high), noNaN: true }).map(Math.exp);
  fc.assert(
    fc.property(
      size(1e-7, 10),
      size(1e-3, 10),
      size(1e-5, 1e3),
      fc.oneof(fc.constant(0), size(1e-5, 1e5)),
      size(1e-5, 1e-2),
      size(10, 1e5),
      fc.double({ min: -1, max: 1, noNaN: true }),
      fc.option(size(0.1, 1e3), { nil: undefined }),
      (inertia, torqueConstant, kp, ki, sampleTime, currentBandwidth, torqueGain, positionGain) => {
        const report = analyseLoop({
          plant: { inertia, torqueConstant, torqueGain },
          gains: { kp, ki },
          sampleTime,
          currentBandwidth,
          positionGain,
        });
        for (const pole of report.poles) expect(Number.isNaN(pole.re)).toBe(false);
        if (torqueGain < 0 && ki > 0) expect(report.stable).toBe(false);
        if (report.margins) expect(report.margins.sensitivityPeak.value).toBeGreaterThan(0);
      },
    ),
    {
      seed: 6,
      numRuns: 15,
      examples: [
        [1, 1, 1, 0, 0.01, 10, Number.MIN_VALUE, undefined],
        [1, 1, 1, 0.5, 0.01, 10, -Number.MIN_VALUE, undefined],
      ],
    },
  );
});

test("the frequency range holds the crossovers", () => {
  const fixed = fixLoop(base);
  const { from, to } = frequencyRange(fixed);
  expect(Math.hypot(continuousResponse(fixed, from).re, continuousResponse(fixed, from).im)).toBeGreaterThan(
    1,
  );
  expect(Math.hypot(continuousResponse(fixed, to).re, continuousResponse(fixed, to).im)).toBeLessThan(1);
});
