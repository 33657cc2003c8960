import { expect, test } from "vitest";
import {
  analyseLoop,
  fixLoop,
  limitCycles,
  noiseGain,
  type SpeedLoop,
  simulateLoop,
} from "../../lib/loop/index.js";

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
  // A describing function answers to a fifth or so where the loop filters the harmonics well; here within a factor of 1.5.
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
