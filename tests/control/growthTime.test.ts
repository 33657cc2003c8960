import fc from "fast-check";
import { expect, test } from "vitest";
import { limitedAcceleration } from "../../lib/control/fromRun/predictRunaway.js";
import { growthTime, unseenLag } from "../../lib/control/index.js";

test("without lags the growth time is the reciprocal of the positive root of the quadratic", () => {
  // J s^2 + (B + g Kt kp) s + g Kt ki with J = 1e-4, B = 0, g Kt = -0.1, kp = 0.02, ki = 0.2
  const s = (0.002 + Math.sqrt(0.002 ** 2 + 4 * 1e-4 * 0.02)) / (2 * 1e-4);
  const found = growthTime({ inertia: 1e-4, torqueConstant: 0.1, torqueGain: -1 }, { kp: 0.02, ki: 0.2 });
  expect(found?.value).toBeCloseTo(1 / s, 12);
  expect(found?.unit).toBe("s");
});

test("a positive torque gain has no runaway pole, whatever the gains", () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0.01, max: 1, noNaN: true }),
      fc.double({ min: 1e-3, max: 10, noNaN: true }),
      (g, kp) => {
        expect(
          growthTime({ inertia: 1e-4, torqueConstant: 0.1, torqueGain: g }, { kp, ki: kp }),
        ).toBeUndefined();
      },
    ),
    { seed: 6, numRuns: 50 },
  );
});

test("a negative torque gain has one for every positive pair of gains, and larger gains never slow it", () => {
  fc.assert(
    fc.property(
      fc.double({ min: -1, max: -0.01, noNaN: true }),
      fc.double({ min: 1e-3, max: 10, noNaN: true }),
      fc.double({ min: 1e-3, max: 100, noNaN: true }),
      fc.double({ min: 0, max: 1e-3, noNaN: true }),
      (g, kp, ki, computationDelay) => {
        const plant = { inertia: 1e-4, torqueConstant: 0.1, torqueGain: g, viscousFriction: 1e-5 };
        const lags = { computationDelay, currentBandwidth: 2000 };
        const base = growthTime(plant, { kp, ki }, lags)!.value;
        expect(base).toBeGreaterThan(0);
        expect(growthTime(plant, { kp: 2 * kp, ki }, lags)!.value).toBeLessThan(base);
        expect(growthTime(plant, { kp, ki: 2 * ki }, lags)!.value).toBeLessThan(base);
        // and lags slow it
        expect(growthTime(plant, { kp, ki })!.value).toBeLessThanOrEqual(base * (1 + 1e-9));
      },
    ),
    { seed: 6, numRuns: 100 },
  );
});

test("intervals of the plant become an interval of the growth time", () => {
  const interval = (value: number, low: number, high: number) => ({
    value,
    low,
    high,
    unit: "1",
    method: "test",
  });
  const found = growthTime(
    { inertia: interval(1e-4, 0.9e-4, 1.1e-4), torqueConstant: 0.1, torqueGain: interval(-0.5, -0.6, -0.4) },
    { kp: 0.02, ki: 0.2 },
  )!;
  const exact = (inertia: number, torqueGain: number) =>
    growthTime({ inertia, torqueConstant: 0.1, torqueGain }, { kp: 0.02, ki: 0.2 })!.value;
  expect(found.low).toBeCloseTo(exact(0.9e-4, -0.6), 12);
  expect(found.high).toBeCloseTo(exact(1.1e-4, -0.4), 12);
  const straddling = growthTime(
    { inertia: 1e-4, torqueConstant: 0.1, torqueGain: interval(-0.1, -0.3, 0.1) },
    { kp: 0.02, ki: 0.2 },
  )!;
  expect(straddling.high).toBe(Number.POSITIVE_INFINITY);
});

