import { describe, expect, test } from "vitest";
import { isFriction, isSigned, notBelowZero } from "../../lib/identify/bounds.js";
import { ofUniform } from "../../lib/identify/modelError.js";
import { combined, ratioOf, reciprocal } from "../../lib/identify/quantity.js";
import { noiseOf } from "../../lib/identify/steps/stepNoise.js";

const labels = { unit: "1", method: "m" };
const of = (value: number, low: number, high: number) => ({ value, low, high, ...labels });

describe("ratios with their intervals", () => {
  // Fieller (1954): the ends are the ratios r at which a - r*b is just told from zero:
  // (a - r*b)^2 = q^2 * Var(a - r*b).
  test("Fieller's theorem: at both ends the difference is just told from zero", () => {
    for (const [a, va, b, vb, c] of [
      [3, 0.04, 2, 0.01, 0.005],
      [-3, 0.3, 2, 0.02, -0.03],
      [0.1, 0.09, -5, 0.2, 0.02],
    ]) {
      const found = ratioOf({ value: a, variance: va }, { value: b, variance: vb }, c, 2);
      expect(found?.value).toBeCloseTo(a / b, 12);
      expect(found!.low).toBeLessThan(a / b);
      expect(found!.high).toBeGreaterThan(a / b);
      for (const r of [found!.low, found!.high])
        expect((a - r * b) ** 2).toBeCloseTo(4 * (va - 2 * r * c + r * r * vb), 9);
    }
    expect(ratioOf({ value: 3, variance: 0.1 }, { value: 1, variance: 0.3 }, 0, 2)).toBeNull();
    expect(ratioOf({ value: 3, variance: 0.1 }, { value: 1, variance: 0.25 }, 0, 2)).toBeNull();
  });

  test("a reciprocal turns its ends, of negative values too, and is none of what may be zero", () => {
    expect(reciprocal(of(2, 1, 4), 8, {})).toMatchObject({ value: 4, low: 2, high: 8 });
    expect(reciprocal(of(-2, -4, -1), 8, {})).toMatchObject({ value: -4, low: -8, high: -2 });
    expect(reciprocal(of(2, 0, 4), 8, {})).toBeNull();
    expect(reciprocal(of(2, -1, 4), 8, {})).toBeNull();
  });

  test("products and quotients: half-widths add in squares, each side on its own", () => {
    const [a, b] = [of(10, 9, 12), of(5, 4, 5.5)];
    const times = combined(a, b, "times", labels);
    expect(times?.value).toBe(50);
    expect(times?.low).toBeCloseTo(50 - Math.hypot(5, 10), 12);
    expect(times?.high).toBeCloseTo(50 + Math.hypot(10, 5), 12);
    const over = combined(a, b, "over", labels);
    expect(over?.value).toBe(2);
    expect(over?.low).toBeCloseTo(2 - Math.hypot(0.2, 2 - 10 / 5.5), 12);
    expect(over?.high).toBeCloseTo(2 + Math.hypot(0.4, 0.5), 12);
    expect(combined(a, of(5, -1, 6), "over", labels)).toBeNull();
    expect(combined(a, of(5, 0, 6), "over", labels)).toBeNull();
    const against = combined(of(-10, -12, -9), b, "times", labels);
    expect(against?.low).toBeCloseTo(-50 - Math.hypot(10, 5), 12);
    expect(against?.high).toBeCloseTo(-50 + Math.hypot(5, 10), 12);
  });

  test("what cannot be negative is cut at zero; wholly below it a friction keeps an upper limit", () => {
    const cut = (value: number, low: number, high: number, friction = false) =>
      notBelowZero({ value, low, high, method: "m" }, friction);
    expect(cut(2, 1, 3)).toEqual({ value: 2, low: 1, high: 3, method: "m" });
    expect(cut(2, 0, 3)).toEqual({ value: 2, low: 0, high: 3, method: "m" });
    expect(cut(2, -1, 3)).toEqual({ value: 2, low: 0, high: 3, method: "m" });
    expect(cut(0, 0, 3)).toEqual({ value: 0, low: 0, high: 3, method: "m" });
    expect(cut(-1, -3, 2)).toMatchObject({ value: 0, low: 0, high: 2, limit: "upper" });
    expect(cut(0, -3, 2)).toMatchObject({ value: 0, low: 0, high: 2, limit: "upper" });
    expect(cut(-2, -3, -1)).toBeNull();
    expect(cut(-2, -3, -1, true)).toMatchObject({ value: 0, low: 0, high: 3, limit: "upper" });
    expect(cut(-2, -3, 0, true)).toMatchObject({ value: 0, high: 3 });
    expect(isSigned("offsetError") && isSigned("torqueGain")).toBe(true);
    expect(isSigned("inertia")).toBe(false);
    expect(isFriction("coulombFrictionPositive") && isFriction("viscousOverInertia")).toBe(true);
    expect(isFriction("deadBandDuty") && isFriction("voltageDrop") && isFriction("dragOverInertia")).toBe(
      true,
    );
    expect(isFriction("inertia") || isFriction("torqueConstant")).toBe(false);
  });

  test("an error spread evenly is entered so that 95 % of it lie within 1.96 deviations", () => {
    expect(1.96 * ofUniform(3)).toBeCloseTo(0.95 * 3, 12);
  });
});

describe("noise from second differences", () => {
  test("a response that never changes has none, and no resolution", () => {
    expect(noiseOf(new Float64Array(50).fill(4))).toEqual({ noise: 0, resolution: 0 });
    expect(noiseOf(Float64Array.of(1, 2, 3, 4))).toEqual({ noise: 0, resolution: 0 });
  });

  test("a staircase of counts has the step as its resolution and at least its uniform error as noise", () => {
    const { noise, resolution } = noiseOf(
      Float64Array.from({ length: 200 }, (_, k) => 0.5 * Math.floor(k / 9)),
    );
    expect(resolution).toBe(0.5);
    expect(noise).toBeCloseTo(0.5 / Math.sqrt(12), 12);
  });
});
