import { linearRegression as reference } from "simple-statistics";
import { describe, expect, test } from "vitest";
import { torqueSpeedLine } from "../../lib/identify/index.js";
import { ratioOf } from "../../lib/identify/quantity.js";
import { studentQuantile } from "../../lib/numeric/distributions/studentQuantile.js";
import { linearRegression } from "../../lib/numeric/linear/linearRegression.js";
import { uniforms as randomFrom } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

describe("worked examples and tables from the literature", () => {
  // Nise, Control Systems Engineering, chapter 2, the example on a motor and load with a dynamometer's torque-speed
  // curve: stall torque 500 N m, no-load speed 50 rad/s at 100 V; Kt/Ra = 5, Kb = 2 (from memory, and by the closed
  // form T_stall/e_a and e_a/w_no-load).
  test("torque-speed curve to constants", () => {
    const line = torqueSpeedLine(
      [
        { speed: 0, torque: 500 },
        { speed: 50, torque: 0 },
      ],
      100,
    )!;
    expect(line.torquePerVolt.value).toBeCloseTo(5, 12);
    expect(line.backEmf.value).toBeCloseTo(2, 12);
    // The same example goes on: Jm = 5 + 700/100 = 12, Dm = 2 + 800/100 = 10; pole at (Dm + Kt Kb/Ra)/Jm = 1.667, gain
    // Kt/(Ra Jm) = 0.417.
    const Jm = 5 + 700 * 0.1 ** 2;
    const Dm = 2 + 800 * 0.1 ** 2;
    expect((Dm + line.torquePerVolt.value * line.backEmf.value) / Jm).toBeCloseTo(1.667, 3);
    expect(line.torquePerVolt.value / Jm).toBeCloseTo(0.417, 3);
  });

  test("a torque-speed curve measured with noise holds the truth in its interval", () => {
    const normal = normalFrom(randomFrom(5));
    const points = Array.from({ length: 21 }, (_, k) => ({
      speed: 2.5 * k,
      torque: 500 - 10 * 2.5 * k + 4 * normal(),
    }));
    const line = torqueSpeedLine(points, 100)!;
    expect(line.backEmf.low).toBeLessThan(2);
    expect(line.backEmf.high).toBeGreaterThan(2);
    expect(line.backEmf.high - line.backEmf.low).toBeLessThan(0.1);
    expect(torqueSpeedLine([points[0]], 100)).toBeNull();
  });

  // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t (upper tail 0.025).
  test.each([
    [1, 12.706],
    [2, 4.303],
    [5, 2.571],
    [10, 2.228],
    [30, 2.042],
    [100, 1.984],
  ])("Student's t at %d degrees of freedom", (nu, t) => {
    expect(studentQuantile(0.975, nu)).toBeCloseTo(t, 3);
  });

  test("least squares agree with a reference library (simple-statistics)", () => {
    const normal = normalFrom(randomFrom(3));
    const points = Array.from({ length: 40 }, (_, k): [number, number] => [k, 3 + 0.5 * k + normal()]);
    const fit = linearRegression(
      points.map(([x]) => [1, x]),
      points.map(([, y]) => y),
      { robust: false },
    )!;
    const { m, b } = reference(points);
    expect(fit.coefficients[1]).toBeCloseTo(m, 10);
    expect(fit.coefficients[0]).toBeCloseTo(b, 9);
  });

  // Fieller, J. R. Statist. Soc. B 16 (1954): with no error in the denominator the interval is the plain one; with g =
  // (t s/b)^2 near 1 it is open.
  test("Fieller's interval in its two limits", () => {
    const plain = ratioOf({ value: 6, variance: 0.04 }, { value: 2, variance: 0 }, 0, 2)!;
    expect(plain.low).toBeCloseTo((6 - 0.4) / 2, 12);
    expect(plain.high).toBeCloseTo((6 + 0.4) / 2, 12);
    expect(ratioOf({ value: 6, variance: 0.04 }, { value: 2, variance: 1.1 }, 0, 2)).toBeNull();
  });

  test("outliers do not move a robust line", () => {
    const normal = normalFrom(randomFrom(8));
    const x = Array.from({ length: 200 }, (_, k) => k / 20);
    const y = x.map((v, k) => 1 + 2 * v + 0.1 * normal() + (k % 20 === 7 ? 30 : 0));
    const fit = linearRegression(
      x.map((v) => [1, v]),
      y,
    )!;
    expect(Math.abs(fit.coefficients[0] - 1)).toBeLessThan(0.06);
    expect(Math.abs(fit.coefficients[1] - 2)).toBeLessThan(0.01);
  });

  test("under correlation that halves the coverage of independent errors, intervals from blocks cover as asked", () => {
    let held = 0;
    let fooled = 0;
    const trials = 200;
    for (let seed = 1; seed <= trials; seed++) {
      const normal = normalFrom(randomFrom(seed));
      let e = 0;
      const rows: number[][] = [];
      const y: number[] = [];
      for (let k = 0; k < 300; k++) {
        e = 0.8 * e + normal();
        rows.push([1, Math.sin(k / 40)]);
        y.push(2 + e);
      }
      const fit = linearRegression(rows, y)!;
      if (Math.abs(fit.coefficients[0] - 2) < fit.critical[0] * fit.standardErrors[0]) held++;
      const scatter = Math.sqrt(fit.residuals.reduce((s, r) => s + r * r, 0) / 298 / 300);
      if (Math.abs(fit.coefficients[0] - 2) < 1.97 * scatter) fooled++;
    }
    // Asked is 92 to 98 %: the count must not be below the 0.5 % point of the binomial of 92 %, nor above the 99.5 %
    // point of that of 98 %.
    expect(held).toBeGreaterThanOrEqual(binomialPoint(trials, 0.92, 0.005));
    expect(held).toBeLessThanOrEqual(binomialPoint(trials, 0.98, 0.995));
    // Independent errors miss a factor (1+0.8)/(1-0.8) = 9 in the variance of a mean: 1.97/3 standard deviations, which
    // hold 49 %.
    expect(fooled).toBeGreaterThanOrEqual(binomialPoint(trials, 0.489, 0.005));
    expect(fooled).toBeLessThanOrEqual(binomialPoint(trials, 0.489, 0.995));
  });
});

/** Smallest count whose cumulative binomial probability reaches `level`. */
function binomialPoint(trials: number, probability: number, level: number): number {
  // In logarithms: the first terms are far below the smallest number.
  let term = trials * Math.log(1 - probability);
  let sum = Math.exp(term);
  let count = 0;
  while (sum < level && count < trials) {
    term += Math.log(((trials - count) / (count + 1)) * (probability / (1 - probability)));
    count++;
    sum += Math.exp(term);
  }
  return count;
}
