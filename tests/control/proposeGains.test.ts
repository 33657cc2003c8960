import { expect, test } from "vitest";
import { proposeGains, type SpeedLoop, simulateLoop } from "../../lib/control/index.js";
import type { Bench } from "../../lib/motor/index.js";
import { simulate } from "../../lib/simulation/index.js";

const about = (value: number, share: number) => ({
  value,
  low: value * (1 - share),
  high: value * (1 + share),
  unit: "1",
  method: "test",
});
const plant: Omit<SpeedLoop, "gains"> = {
  plant: {
    inertia: about(1e-4, 0.1),
    torqueConstant: about(0.1, 0.05),
    viscousFriction: 1e-4,
    coulombFriction: 0.005,
  },
  currentBandwidth: 3000,
  sampleTime: 2.5e-4,
  speedMeasurement: "difference",
  countsPerTurn: 20000,
  currentLimit: 10,
};

test("four rules, each stable over the spread, with figures and a caution", () => {
  const { proposals, missing } = proposeGains(plant, { draws: 20 });
  expect(missing).toEqual([]);
  expect(proposals.map((p) => p.rule).sort()).toEqual([
    "integrating process",
    "pole placement",
    "sensitivity limit",
    "symmetrical optimum",
  ]);
  for (const p of proposals) {
    expect(p.gains.kp).toBeGreaterThan(0);
    expect(p.report.stable).toBe(true);
    expect(p.report.stableAtCorners).toBe(true);
    expect(p.report.margins!.phaseMargin!.low).toBeGreaterThan(25);
    expect(p.expected.overshoot).toBeLessThanOrEqual(0.1001);
    expect(p.expected.rise).toBeGreaterThan(0);
    expect(p.expected.settling).toBeGreaterThan(p.expected.rise!);
    expect(p.report.noise!.gain).toBeGreaterThan(0);
    expect(p.checked.peakCurrent).toBeLessThanOrEqual(10);
    expect(p.caution).toMatch(/reduced/);
  }
  const limited = proposals.find((p) => p.rule === "sensitivity limit")!;
  // the limit holds at the corners with the most and the least acceleration too, so over the draws
  expect(limited.report.margins!.sensitivityPeak.high).toBeLessThan(1.61);
});

test("the check sees the current limit and the voltage", () => {
  const { proposals } = proposeGains(plant, { draws: 2, stepSize: 200 });
  const so = proposals.find((p) => p.rule === "integrating process")!;
  expect(so.checked.limitedShare).toBeGreaterThan(0);
  expect(so.checked.text).toMatch(/limit/);
  // 200 rad/s need 200*0.1/1.5 = 13.3 V of back-EMF: 12 V do not get there
  const starved = proposeGains(plant, {
    draws: 2,
    stepSize: 200,
    voltage: { available: 12, resistance: 0.2 },
  });
  for (const p of starved.proposals) expect(p.checked.text).toMatch(/not reached/);
});

test("no proposal for a reversed torque, and without any lag only what was asked for", () => {
  const reversed = proposeGains({ ...plant, plant: { ...plant.plant, torqueGain: -0.5 } });
  expect(reversed.proposals).toEqual([]);
  expect(reversed.missing[0]).toMatch(/no positive gain/);
  const bare = proposeGains({ plant: { inertia: 1e-4, torqueConstant: 0.1 } });
  expect(bare.proposals).toEqual([]);
  expect(bare.missing[0]).toMatch(/no lag/);
  const asked = proposeGains({ plant: { inertia: 1e-4, torqueConstant: 0.1 } }, { frequency: 100 });
  expect(asked.proposals.length).toBe(1);
  expect(asked.proposals[0].gains.kp).toBeCloseTo(0.2, 9);
  expect(asked.proposals[0].gains.ki).toBeCloseTo(10, 9);
});

test("the loop simulator and the bench simulator, which share no code, run the same speed step", () => {
  const p = 4;
  const fluxLinkage = 0.0125;
  const bench: Bench = {
    motor: {
      polePairs: p,
      resistance: 0.4,
      inductanceD: 1e-3,
      inductanceQ: 1e-3,
      fluxLinkage,
      inertia: 2e-4,
      coulombFriction: 0.005,
      viscousFriction: 2e-5,
      staticFriction: 0.006,
    },
    drive: {
      busVoltage: 48,
      modulation: "space-vector",
      currentLimit: 6,
      samplePeriod: 1e-4,
      currentBandwidth: 2500,
      polePairs: p,
      encoderLines: 5000,
      speedLoop: { kp: 0.15, ki: 4 },
      speedDivider: 5,
      speedFilter: 1e-3,
      alignment: { kind: "aligned" },
    },
    encoder: { lines: 5000, sense: 1 },
    order: "UVW",
  };
  const trace = simulate(
    bench,
    [
      { kind: "speed", from: 0, duration: 0.05 },
      { kind: "speed", from: 60, duration: 0.25 },
    ],
    { logRate: 2000 },
  );
  const loop: SpeedLoop = {
    plant: {
      inertia: 2e-4,
      torqueConstant: 1.5 * p * fluxLinkage,
      viscousFriction: 2e-5,
      coulombFriction: 0.005,
      staticFriction: 0.006,
    },
    gains: { kp: 0.15, ki: 4 },
    currentBandwidth: 2500,
    sampleTime: 5e-4,
    computationDelay: 1e-4,
    speedMeasurement: "difference",
    speedFilter: 1000,
    countsPerTurn: 20000,
    currentLimit: 6,
  };
  const own = simulateLoop(loop, { duration: 0.25, reference: () => 60 });
  const start = trace.time.findIndex((t) => t >= 0.05 - 1e-9);
  let squares = 0;
  let n = 0;
  for (let k = 0; k < 480; k++) {
    squares += (trace.truth.speed[start + k] - own.speed[k]) ** 2;
    n++;
  }
  // 60 rad/s step: below 3 % RMS apart (the drive of the bench computes one period late and stops its sum its own way)
  expect(Math.sqrt(squares / n) / 60).toBeLessThan(0.03);
});
