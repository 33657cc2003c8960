import { describe, expect, test } from "vitest";
import { meanEstimate } from "../../lib/identify/meanEstimate.js";
import { ofUniform, withModelError, withNoisyColumns } from "../../lib/identify/modelError.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { linearRegression, type Regression } from "../../lib/numeric/linear/linearRegression.js";

const random = seededRandom(41);
const n = 600;
const x = Array.from({ length: n }, (_, i) => Math.sin(i / 17) + 0.4 * random.normal());
const design = x.map((v) => [1, v]);
const response = x.map((v) => 2 + 3 * v + 0.05 * random.normal());
const fit = linearRegression(design, response, { robust: false }) as Regression;

/** Inverse of a symmetric matrix of two rows. */
function inverse([[a, b], [, d]]: readonly (readonly number[])[]): number[][] {
  const det = a * d - b * b;
  return [
    [d / det, -b / det],
    [-b / det, a / det],
  ];
}
const gram = [0, 1].map((a) =>
  [0, 1].map((b) => design.reduce((s, r, i) => s + fit.influence[i] * r[a] * r[b], 0)),
);
const times = (m: readonly (readonly number[])[], v: readonly number[]): number[] =>
  m.map((row) => row.reduce((s, c, k) => s + c * v[k], 0));

describe("a disturbance of known shape in a regression", () => {
  const shape = x.map((v, i) => Math.sign(v) + i / n);
  // Weighted least squares: what the shape puts into the coefficients is (X'WX)^-1 X'W shape.
  const leak = times(
    inverse(gram),
    [0, 1].map((a) => design.reduce((s, r, i) => s + fit.influence[i] * r[a] * shape[i], 0)),
  );

  test("adds its size times what it puts into each coefficient, and nothing of size zero", () => {
    const wide = withModelError(fit, design, shape, 0.2);
    for (const a of [0, 1])
      for (const b of [0, 1])
        expect(wide.covariance[a][b] - fit.covariance[a][b]).toBeCloseTo(0.04 * leak[a] * leak[b], 9);
    expect(withModelError(fit, design, shape, 0).covariance).toEqual(fit.covariance);
    expect(wide.coefficients).toEqual(fit.coefficients);
  });

  test("degrees of freedom grow by the square of the ratio of the variances (Satterthwaite)", () => {
    const wide = withModelError(fit, design, shape, 0.2);
    for (const combination of [
      [1, 0],
      [0, 1],
      [1, -2],
    ]) {
      const variance = (c: readonly (readonly number[])[]): number =>
        combination.reduce((s, p, a) => s + combination.reduce((q, r, b) => q + p * r * c[a][b], 0), 0);
      const expected =
        fit.degreesOf(combination) * (variance(wide.covariance) / variance(fit.covariance)) ** 2;
      expect(wide.degreesOf(combination)).toBeCloseTo(Math.min(1e6, expected), 6);
      expect(variance(wide.covariance)).toBeGreaterThanOrEqual(variance(fit.covariance));
    }
  });

  test("noise in a regressor is entered as what it draws the coefficient by (errors in variables)", () => {
    // Fuller, Measurement Error Models, 1.1: the bias is -(X'WX)^-1 times the sum of the noise, times the coefficient.
    const noise = design.map(() => [0, 0.02]);
    const drawn = design.reduce((s, _, i) => s + fit.influence[i] * 0.02, 0) * fit.coefficients[1];
    const bias = times(inverse(gram), [0, drawn]);
    const wide = withNoisyColumns(fit, design, noise);
    for (const a of [0, 1])
      for (const b of [0, 1])
        expect(wide.covariance[a][b] - fit.covariance[a][b]).toBeCloseTo(bias[a] * bias[b], 9);
  });

  test("an error anywhere within a reach: 1.96 deviations hold 95 % of it", () => {
    expect(1.96 * ofUniform(3)).toBeCloseTo(0.95 * 3, 12);
  });
});

describe("the mean of a correlated series", () => {
  /** First-order autoregression with a variance of one. */
  const series = (rho: number, count: number, seed: number): Float64Array => {
    const source = seededRandom(seed);
    let e = source.normal();
    return Float64Array.from({ length: count }, () => {
      e = rho * e + Math.sqrt(1 - rho * rho) * source.normal();
      return e;
    });
  };

  test.each([0, 0.5, 0.9])("standard error with a correlation of %d from sample to sample", (rho) => {
    // Variance of the mean of a long series: (1 + rho)/(1 - rho)/n (Box, Jenkins, Reinsel, Time Series Analysis, 2.1).
    const count = 4000;
    const truth = Math.sqrt((1 + rho) / (1 - rho) / count);
    const found = Array.from(
      { length: 60 },
      (_, k) => meanEstimate(series(rho, count, 100 + k)).standardError,
    );
    const typical = Math.sqrt(found.reduce((s, v) => s + v * v, 0) / found.length);
    expect(typical / truth).toBeGreaterThan(0.85);
    expect(typical / truth).toBeLessThan(1.2);
  });

  test("a shift moves the mean alone, a scale all of it; spikes are set aside", () => {
    const values = series(0.6, 900, 7);
    const plain = meanEstimate(values);
    const shifted = meanEstimate(values.map((v) => v + 50));
    const scaled = meanEstimate(values.map((v) => -3 * v));
    expect(shifted.mean).toBeCloseTo(plain.mean + 50, 9);
    expect(shifted.standardError).toBeCloseTo(plain.standardError, 9);
    expect(scaled.mean).toBeCloseTo(-3 * plain.mean, 9);
    expect(scaled.standardError).toBeCloseTo(3 * plain.standardError, 9);
    const spiked = meanEstimate(values.map((v, i) => (i % 300 === 5 ? 1e3 : v)));
    expect(Math.abs(spiked.mean - plain.mean)).toBeLessThan(plain.standardError);
    expect(spiked.samples).toBe(897);
  });

  test("few samples, equal ones, and none", () => {
    const few = meanEstimate([1, 2, 3, 4]);
    expect(few.mean).toBe(2.5);
    // s/sqrt(n) with s of n - 1.
    expect(few.standardError).toBeCloseTo(Math.sqrt(5 / 3 / 4), 12);
    expect(few.degreesOfFreedom).toBe(3);
    const coarse = meanEstimate([1, 2, 3, 4], 0.6);
    expect(coarse.standardError).toBeCloseTo(Math.sqrt(5 / 3 / 4 + 0.36 / 12 / 4), 12);
    // A quantised level: one step's uniform error over the samples is the least.
    expect(meanEstimate(new Float64Array(100).fill(7), 0.1).standardError).toBeCloseTo(
      Math.sqrt(0.01 / 12 / 100),
      12,
    );
    expect(meanEstimate([Number.NaN]).samples).toBe(0);
  });
});
