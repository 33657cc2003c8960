import fc from "fast-check";
import { describe, expect, test } from "vitest";
import {
  delayBetween,
  differentiate,
  findSteps,
  median,
  noiseLevel,
  quantile,
  quantisationStep,
  robustScale,
  speedFromPosition,
  unwrap,
} from "../../lib/numeric/index.js";

/** Normal noise by the Box-Muller transform on a small linear congruential generator (constants of Numerical Recipes,
 * from memory). */
function normal(seed: number): () => number {
  let s = seed >>> 0;
  const uniform = (): number => {
    s = (Math.imul(s, 1664525) + 1013904223) >>> 0;
    return (s + 0.5) / 4294967296;
  };
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}

describe("order statistics", () => {
  test("quantiles of type 7 (Hyndman and Fan 1996): 1 to 4 at a quarter is 1.75", () => {
    expect(quantile([4, 1, 3, 2], 0.25)).toBe(1.75);
    expect(median([5, 1, 3])).toBe(3);
    expect(median([Number.NaN, 2, 4])).toBe(3);
    expect(median([])).toBeNaN();
  });

  test("selection agrees with sorting", () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ noNaN: true, min: -1e6, max: 1e6 }), { minLength: 1, maxLength: 60 }),
        (list) => {
          const sorted = [...list].sort((a, b) => a - b);
          const m = (sorted.length - 1) / 2;
          expect(median(list)).toBeCloseTo((sorted[Math.floor(m)] + sorted[Math.ceil(m)]) / 2, 6);
        },
      ),
      { seed: 1, numRuns: 200 },
    );
  });

  test("the robust scale of normal noise is its standard deviation", () => {
    const draw = normal(3);
    expect(robustScale(Float64Array.from({ length: 20000 }, () => 2 * draw()))).toBeCloseTo(2, 1);
    expect(robustScale([1, 2, 3, 4, 1000])).toBeCloseTo(1.4826, 10);
  });
});

describe("noise and quantisation", () => {
  test("noise on a ramp with a step is measured, the ramp and the step are not", () => {
    const draw = normal(5);
    const values = Float64Array.from(
      { length: 20000 },
      (_, i) => i * 0.01 + (i > 9000 ? 50 : 0) + 0.3 * draw(),
    );
    expect(noiseLevel(values)).toBeGreaterThan(0.28);
    expect(noiseLevel(values)).toBeLessThan(0.32);
  });

  test("the step of a quantised trace, also when it moves many steps a sample and is written with few digits", () => {
    const step = (2 * Math.PI) / 4096;
    const path = Float64Array.from({ length: 3000 }, (_, i) => Math.floor((i * i * 1e-4) / step) * step);
    expect(quantisationStep(path) / step).toBeCloseTo(1, 9);
    const rounded = path.map((v) => Number(v.toFixed(5)));
    expect(quantisationStep(rounded) / step).toBeCloseTo(1, 4);
  });

  test("smooth and noisy traces have none", () => {
    const draw = normal(11);
    expect(quantisationStep(Float64Array.from({ length: 2000 }, (_, i) => Math.sin(i * 0.01)))).toBeNaN();
    expect(quantisationStep(Float64Array.from({ length: 2000 }, () => draw()))).toBeNaN();
    expect(quantisationStep(new Float64Array(100))).toBeNaN();
  });

  test("any grid is found", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1e-6, max: 1e3, noNaN: true }),
        fc.integer({ min: 0, max: 1e6 }),
        (step, seed) => {
          const draw = normal(seed);
          let k = 0;
          const values = Float64Array.from({ length: 800 }, () => {
            k += Math.round(2 * draw());
            return k * step;
          });
          expect(quantisationStep(values) / step).toBeCloseTo(1, 6);
        },
      ),
      { seed: 2, numRuns: 100 },
    );
  });
});

describe("unwrapping", () => {
  test("any walk of less than half a wrap per sample comes back, from 16 and 32 bits and single turns", () => {
    fc.assert(
      fc.property(
        fc.constantFrom(65536, 4294967296, 4096, 360),
        fc.array(fc.double({ min: -0.499, max: 0.499, noNaN: true }), { minLength: 2, maxLength: 200 }),
        (wrap, moves) => {
          let at = 0;
          const walk = Float64Array.from(moves, (m) => {
            at += Math.round(m * (wrap - 2));
            return at;
          });
          const wrapped = walk.map((v) => ((v % wrap) + wrap) % wrap);
          const back = unwrap(wrapped, wrap);
          const shift = walk[0] - back[0];
          expect(back.every((v, i) => v + shift === walk[i])).toBe(true);
        },
      ),
      { seed: 3, numRuns: 200 },
    );
  });

  test("missing values stay missing", () => {
    expect([...unwrap(Float64Array.of(65535, Number.NaN, 1), 65536)]).toEqual([65535, Number.NaN, 65537]);
  });
});