test("lags that may be there unseen slow the slow end of the interval alone, as a delay in the loop does", () => {
  const plant = { inertia: 1e-4, torqueConstant: 0.1, torqueGain: -1 };
  const gains = { kp: 0.02, ki: 0.2 };
  const plain = growthTime(plant, gains)!;
  const unseen = unseenLag({});
  const found = growthTime(plant, gains, {}, unseen)!;
  expect(found.value).toBe(plain.value);
  expect(found.low).toBe(plain.low);
  // The pole solves J*s*exp(s*delay) = abs(g)*Kt*(kp + ki/s) (closed form).
  const s = 1 / found.high;
  expect(1e-4 * s * Math.exp(s * unseen)).toBeCloseTo(0.1 * (0.02 + 0.2 / s), 9);
  expect(found.high).toBeGreaterThan(plain.high + 0.5 * unseen);
  expect(unseenLag({ currentBandwidth: 1000, sampleTime: 2.5e-4, speedFilter: 800 })).toBe(0);
  expect(unseenLag({ speedFilter: 800 })).toBeLessThan(unseen);
});

test("what the current lacks behind a rising back-EMF makes the shaft heavier, by the whole back-EMF whatever the torque factor", () => {
  // A winding R, L under a PI with kp = wc*L, ki = wc*R: i = -ke*w*s/((L*s + R)*(s + wc)) on each axis (closed form).
  const [inertia, torqueConstant, resistance, inductance, wc] = [1e-4, 0.1, 0.5, 1e-5, 1000];
  const gains = { kp: 0.02, ki: 0.2 };
  const backEmf = torqueConstant / 1.5;
  // The winding is quick enough here that a first-order high-pass is the whole of it.
  const corner = (wc * resistance) / (resistance + wc * inductance);
  for (const torqueGain of [-1, -0.5]) {
    const perSpeed = (torqueGain * backEmf) / (resistance + wc * inductance);
    const found = growthTime({ inertia, torqueConstant, torqueGain }, gains, {
      currentShortfall: { perSpeed, corner },
    })!;
    const s = 1 / found.value;
    const lacking = (torqueConstant * backEmf * s) / ((inductance * s + resistance) * (s + wc));
    const driving = -torqueGain * torqueConstant * (gains.kp + gains.ki / s);
    expect((inertia * s + lacking) / driving).toBeCloseTo(1, 3);
    // The edge of what a log allows makes the interval; more of it only slows.
    const edge = [0.5, 2].map((part) => ({ perSpeed: part * perSpeed, corner }));
    const spread = growthTime({ inertia, torqueConstant, torqueGain }, gains, {
      currentShortfall: { perSpeed, corner, edge },
    })!;
    expect(spread.value).toBe(found.value);
    expect(spread.low).toBeLessThan(found.value);
    expect(spread.high).toBeGreaterThan(found.value);
  }
});

test("a torque factor that may be 0 leaves the rise at the limit between 0 and its quick end", () => {
  const plant = {
    inertia: 1e-4,
    torqueConstant: 0.1,
    torqueGain: { value: -0.3, low: -0.6, high: 0, unit: "1", method: "stated" },
  };
  const currentShortfall = { perSpeed: -0.01, corner: 1000 };
  const rise = limitedAcceleration(plant, 2, 0, currentShortfall)!;
  // By hand: abs(g)*Kt*I over J + Kt*perSpeed/(corner*g).
  expect(rise.value).toBeCloseTo(0.06 / (1e-4 + 1e-6 / 0.3), 6);
  expect(rise.low).toBe(0);
  expect(rise.high).toBeCloseTo(0.12 / (1e-4 + 1e-6 / 0.6), 6);
  expect(growthTime(plant, { kp: 0.02, ki: 0.2 }, { currentShortfall })!.high).toBe(Number.POSITIVE_INFINITY);
});

test("a proportional gain that friction outweighs does not run away", () => {
  expect(
    growthTime(
      { inertia: 1e-4, torqueConstant: 0.1, torqueGain: -1, viscousFriction: 1e-2 },
      { kp: 0.05, ki: 0 },
    ),
  ).toBeUndefined();
});
