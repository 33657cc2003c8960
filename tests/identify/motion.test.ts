import { expect, test } from "vitest";
import { speedFromPosition } from "../../lib/numeric/index.js";
import { modulatingFunction, project } from "../../lib/numeric/series/modulatingFunction.js";
import { uniforms as randomFrom } from "../house/uniforms.js";

const q = (2 * Math.PI) / 4096;
const time = Float64Array.from({ length: 2000 }, (_, i) => i * 1e-3);

test("speed from a quantised position: the chosen window is near the best of its ladder, far below a difference of counts", () => {
  const truth = time.map((t) => 30 + 20 * Math.sin(2 * t));
  const position = time.map((t) => Math.floor((30 * t + 10 * (1 - Math.cos(2 * t))) / q) * q);
  const rms = (speed: Float64Array | ((i: number) => number)): number => {
    let sum = 0;
    for (let i = 100; i < 1900; i++)
      sum += ((typeof speed === "function" ? speed(i) : speed[i]) - truth[i]) ** 2;
    return Math.sqrt(sum / 1800);
  };
  const chosen = speedFromPosition(time, position, { step: q });
  const ladder = [5, 9, 15, 25, 41, 65, 97, 129].map((window) =>
    rms(speedFromPosition(time, position, { step: q, window }).speed),
  );
  // With variance as 1/m^3 and squared bias as m^4, one step of the ladder (a factor of 1.8 at most) beside its best
  // costs at most what the quotient says.
  const step = 1.8;
  const apart = (m: number): number => m ** -3 + 0.75 * m ** 4;
  expect(rms(chosen.speed) / Math.min(...ladder)).toBeLessThan(Math.sqrt(apart(step) / apart(1)));
  expect(rms(chosen.speed)).toBeLessThan(0.02 * rms((i) => (position[i] - position[i - 1]) / 1e-3));
  expect(chosen.method).toContain("local quadratic");
  // Where the window is too short for bias to matter, the error is what the stated noise says.
  const short = speedFromPosition(time, position, { step: q, window: 25 });
  let stated = 0;
  for (let i = 100; i < 1900; i++) stated += short.speedNoise[i] ** 2;
  expect(rms(short.speed) / Math.sqrt(stated / 1800)).toBeCloseTo(1, 1);
});

test("over thirty motions the chosen window is the best of its ladder or its neighbour, and the best in most", () => {
  const ladder = [5, 9, 15, 25, 41, 65, 97, 129];
  const apart: number[] = [];
  for (let seed = 101; seed <= 130; seed++) {
    const random = randomFrom(seed);
    const mean = 10 * 10 ** random();
    const swing = 0.8 * mean * random();
    const rate = 1 + 9 * random();
    const start = q * random();
    const position = time.map(
      (t) => Math.floor((start + mean * t + (swing / rate) * (1 - Math.cos(rate * t))) / q) * q,
    );
    const error = (speed: Float64Array): number => {
      let sum = 0;
      for (let i = 100; i < 1900; i++) sum += (speed[i] - mean - swing * Math.sin(rate * time[i])) ** 2;
      return sum;
    };
    const errors = ladder.map((window) =>
      error(speedFromPosition(time, position, { step: q, window }).speed),
    );
    const chosen = ladder.indexOf(speedFromPosition(time, position, { step: q }).windows[1000]);
    apart.push(Math.abs(chosen - errors.indexOf(Math.min(...errors))));
  }
  expect(Math.max(...apart)).toBeLessThanOrEqual(1);
  expect(apart.filter((d) => d === 0).length).toBeGreaterThan(15);
});

test("noise of the slope is the closed form 12/(m(m^2-1)) for even times (Savitzky and Golay, 1964)", () => {
  const fast = time.map((t) => Math.floor((400 * t) / q) * q);
  const motion = speedFromPosition(time, fast, { step: q, window: 25 });
  const closed = (Math.sqrt(12 / (25 * (25 ** 2 - 1))) / 1e-3) * (q / Math.sqrt(12));
  expect(motion.speedNoise[1000] / closed).toBeGreaterThan(0.9);
  expect(motion.speedNoise[1000] / closed).toBeLessThan(1.3);
});

test("creeping within one count, the noise is stated larger, not smaller", () => {
  const creep = time.map((t) => Math.floor((0.4 * q * t) / 0.1 / q) * q);
  const fast = time.map((t) => Math.floor((400 * t) / q) * q);
  const slowNoise = speedFromPosition(time, creep, { step: q, window: 25 }).speedNoise[1010];
  const fastNoise = speedFromPosition(time, fast, { step: q, window: 25 }).speedNoise[1010];
  // A fit across 25 samples in which one count is crossed has one or two independent errors instead of 25: a factor
  // between sqrt(25/2) and sqrt(25), where its residuals are those of a uniform error; a window that happens to hold
  // them on one side has half of that.
  expect(slowNoise / fastNoise).toBeGreaterThan(Math.sqrt(25 / 2) / 2);
  expect(slowNoise / fastNoise).toBeLessThan(2 * Math.sqrt(25));
});

test("a bump is exact on constants, lines and parabolas, jitter of the times or not", () => {
  const jittered = time.map((t, i) => t + 2e-4 * Math.sin(i * 1.7));
  for (const clock of [time, jittered]) {
    const bump = modulatingFunction(clock, 100, 140);
    const parabola = clock.map((t) => 5 + 3 * t + 0.5 * 7 * t * t);
    const middle = (clock[100] + clock[139]) / 2;
    expect(project(bump, bump.curvature, parabola)).toBeCloseTo(7, 6);
    // The mean slope of a parabola is its slope where the bump has its centre of weight.
    expect(project(bump, bump.slope, parabola)).toBeCloseTo(3 + 7 * middle, 2);
    expect(
      project(
        bump,
        bump.weight,
        clock.map(() => 4),
      ),
    ).toBeCloseTo(4, 12);
  }
});