describe("speed from position", () => {
  test("a straight line has its slope everywhere, on uneven time too", () => {
    const time = Float64Array.from({ length: 300 }, (_, i) => i * 0.001 + 0.0003 * Math.sin(i));
    const { speed } = speedFromPosition(
      time,
      time.map((t) => 3 + 40 * t),
      { window: 21 },
    );
    expect(Math.max(...speed.map((v) => Math.abs(v - 40)))).toBeLessThan(1e-8);
  });

  test("quantised position: the error stays within what the stated noise allows (bias included)", () => {
    const step = (2 * Math.PI) / 4096;
    const time = Float64Array.from({ length: 5000 }, (_, i) => i * 0.001);
    const position = time.map((t) => Math.floor((30 * t + Math.sin(3 * t)) / step) * step);
    const { speed, speedNoise, windows } = speedFromPosition(time, position, { step });
    let [square, stated] = [0, 0];
    const window = Math.max(...windows);
    for (let i = window; i < 5000 - window; i += 1) {
      square += (speed[i] - (30 + 3 * Math.cos(3 * time[i]))) ** 2;
      stated += speedNoise[i] ** 2;
    }
    expect(square).toBeGreaterThan(0);
    expect(Math.sqrt(square / stated)).toBeLessThan(1.5);
  });

  test("plain differences: central inside, one-sided at the ends", () => {
    expect([...differentiate(Float64Array.of(0, 1, 2), Float64Array.of(0, 1, 4))]).toEqual([1, 2, 3]);
  });
});

describe("steps", () => {
  test("a held command: every step to the sample", () => {
    const values = Float64Array.from({ length: 1000 }, (_, i) => (i < 300 ? 0 : i < 700 ? 1.2 : -1.2));
    expect(findSteps(values).steps).toEqual([
      { at: 300, settled: 300, from: 0, to: 1.2 },
      { at: 700, settled: 700, from: 1.2, to: -1.2 },
    ]);
  });

  test("a ramp written as a stair is one change, not many", () => {
    const values = Float64Array.from({ length: 1000 }, (_, i) =>
      i < 300 ? 0 : i < 500 ? Math.floor((i - 300) / 10) + 1 : 20,
    );
    const { steps } = findSteps(values);
    expect(steps.length).toBe(1);
    expect(steps[0]).toMatchObject({ from: 0, to: 20 });
    // Treads that are long enough for whoever asks are levels of their own.
    expect(findSteps(values, { longestTread: 11 }).steps.length).toBe(1);
    expect(findSteps(values, { longestTread: 10 }).steps.length).toBe(20);
  });

  test("a step of three standard deviations in noise is found within a few samples, and noise alone has none", () => {
    let alone = 0;
    for (let seed = 1; seed <= 40; seed += 1) {
      const draw = normal(seed);
      const noise = Float64Array.from({ length: 2000 }, () => draw());
      alone += findSteps(noise).steps.length;
      const stepped = noise.map((v, i) => v + (i >= 1234 ? 3 : 0));
      const { steps } = findSteps(stepped);
      expect(steps.length).toBe(1);
      expect(Math.abs(steps[0].at - 1234)).toBeLessThan(12);
      expect(Math.abs(steps[0].to - steps[0].from - 3)).toBeLessThan(0.25);
    }
    expect(alone).toBe(0);
  });

  test("a sine is no sequence of steps in its exactly held form", () => {
    expect(findSteps(new Float64Array(500)).steps).toEqual([]);
  });
});

test("the delay between two traces, to a fraction of a sample", () => {
  const f = (t: number): number => Math.tanh((t - 500) / 60) + 0.3 * Math.sin(t / 37);
  const a = Float64Array.from({ length: 1000 }, (_, i) => f(i));
  const b = Float64Array.from({ length: 1000 }, (_, i) => 2 * f(i - 6.4) + 5);
  expect(delayBetween(a, b, 30)?.samples).toBeCloseTo(6.4, 1);
  expect(delayBetween(a, new Float64Array(1000), 30)).toBeUndefined();
});
