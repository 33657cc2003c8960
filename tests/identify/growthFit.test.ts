import { expect, test } from "vitest";
import { fitGrowth } from "../../lib/identify/loop/growthFit.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";

/**
 * The loop J*dw/dt = -k*(kp*e + ki*integral(e)) with k < 0 in closed form: its rates are the roots of
 * J*s^2 + k*kp*s + k*ki = 0, and e(0) = -reference, de/dt(0) = (-k*kp/J)*e(0) set the amplitudes.
 */
function runaway({ corner, ratio, reference }: { corner: number; ratio: number; reference: number }) {
  const root = Math.sqrt(corner ** 2 + 4 * corner * ratio);
  const [grow, decay] = [(corner + root) / 2, (root - corner) / 2];
  const slope = -corner * reference;
  const growing = (slope - decay * reference) / (grow + decay);
  const decaying = -reference - growing;
  return {
    grow,
    error: (t: number): number => growing * Math.exp(grow * t) + decaying * Math.exp(-decay * t),
  };
}

const grid = (rows: number, length: number): Float64Array =>
  Float64Array.from({ length: rows }, (_, k) => (k * length) / (rows - 1));

test("without noise the rate is the positive root of the loop's quadratic, integral gain or none", () => {
  for (const [corner, ratio] of [
    [20, 5],
    [40, 4],
    [15, 0],
  ]) {
    const { grow, error } = runaway({ corner, ratio, reference: 10 });
    const time = grid(500, 3 / grow);
    const found = fitGrowth(time, time.map(error), 0.01, 10)!;
    expect(Math.abs(found.rate / grow - 1)).toBeLessThan(1e-3);
    expect(found.low).toBeLessThan(grow);
    expect(found.high).toBeGreaterThan(grow);
    expect(found.factor).toBeCloseTo(Math.exp(3), 0);
  }
});

test("friction and loads beside a proportional gain are a constant beside the growth", () => {
  const time = grid(400, 0.2);
  const found = fitGrowth(
    time,
    time.map((t) => 7 - 3 * Math.exp(14 * t)),
    0.01,
  )!;
  expect(found.rate).toBeGreaterThan(13.98);
  expect(found.rate).toBeLessThan(14.02);
});

test("of 80 noisy runaways the interval holds the rate in about 95 of 100, also where the noise is correlated", () => {
  const [white, slow] = [0, 0.8].map((carry) => {
    const random = seeded(4711 + Math.round(100 * carry));
    let held = 0;
    for (let n = 0; n < 80; n++) {
      const { grow, error } = runaway({
        corner: 15 + 30 * random(),
        ratio: 2 + 6 * random(),
        reference: 0.5,
      });
      let noise = 0;
      const time = grid(120, (2 + random()) / grow);
      const seen = time.map((t) => {
        noise = carry * noise + Math.sqrt(1 - carry ** 2) * gaussian(random);
        return error(t) + 0.02 * noise;
      });
      const found = fitGrowth(time, seen, 1e-3, 0.5);
      if (found === undefined) continue;
      const { low = 0, high = Number.POSITIVE_INFINITY } = found;
      if (low <= grow && grow <= high) held++;
    }
    return held / 80;
  });
  // Two standard errors of a fraction of 80 are 5 points.
  expect(white).toBeGreaterThanOrEqual(0.9);
  expect(white).toBeLessThanOrEqual(0.99);
  expect(slow).toBeGreaterThanOrEqual(0.9);
  expect(slow).toBeLessThanOrEqual(0.99);
});

test("a speed that does not grow has no rate", () => {
  const time = grid(200, 0.4);
  expect(
    fitGrowth(
      time,
      time.map((t) => 5 * t),
      0.01,
    )?.high,
  ).toBeUndefined();
});
