import { describe, expect, test } from "vitest";
import { fitStepShape } from "../../lib/identify/steps/fitStepShape.js";
import type { StepShape } from "../../lib/identify/steps/stepShapes.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";

// Step responses of one shape each by their closed forms (for instance Ogata, Modern Control Engineering, chapter 5):
// what they were made of comes back, with the errors that least squares gives.

const n = 400;
const at = 0.2;
const time = Float64Array.from({ length: n }, (_, i) => i * 5e-3);
type Curve = (t: number, p: readonly number[]) => number;
/** Responses of unit size at t seconds from the step, by the parameters that the shape names. */
const curves: Readonly<
  Record<
    StepShape,
    { readonly curve: Curve; readonly given: readonly number[]; readonly names: readonly string[] }
  >
> = {
  "first-order": { curve: (t, [tau]) => 1 - Math.exp(-t / tau), given: [0.15], names: ["time constant"] },
  "first-order-dead-time": {
    curve: (t, [tau, dead]) => (t < dead ? 0 : 1 - Math.exp(-(t - dead) / tau)),
    given: [0.15, 0.063],
    names: ["time constant", "dead time"],
  },
  "second-order": {
    curve: (t, [z, w]) => {
      const d = w * Math.sqrt(1 - z * z);
      return 1 - Math.exp(-z * w * t) * (Math.cos(d * t) + ((z * w) / d) * Math.sin(d * t));
    },
    given: [0.4, 18],
    names: ["damping ratio", "natural frequency"],
  },
  "second-order-critical": {
    curve: (t, [w]) => 1 - Math.exp(-w * t) * (1 + w * t),
    given: [14],
    names: ["natural frequency"],
  },
};
const shapes = Object.keys(curves) as StepShape[];
const response = (
  shape: StepShape,
  { initial = 3, size = 10, slope = 0, own = curves[shape].given } = {},
): Float64Array =>
  time.map((t) => initial + slope * (t - at) + (t < at ? 0 : size * curves[shape].curve(t - at, own)));

describe.each(shapes)("a response of shape %s", (shape) => {
  const { given, names } = curves[shape];
  test.each([10, -4])("of size %d gives back what it was made of", (size) => {
    const fit = fitStepShape(time, response(shape, { size }), shape, { stepTime: at });
    expect(fit?.shape).toBe(shape);
    expect(fit?.names).toEqual(["initial", "amplitude", ...names]);
    expect(fit?.converged).toBe(true);
    for (const [k, value] of [3, size, ...given].entries())
      expect(fit?.values[k] ?? Number.NaN).toBeCloseTo(value, 3);
    expect(fit?.residualStandardDeviation).toBeLessThan(1e-3);
  });

  test("beside a steady slope", () => {
    const fit = fitStepShape(time, response(shape, { slope: 0.7 }), shape, { stepTime: at, drift: true });
    expect(fit?.names).toEqual(["initial", "slope", "amplitude", ...names]);
    expect(fit?.values[1]).toBeCloseTo(0.7, 2);
    expect(fit?.values[2]).toBeCloseTo(10, 2);
    for (const [k, value] of given.entries()) expect((fit?.values[3 + k] ?? 0) / value).toBeCloseTo(1, 2);
  });

  test("with the standard errors of least squares: sigma^2 * (J'J)^-1, the derivatives by differences", () => {
    const random = seededRandom(8);
    const sigma = 0.2;
    const noisy = response(shape).map((v) => v + sigma * random.normal());
    const fit = fitStepShape(time, noisy, shape, { stepTime: at });
    const count = 2 + given.length;
    const model = (p: Float64Array | number[]): Float64Array =>
      time.map((t) => p[0] + (t < at ? 0 : p[1] * curves[shape].curve(t - at, [...p].slice(2))));
    const best = fit?.values as Float64Array;
    const columns = Array.from({ length: count }, (_, k) => {
      const h = 1e-5 * Math.max(1e-2, Math.abs(best[k]));
      const [up, down] = [1, -1].map((side) => model([...best].map((v, j) => (j === k ? v + side * h : v))));
      return up.map((v, i) => (v - down[i]) / (2 * h));
    });
    const left = noisy.map((v, i) => v - model(best)[i]);
    const variance = left.reduce((s, v) => s + v * v, 0) / (n - count);
    expect(fit?.residualStandardDeviation).toBeCloseTo(Math.sqrt(variance), 3);
    expect(Math.abs(Math.sqrt(variance) / sigma - 1)).toBeLessThan(0.1);
    const gram = columns.map((a) => columns.map((b) => a.reduce((s, v, i) => s + v * b[i], 0)));
    const covariance = fit?.covariance as Float64Array;
    // Its product with J'J over the variance is the unit matrix.
    for (let a = 0; a < count; a += 1)
      for (let b = 0; b < count; b += 1) {
        const sum = gram[a].reduce((s, v, k) => s + v * covariance[k * count + b], 0) / variance;
        const unit = Math.sqrt((covariance[b * count + b] * gram[a][a]) / variance);
        expect(Math.abs(sum - (a === b ? 1 : 0)) / Math.max(1, unit)).toBeLessThan(0.03);
      }
    for (let k = 0; k < count; k += 1)
      expect(fit?.standardErrors[k]).toBeCloseTo(Math.sqrt(covariance[k * count + k]), 12);
    for (const [k, value] of given.entries())
      expect(Math.abs(best[2 + k] - value)).toBeLessThan(4 * (fit?.standardErrors[2 + k] ?? 0));
  });
});

describe("a record that does not determine it", () => {
  test("is too short, or never changes", () => {
    expect(
      fitStepShape(time.subarray(0, 45), response("first-order").subarray(0, 45), "first-order", {
        stepTime: at,
      }),
    ).toBeUndefined();
    expect(fitStepShape(time, new Float64Array(n).fill(2), "first-order", { stepTime: at })).toBeUndefined();
    expect(fitStepShape(new Float64Array(0), new Float64Array(0), "first-order")).toBeUndefined();
  });
  test("has times and values that are not as many: an error", () => {
    expect(() => fitStepShape(time, new Float64Array(3), "first-order")).toThrow(
      "there are 400 times and 3 values; they must be as many.",
    );
  });
  test("the step is at the first sample where no other time is given", () => {
    const later = response("first-order").subarray(40);
    const fit = fitStepShape(time.subarray(40), later, "first-order");
    expect(fit?.values[2]).toBeCloseTo(0.15, 4);
  });
});
