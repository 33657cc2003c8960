import { expect, test } from "vitest";
import { padeDelay, polynomialRoots, routhTable } from "../../lib/control/index.js";
import { multiplyPolynomials } from "../../lib/numeric/systems/polynomial.js";

test("roots of products of known factors come back, over twelve decades", () => {
  const p = multiplyPolynomials([1, 1e-3], [1, 2], [1, 0.4, 4], [1, 1e4], [1, 1e9], [1, -5]);
  const roots = polynomialRoots(p);
  const expected = [5, -1e-3, -0.2, -0.2, -2, -1e4, -1e9];
  expect(roots.length).toBe(7);
  roots.forEach((root, k) => {
    expect(Math.abs(root.re / expected[k] - 1)).toBeLessThan(1e-9);
  });
  expect(roots[2].im).toBeCloseTo(Math.sqrt(4 - 0.04), 9);
  expect(roots[3].im).toBe(-roots[2].im);
});

test("zero roots, repeated roots and lone factors", () => {
  expect(polynomialRoots([1, 3, 2, 0, 0]).map((r) => r.re)).toEqual([0, 0, -1, -2]);
  const triple = polynomialRoots(multiplyPolynomials([1, 1], [1, 1], [1, 1]));
  for (const r of triple) expect(Math.hypot(r.re + 1, r.im)).toBeLessThan(2e-5); // cube root of machine precision
  expect(polynomialRoots([4])).toEqual([]);
  expect(polynomialRoots([0, 0, 2, -8])).toEqual([{ re: 4, im: 0 }]);
});

test("what has no roots is refused with the reason", () => {
  expect(() => polynomialRoots([0, 0])).toThrow(/zero polynomial/);
  expect(() => polynomialRoots([1, Number.NaN])).toThrow(/finite/);
});

test("the Pade approximation has unit gain and matches the phase of the delay", () => {
  for (const order of [1, 2, 3, 4]) {
    const { numerator, denominator } = padeDelay(0.01, order);
    for (const omega of [1, 10, 50, 100]) {
      const at = (p: readonly number[]) => {
        let [re, im] = [0, 0];
        for (const c of p) [re, im] = [-im * omega + c, re * omega];
        return { re, im };
      };
      const [n, d] = [at(numerator), at(denominator)];
      expect(Math.hypot(n.re, n.im) / Math.hypot(d.re, d.im)).toBeCloseTo(1, 12);
      const phase = Math.atan2(n.im, n.re) - Math.atan2(d.im, d.re);
      const x = omega * 0.01;
      // leading error of the diagonal approximation: x^(2n+1) (n!)^2 / ((2n)! (2n+1)!)
      const factorial = (m: number): number => (m < 2 ? 1 : m * factorial(m - 1));
      const bound =
        (1.2 * x ** (2 * order + 1) * factorial(order) ** 2) /
          (factorial(2 * order) * factorial(2 * order + 1)) +
        1e-14;
      expect(Math.abs(phase + x)).toBeLessThan(bound);
    }
  }
});

test("Routh's table agrees with the roots", () => {
  expect(routhTable([1, 2, 3, 4, 5]).unstable).toBe(2);
  expect(routhTable([1, 10, 31, 30]).stable).toBe(true);
  // s^3 + 2 s^2 + s + 2 has roots at +-j: a vanishing row
  expect(routhTable([1, 2, 1, 2])).toMatchObject({ unstable: 0, symmetric: true, stable: false });
  let state = 12345;
  const random = () => {
    state = (state * 1103515245 + 12345) % 2147483648;
    return state / 2147483648 - 0.35;
  };
  for (let n = 0; n < 200; n++) {
    const p = Array.from({ length: 3 + (n % 5) }, random);
    const roots = polynomialRoots(p);
    expect(routhTable(p).unstable).toBe(roots.filter((r) => r.re > 0).length);
  }
});
