import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { describeFit, fitLeastSquares } from "../../lib/numeric/index.js";
import type { FitParameterInput, ModelProblem } from "../../lib/numeric/optimise/types.js";
import { noiseSource } from "./noise.js";

const decay = (x: number, p: ArrayLike<number>): number => p[0] * Math.exp(-p[1] * x) + p[2];
const parameters: FitParameterInput[] = [
  { name: "amplitude", start: 1 },
  { name: "rate", start: 1 },
  { name: "offset", start: 0 },
];

function noisy(seed: number, phi = 0, count = 200, deviation = 0.05): ModelProblem {
  const random = noiseSource(seed);
  const x = Float64Array.from({ length: count }, (_, i) => (4 * i) / count);
  let e = random.normal();
  const y = x.map((v) => {
    e = phi * e + Math.sqrt(1 - phi * phi) * random.normal();
    return decay(v, [2, 1.5, 0.3]) + deviation * e;
  });
  return { x, y, parameters, model: decay };
}

describe("a straight line against its closed form", () => {
  const x = [1, 2, 3, 4, 5, 6];
  const y = [1.1, 1.9, 3.2, 3.8, 5.1, 5.9];
  const n = x.length;
  const mx = x.reduce((s, v) => s + v) / n;
  const my = y.reduce((s, v) => s + v) / n;
  const sxx = x.reduce((s, v) => s + (v - mx) ** 2, 0);
  const slope = x.reduce((s, v, i) => s + (v - mx) * (y[i] - my), 0) / sxx;
  const rss = x.reduce((s, v, i) => s + (y[i] - my - slope * (v - mx)) ** 2, 0);
  const variance = rss / (n - 2);
  const line: ModelProblem = {
    x,
    y,
    parameters: [
      { name: "level", start: 0 },
      { name: "slope", start: 0 },
    ],
    model: (v, [a, b]) => a + b * v,
  };
  test("values, errors, correlation, interval", () => {
    const fit = fitLeastSquares(line);
    expect(fit.values[1]).toBeCloseTo(slope, 10);
    expect(fit.parameters[1].standardError).toBeCloseTo(Math.sqrt(variance / sxx), 9);
    expect(fit.parameters[0].standardError).toBeCloseTo(Math.sqrt(variance * (1 / n + (mx * mx) / sxx)), 9);
    expect(fit.correlation[1]).toBeCloseTo(-mx / Math.sqrt(sxx / n + mx * mx), 8);
    // Student's t, 95 %, 4 degrees of freedom: 2.7764 in every table.
    const half = 2.7764 * Math.sqrt(variance / sxx);
    expect(fit.parameters[1].high - slope).toBeCloseTo(half, 5);
  });
  test("the band of the fitted line", () => {
    const fit = fitLeastSquares(line);
    const at = 5;
    const half = 2.7764 * Math.sqrt(variance * (1 / n + (x[at] - mx) ** 2 / sxx));
    expect((fit.bandHigh?.[at] ?? 0) - (fit.fitted?.[at] ?? 0)).toBeCloseTo(half, 4);
  });
  test("weights count as repeated samples", () => {
    const weighted = fitLeastSquares({ ...line, weights: [1, 1, 1, 1, 1, 3] });
    const repeated = fitLeastSquares({ ...line, x: [...x, 6, 6], y: [...y, 5.9, 5.9] });
    expect(weighted.values[0]).toBeCloseTo(repeated.values[0], 9);
    expect(weighted.values[1]).toBeCloseTo(repeated.values[1], 9);
  });
  test("a weight of nothing leaves a sample out", () => {
    const weighted = fitLeastSquares({ ...line, y: [...y.slice(0, 5), 1e6], weights: [1, 1, 1, 1, 1, 0] });
    const without = fitLeastSquares({ ...line, x: x.slice(0, 5), y: y.slice(0, 5) });
    expect(weighted.values[1]).toBeCloseTo(without.values[1], 8);
  });
  test("absolute weights leave the covariance unscaled", () => {
    const fit = fitLeastSquares(line, { absoluteWeights: true });
    expect(fit.parameters[1].standardError).toBeCloseTo(Math.sqrt(1 / sxx), 9);
  });
});

