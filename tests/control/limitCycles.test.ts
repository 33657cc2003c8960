import { expect, test } from "vitest";
import {
  analyseLoop,
  fixLoop,
  limitCycles,
  noiseGain,
  type SpeedLoop,
  simulateLoop,
} from "../../lib/control/index.js";
import type { Bench } from "../../lib/motor/index.js";
import { simulate } from "../../lib/simulation/index.js";

const base: SpeedLoop = {
  plant: { inertia: 1e-4, torqueConstant: 0.1 },
  gains: { kp: 0.2, ki: 8 },
  currentBandwidth: 5000,
  sampleTime: 2.5e-4,
  speedMeasurement: "difference",
  countsPerTurn: 4000,
};

test("chatter on a count's edge: the describing function's frequency and size are those of the run", () => {
  const [cycle] = limitCycles(fixLoop(base));
  expect(cycle).toMatchObject({ cause: "counts", method: "describing function", likely: true });
  // The run: held on the edge between counts by a load that half a count's worth of integral balances.
  const edge = Math.PI / 4000;
  const trace = simulateLoop(
    base,
    { duration: 0.6, reference: () => 0, load: () => -0.1 * 8 * edge },
    { start: { position: edge, speed: 1e-4 } },
  );
  const half = trace.time.length >> 1;
  let [crossings, low, high] = [0, Infinity, -Infinity];
  for (let k = half + 1; k < trace.time.length; k++) {
    if (trace.position[k] > edge !== trace.position[k - 1] > edge) crossings++;
    low = Math.min(low, trace.position[k]);
    high = Math.max(high, trace.position[k]);
  }
  const frequency = crossings / 2 / (trace.time[trace.time.length - 1] - trace.time[half]);
  // A describing function answers to a fifth or so where the loop filters the harmonics well; here within a factor
  // of 1.5.
  expect(frequency / cycle.frequency).toBeGreaterThan(1 / 1.5);
  expect(frequency / cycle.frequency).toBeLessThan(1.5);
  expect((high - low) / 2 / cycle.amplitude).toBeGreaterThan(0.5);
  expect((high - low) / 2 / cycle.amplitude).toBeLessThan(2);
});

test("friction above the torque of one count swallows the chatter", () => {
  const [cycle] = limitCycles(fixLoop({ ...base, plant: { ...base.plant, staticFriction: 1 } }));
  expect(cycle.likely).toBe(false);
  expect(cycle.text).toMatch(/held by friction/);
});

test("a position loop hunts by static friction above Coulomb friction, and does not by Coulomb friction alone", () => {
  const position: SpeedLoop = {
    ...base,
    countsPerTurn: undefined,
    positionGain: 5,
    gains: { kp: 0.05, ki: 1 },
    plant: { ...base.plant, coulombFriction: 0.01, staticFriction: 0.03, stribeckSpeed: 0.2 },
  };
  const fixed = fixLoop(position);
  expect(analyseLoop(position).stable).toBe(true);
  const [cycle] = limitCycles(fixed).filter((c) => c.cause === "static friction");
  expect(cycle.method).toBe("simulation");
  expect(cycle.current).toBeGreaterThan(0.3); // breakaway needs 0.03/0.1 A
  // A run from elsewhere settles into the same cycle.
  const trace = simulateLoop(position, { duration: 30, reference: () => 1 });
  let [low, high] = [Infinity, -Infinity];
  for (let k = trace.time.length >> 1; k < trace.time.length; k++) {
    low = Math.min(low, trace.position[k]);
    high = Math.max(high, trace.position[k]);
  }
  expect((high - low) / 2 / cycle.amplitude).toBeGreaterThan(0.8);
  expect((high - low) / 2 / cycle.amplitude).toBeLessThan(1.25);
  const coulomb = { ...position, plant: { ...position.plant, coulombFriction: 0.03 } };
  expect(limitCycles(fixLoop(coulomb))).toEqual([]);
});

test("a loop that runs away has no limit cycle to speak of", () => {
  expect(limitCycles(fixLoop({ ...base, plant: { ...base.plant, torqueGain: -1 } }))).toEqual([]);
});

