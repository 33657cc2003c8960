import { describe, expect, test } from "vitest";
import {
  automaticBlockLength,
  blockBootstrap,
  fitLeastSquares,
  profileIntervals,
} from "../../lib/numeric/index.js";
import type { ModelProblem } from "../../lib/numeric/optimise/types.js";
import { noiseSource } from "./noise.js";

// Puromycin, treated: D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications (1988), table
// A1.3 (data of Treloar 1974; also in base R as `Puromycin`). Reference values from memory of R's nls and confint on
// these data: Vm 212.7 (6.947), K 0.06412 (0.008281), residual standard error 10.93; profile intervals 197.30 to 229.29
// and 0.04693 to 0.08616.
const puromycin: ModelProblem = {
  x: [0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.1, 1.1],
  y: [76, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200],
  parameters: [
    { name: "Vm", start: 200 },
    { name: "K", start: 0.05 },
  ],
  model: (x, [vm, k]) => (vm * x) / (k + x),
};

describe("Michaelis-Menten fit of the Puromycin data", () => {
  const fit = fitLeastSquares(puromycin);
  test("values, standard errors, residual standard error", () => {
    expect(fit.values[0]).toBeCloseTo(212.7, 1);
    expect(fit.values[1]).toBeCloseTo(0.06412, 5);
    expect(fit.parameters[0].standardError).toBeCloseTo(6.947, 3);
    expect(fit.parameters[1].standardError).toBeCloseTo(0.008281, 6);
    expect(fit.residualStandardDeviation).toBeCloseTo(10.93, 2);
  });
  test("profile-likelihood intervals", () => {
    const [vm, k] = profileIntervals(puromycin, fit);
    expect(vm.low).toBeCloseTo(197.3, 1);
    expect(vm.high).toBeCloseTo(229.29, 1);
    expect(k.low).toBeCloseTo(0.04693, 4);
    expect(k.high).toBeCloseTo(0.08616, 4);
    expect([vm.lowFound, vm.highFound, k.lowFound, k.highFound]).toEqual([true, true, true, true]);
  });
});

test("for a linear model the profile interval is the linearised one", () => {
  const problem: ModelProblem = {
    x: [1, 2, 3, 4, 5, 6],
    y: [1.1, 1.9, 3.2, 3.8, 5.1, 5.9],
    parameters: [
      { name: "level", start: 0 },
      { name: "slope", start: 0 },
    ],
    model: (x, [a, b]) => a + b * x,
  };
  const fit = fitLeastSquares(problem);
  profileIntervals(problem, fit).forEach((interval, j) => {
    expect(interval.low).toBeCloseTo(fit.parameters[j].low, 3);
    expect(interval.high).toBeCloseTo(fit.parameters[j].high, 3);
  });
});

test("a profile without an end says so", () => {
  // Two points far apart in time: any fast enough rate fits alike.
  const problem: ModelProblem = {
    x: [0, 5, 6, 7, 8, 9],
    y: [1, 0.01, -0.01, 0.02, -0.02, 0.01],
    parameters: [{ name: "rate", start: 2, lower: 0, upper: 1000 }],
    model: (x, [k]) => Math.exp(-k * x),
  };
  const fit = fitLeastSquares(problem);
  const [interval] = profileIntervals(problem, fit);
  expect(interval.highFound).toBe(false);
});

describe("block bootstrap", () => {
  const problem = (seed: number, phi: number): ModelProblem => {
    const random = noiseSource(seed);
    const x = Float64Array.from({ length: 300 }, (_, i) => i / 100);
    let e = random.normal();
    return {
      x,
      y: x.map((v) => {
        e = phi * e + Math.sqrt(1 - phi * phi) * random.normal();
        return 2 * Math.exp(-1.5 * v) + 0.05 * e;
      }),
      parameters: [
        { name: "amplitude", start: 1 },
        { name: "rate", start: 1 },
      ],
      model: (v, [a, k]) => a * Math.exp(-k * v),
    };
  };
  test.each(["moving", "stationary"] as const)(
    "%s blocks: white residuals give the usual errors",
    (blocks) => {
      const white = problem(11, 0);
      const fit = fitLeastSquares(white);
      const result = blockBootstrap(white, fit, { blocks, replicates: 200, seed: 5, blockLength: 4 });
      expect(result.failed).toBe(0);
      result.intervals.forEach((interval, j) => {
        expect(interval.standardError / fit.parameters[j].standardError).toBeGreaterThan(0.8);
        expect(interval.standardError / fit.parameters[j].standardError).toBeLessThan(1.2);
        expect(interval.low).toBeLessThan(interval.value);
        expect(interval.high).toBeGreaterThan(interval.value);
      });
    },
  );
  test("correlated residuals give wider intervals than independence would, near those of the autoregressive covariance", () => {
    const correlated = problem(12, 0.8);
    const naive = fitLeastSquares(correlated);
    const allowed = fitLeastSquares(correlated, { covariance: "autoregressive" });
    const result = blockBootstrap(correlated, naive, { replicates: 200, seed: 5 });
    expect(result.blockLength).toBeGreaterThan(5);
    expect(result.intervals[1].standardError / naive.parameters[1].standardError).toBeGreaterThan(1.6);
    const ratio = result.intervals[1].standardError / allowed.parameters[1].standardError;
    expect(ratio).toBeGreaterThan(0.6);
    expect(ratio).toBeLessThan(1.3);
  });
  test("the same seed gives the same intervals, another seed others", () => {
    const white = problem(13, 0);
    const fit = fitLeastSquares(white);
    const run = (seed: number) => blockBootstrap(white, fit, { replicates: 30, seed }).intervals[0].low;
    expect(run(3)).toBe(run(3));
    expect(run(3)).not.toBe(run(4));
  });
  test("block length grows with correlation", () => {
    const lengthOf = (phi: number): number => {
      const random = noiseSource(21);
      let e = 0;
      return automaticBlockLength(
        Float64Array.from({ length: 1000 }, () => {
          e = phi * e + random.normal();
          return e;
        }),
      );
    };
    expect(lengthOf(0)).toBeLessThan(6);
    expect(lengthOf(0.5)).toBeGreaterThan(lengthOf(0));
    expect(lengthOf(0.9)).toBeGreaterThan(lengthOf(0.5));
  });
});