describe("what can be held and bounded", () => {
  test("a fixed parameter stays and has no error", () => {
    const fit = fitLeastSquares({
      ...noisy(1),
      parameters: [parameters[0], { name: "rate", start: 1.5, fixed: true }, parameters[2]],
    });
    expect(fit.values[1]).toBe(1.5);
    expect(fit.parameters[1].standardError).toBe(0);
    expect(fit.free).toEqual([0, 2]);
    expect(fit.covariance.length).toBe(4);
  });
  test("a bound holds, is named, and the others are fitted as if it were fixed", () => {
    const bounded = fitLeastSquares({
      ...noisy(1),
      parameters: [parameters[0], { name: "rate", start: 1, upper: 1.2 }, parameters[2]],
    });
    const fixed = fitLeastSquares({
      ...noisy(1),
      parameters: [parameters[0], { name: "rate", start: 1.2, fixed: true }, parameters[2]],
    });
    expect(bounded.values[1]).toBe(1.2);
    expect(bounded.parameters[1].atBound).toBe(true);
    expect(bounded.warnings.join(" ")).toContain("rate ended on its bound 1.2");
    expect(bounded.values[0]).toBeCloseTo(fixed.values[0], 7);
    // A bound is no knowledge of the value beforehand: its parameter still costs a degree of freedom.
    const ratio = bounded.parameters[0].standardError / fixed.parameters[0].standardError;
    expect(ratio).toBeCloseTo(Math.sqrt(198 / 197), 6);
  });
  test("every parameter fixed: residuals are reported, nothing is fitted", () => {
    const fit = fitLeastSquares({
      x: [0, 1],
      y: [1, 2],
      parameters: [{ name: "a", start: 1, fixed: true }],
      model: (_, [a]) => a,
    });
    expect(fit.stop.code).toBe("nothing-free");
    expect(fit.sumOfSquares).toBe(1);
  });
});

describe("derivatives", () => {
  test("analytic and numeric ones lead to the same end", () => {
    const problem = noisy(3);
    const numeric = fitLeastSquares(problem);
    const analytic = fitLeastSquares({
      ...problem,
      gradient(x, p, out) {
        const e = Math.exp(-p[1] * x);
        out[0] = e;
        out[1] = -p[0] * x * e;
        out[2] = 1;
      },
    });
    for (let j = 0; j < 3; j++) {
      expect(numeric.values[j]).toBeCloseTo(analytic.values[j], 9);
      expect(numeric.parameters[j].standardError / analytic.parameters[j].standardError).toBeCloseTo(1, 7);
    }
    expect(analytic.stop.evaluations).toBeLessThan(numeric.stop.evaluations);
  });
  test("one-sided next to a bound that the model must not cross", () => {
    const x = Float64Array.from({ length: 50 }, (_, i) => i / 10);
    const fit = fitLeastSquares({
      x,
      y: x.map((v) => Math.sqrt(v + 0.01)),
      parameters: [{ name: "shift", start: 0, lower: 0 }],
      model: (v, [a]) => Math.sqrt(v + a),
    });
    expect(fit.values[0]).toBeCloseTo(0.01, 8);
  });
});

describe("robust losses on data with outliers", () => {
  const problem = noisy(5);
  const spoiled = { ...problem, y: Float64Array.from(problem.y, (v, i) => (i % 10 === 3 ? v + 3 : v)) };
  const clean = fitLeastSquares(problem);
  test.each(["soft-l1", "huber", "cauchy"] as const)("%s stays near the clean fit", (loss) => {
    const plain = fitLeastSquares(spoiled);
    const robust = fitLeastSquares(spoiled, { loss });
    const away = (fit: typeof plain): number => Math.abs(fit.values[2] - clean.values[2]);
    expect(away(robust)).toBeLessThan(0.2 * away(plain));
    expect(robust.lossScale).toBeGreaterThan(0.03);
    expect(robust.lossScale).toBeLessThan(0.4);
    expect(robust.stop.converged).toBe(true);
  });
  test("without outliers the errors of a Huber fit are those of least squares within a tenth", () => {
    const huber = fitLeastSquares(problem, { loss: "huber" });
    expect(huber.parameters[1].standardError / clean.parameters[1].standardError).toBeGreaterThan(0.9);
    expect(huber.parameters[1].standardError / clean.parameters[1].standardError).toBeLessThan(1.15);
  });
  test("outliers are counted and named", () => {
    expect(fitLeastSquares(spoiled).warnings.join(" ")).toMatch(/residuals lie beyond 5 robust/);
  });
});

describe("correlated residuals", () => {
  test("are noticed", () => {
    const fit = fitLeastSquares(noisy(7, 0.8));
    expect(fit.diagnostics.lag1).toBeGreaterThan(0.6);
    expect(fit.diagnostics.durbinWatson).toBeLessThan(0.8);
    expect(fit.diagnostics.runs.z).toBeLessThan(-4);
    expect(fit.diagnostics.effectiveSamples).toBeLessThan(80);
    expect(fit.warnings.join(" ")).toContain("Residuals are correlated");
  });
  test("white ones are not accused", () => {
    const fit = fitLeastSquares(noisy(8));
    expect(Math.abs(fit.diagnostics.lag1)).toBeLessThan(0.2);
    expect(fit.diagnostics.runs.pValue).toBeGreaterThan(0.01);
    expect(fit.warnings).toEqual([]);
  });
  test("standard errors that allow for them match the scatter over repeated trials; independent ones are too small", () => {
    const values: number[] = [];
    const ratio = { independent: 0, autoregressive: 0, "newey-west": 0 };
    const trials = 120;
    for (let seed = 0; seed < trials; seed++) {
      const problem = noisy(100 + seed, 0.8);
      for (const covariance of ["independent", "autoregressive", "newey-west"] as const) {
        const fit = fitLeastSquares(problem, { covariance });
        ratio[covariance] += fit.parameters[1].standardError / trials;
        if (covariance === "independent") values.push(fit.values[1]);
      }
    }
    const mean = values.reduce((s, v) => s + v) / trials;
    const scatter = Math.sqrt(values.reduce((s, v) => s + (v - mean) ** 2, 0) / (trials - 1));
    expect(ratio.independent / scatter).toBeLessThan(0.6);
    // The scatter itself is known to 7 % from so many trials.
    expect(Math.abs(ratio.autoregressive / scatter - 1)).toBeLessThan(0.15);
    expect(ratio["newey-west"]).toBeGreaterThan(1.3 * ratio.independent);
    expect(ratio["newey-west"] / scatter).toBeLessThan(1.1);
  });
});