test("noise gain: a pure gain on white noise, and the run's own ripple from counts", () => {
  // Without integral and with a huge inertia nothing comes back: the command is kp times the noise.
  const open = fixLoop({ ...base, plant: { inertia: 1e3, torqueConstant: 0.1 }, gains: { kp: 0.2, ki: 0 } });
  expect(noiseGain(open).gain).toBeCloseTo(0.2, 6);
  const loop: SpeedLoop = { ...base, gains: { kp: 0.05, ki: 1 } };
  const predicted = noiseGain(fixLoop(loop)).rippleFromCounts!;
  // At a steady speed of many uneven counts a sample
  const trace = simulateLoop(loop, { duration: 1.5, reference: () => 37.7 });
  const from = Math.floor(trace.time.length * 0.6);
  const tail = trace.command.subarray(from);
  const mean = tail.reduce((s, v) => s + v, 0) / tail.length;
  const rms = Math.sqrt(tail.reduce((s, v) => s + (v - mean) ** 2, 0) / tail.length);
  expect(rms / predicted).toBeGreaterThan(0.6);
  expect(rms / predicted).toBeLessThan(1.6);
});

test("an unstable loop that friction hides: small swings die, larger ones grow, in two simulators", () => {
  const hidden: SpeedLoop = {
    plant: { inertia: 1e-4, torqueConstant: 0.1, viscousFriction: 1e-4, coulombFriction: 0.02 },
    gains: { kp: 1.5, ki: 8 },
    currentBandwidth: 2000,
    sampleTime: 5e-4,
    speedFilter: 800,
  };
  const report = analyseLoop(hidden);
  expect(report.stable).toBe(false);
  const cycle = report.limitCycles.find((c) => c.cause === "Coulomb friction")!;
  expect(cycle.method).toBe("simulation");
  const swing = cycle.amplitude * 2 * Math.PI * cycle.frequency;
  const last = (start: number): number => {
    const { speed } = simulateLoop(
      hidden,
      { duration: 0.6, reference: () => 0 },
      { quantised: false, start: { speed: start } },
    );
    return speed.slice(-100).reduce((most, w) => Math.max(most, Math.abs(w)), 0);
  };
  expect(last(0.5 * swing)).toBe(0);
  expect(last(1.5 * swing)).toBeGreaterThan(10 * swing);
  // Without friction nothing hides it, and a stable loop has no such cycle.
  const bare = { ...hidden, plant: { ...hidden.plant, coulombFriction: 0 } };
  expect(analyseLoop(bare).limitCycles.find((c) => c.cause === "Coulomb friction")).toBeUndefined();
  const tame = { ...hidden, gains: { kp: 0.6, ki: 8 } };
  expect(analyseLoop(tame).limitCycles.find((c) => c.cause === "Coulomb friction")).toBeUndefined();

  // The bench simulator, which shares no code: its drive computes one 0.1 ms period late, so a little more gain is
  // needed for the same loop.
  const bench: Bench = {
    motor: {
      polePairs: 4,
      resistance: 0.4,
      inductanceD: 1e-3,
      inductanceQ: 1e-3,
      fluxLinkage: 0.1 / 6,
      inertia: 1e-4,
      coulombFriction: 0.02,
      staticFriction: 0.02,
      viscousFriction: 1e-4,
    },
    drive: {
      busVoltage: 300,
      modulation: "space-vector",
      currentLimit: 200,
      samplePeriod: 1e-4,
      currentBandwidth: 2000,
      polePairs: 4,
      encoderLines: 100_000,
      speedLoop: { kp: 2.2, ki: 8 },
      speedDivider: 5,
      speedFilter: 1 / 800,
      alignment: { kind: "aligned" },
    },
    encoder: { lines: 100_000, sense: 1 },
    order: "UVW",
  };
  const end = (startSpeed: number): number =>
    simulate(bench, [{ kind: "speed", from: 0, duration: 0.6 }], { startSpeed, logRate: 2000 })
      .truth.speed.slice(-100)
      .reduce((most, w) => Math.max(most, Math.abs(w)), 0);
  expect(end(0.2)).toBeLessThan(0.05);
  expect(end(20)).toBeGreaterThan(20);
});