describe("when there is nothing to find", () => {
  test("fewer samples than parameters", () => {
    const fit = fitLeastSquares({ x: [0, 1], y: [1, 2], parameters, model: decay });
    expect(fit.stop.code).toBe("too-few");
    expect(fit.stop.converged).toBe(false);
    expect(fit.parameters[0].standardError).toBeNaN();
  });
  test("no samples at all", () => {
    const fit = fitLeastSquares({ x: [], y: [], parameters, model: decay });
    expect(fit.stop.converged).toBe(false);
  });
  test("a model that is not finite at the start", () => {
    const fit = fitLeastSquares({
      x: [1, 2, 3],
      y: [1, 2, 3],
      parameters: [{ name: "a", start: -1 }],
      model: (x, [a]) => Math.sqrt(a) * x,
    });
    expect(fit.stop.code).toBe("not-finite");
    expect(fit.stop.converged).toBe(false);
  });
  test("a parameter without influence is named and has no error", () => {
    const fit = fitLeastSquares({
      x: [0, 1, 2, 3, 4],
      y: [0, 1.1, 1.9, 3.2, 3.9],
      parameters: [
        { name: "slope", start: 0.5 },
        { name: "idle", start: 1 },
      ],
      model: (x, [a]) => a * x,
    });
    expect(fit.stop.code).toBe("singular");
    expect(fit.parameters[1].standardError).toBeNaN();
    expect(fit.warnings.join(" ")).toContain("idle is not determined");
    expect(fit.values[0]).toBeCloseTo(31 / 30, 1);
  });
  test("data without noise end exactly or at rounding", () => {
    const x = Float64Array.from({ length: 40 }, (_, i) => i / 10);
    const fit = fitLeastSquares({ x, y: x.map((v) => decay(v, [2, 1.5, 0.3])), parameters, model: decay });
    expect(fit.stop.converged).toBe(true);
    [2, 1.5, 0.3].forEach((v, j) => {
      expect(fit.values[j]).toBeCloseTo(v, 10);
    });
  });
});

test("contradictory input is refused with what was found and the mend", () => {
  const base = { x: [0, 1, 2], y: [0, 1, 2], parameters, model: decay };
  expect(() => fitLeastSquares({ ...base, y: [1] })).toThrow(/x has 3 values and y has 1/);
  expect(() => fitLeastSquares({ ...base, weights: [1, -1, 1] })).toThrow(/weight 2 is -1/);
  expect(() => fitLeastSquares({ ...base, parameters: [] })).toThrow(/no parameters/);
  expect(() => fitLeastSquares({ ...base, parameters: [{ name: "a", start: Number.NaN }] })).toThrow(
    /parameter 1 \(a\): start is NaN/,
  );
  expect(() =>
    fitLeastSquares({ ...base, parameters: [{ name: "a", start: 1, lower: 2, upper: 1 }] }),
  ).toThrow(/lower bound 2 is above upper bound 1/);
  expect(() => fitLeastSquares(base, { level: 95 })).toThrow(/level is 95/);
});

test("fits of random exponentials end at residuals no larger than those of the truth", () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0.1, max: 100, noNaN: true }),
      fc.double({ min: 0.3, max: 5, noNaN: true }),
      fc.double({ min: -50, max: 50, noNaN: true }),
      fc.integer({ min: 0, max: 1_000_000 }),
      (amplitude, rate, offset, seed) => {
        const random = noiseSource(seed);
        const x = Float64Array.from({ length: 60 }, (_, i) => i / 15);
        const truth = [amplitude, rate, offset];
        const y = x.map((v) => decay(v, truth) + 0.01 * amplitude * random.normal());
        const fit = fitLeastSquares({ x, y, parameters, model: decay });
        const there = x.reduce((s, v, i) => s + (y[i] - decay(v, truth)) ** 2, 0);
        return fit.stop.converged && fit.sumOfSquares <= there * (1 + 1e-9);
      },
    ),
    { seed: 4, numRuns: 60 },
  );
});

test("a fit tells of itself in plain text of at most 80 columns", () => {
  const text = describeFit(fitLeastSquares(noisy(7, 0.8)));
  for (const line of text.split("\n"))
    if (!line.startsWith("note:")) expect(line.length, line).toBeLessThanOrEqual(80);
  expect(text).toMatch(/amplitude +2\.\d+ +0\.\d+/);
  expect(text).toContain("correlations");
  expect(text).toContain("Durbin-Watson");
  expect(text).toContain("Converged");
});
