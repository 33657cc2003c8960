import { expect, test } from "vitest";
import { studentT as student } from "../../lib/numeric/distributions/distributions.js";
import { studentQuantile } from "../../lib/numeric/distributions/studentQuantile.js";
import { normalTail, studentT } from "../../lib/numeric/distributions/studentT.js";
import { solveNormal } from "../../lib/numeric/linear/normalEquations.js";
import { solveColumns } from "../../lib/numeric/linear/solveColumns.js";
import { solvePositive } from "../../lib/numeric/linear/solvePositive.js";
import { descend } from "../../lib/numeric/optimise/descend.js";
import { firstOrderFilter } from "../../lib/numeric/series/firstOrderFilter.js";
import { localPolynomial } from "../../lib/numeric/series/localPolynomial.js";
import { evenModulatingFunction, modulatingFunction } from "../../lib/numeric/series/modulatingFunction.js";
import { uniforms } from "../house/uniforms.js";

test("one Student's t behind all: NIST/SEMATECH e-Handbook, table 1.3.6.7.2, and each form against the others", () => {
  for (const [df, t] of [
    [1, 12.706],
    [5, 2.571],
    [10, 2.228],
    [30, 2.042],
    [100, 1.984],
  ]) {
    expect(studentQuantile(0.975, df)).toBeCloseTo(t, 3);
    expect(studentT(0.95, df)).toBeCloseTo(t, 3);
    expect(student.quantile(0.975, df)).toBeCloseTo(t, 3);
  }
  for (const df of [0.7, 3.3, 12, 400, 1e5])
    for (const level of [0.5, 0.9, 0.99, 0.9999]) {
      const t = studentT(level, df);
      expect(t / studentQuantile((1 + level) / 2, df)).toBeCloseTo(1, 12);
      expect(2 * student.upper(t, df)).toBeCloseTo(1 - level, 9);
    }
  expect(studentT(0.95, 0)).toBe(Number.POSITIVE_INFINITY);
  expect(studentQuantile(0.95, 0)).toBeNaN();
  // The same handbook, table 1.3.6.7.1: 0.975 of the standard normal lies below 1.96.
  expect(normalTail(1.96)).toBeCloseTo(0.05, 4);
});

test("normal equations and orthogonal columns give one solution", () => {
  const random = uniforms(31);
  for (let k = 0; k < 20; k++) {
    const n = 1 + (k % 4);
    const columns = Array.from({ length: n }, () => Float64Array.from({ length: 30 }, () => random() - 0.5));
    const y = Float64Array.from({ length: 30 }, () => random());
    const dot = (a: Float64Array, b: Float64Array): number => a.reduce((s, v, i) => s + v * b[i], 0);
    const matrix = columns.map((a) => columns.map((b) => dot(a, b)));
    const found = solveNormal(
      matrix,
      columns.map((c) => dot(c, y)),
    );
    const careful = solveColumns(columns, y)!;
    careful.forEach((v, j) => {
      expect(found!.x[j]).toBeCloseTo(v, 7);
    });
    // The inverse is one.
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++)
        expect(matrix[i].reduce((s, v, l) => s + v * found!.inverse[l][j], 0)).toBeCloseTo(
          i === j ? 1 : 0,
          7,
        );
  }
  expect(solveNormal([[0]], [1])?.x[0] ?? 0).not.toBeNaN();
});

test("a positive matrix is solved as the normal equations are, and one that is not is refused", () => {
  const random = uniforms(8);
  for (let n = 1; n < 6; n++) {
    const a = Array.from({ length: n }, () => Array.from({ length: n }, () => random() - 0.5));
    const matrix = a.map((_, i) =>
      a.map((_row, j) => a.reduce((s, row) => s + row[i] * row[j], 0) + (i === j ? 0.1 : 0)),
    );
    const right = a.map(() => random());
    const found = solvePositive(matrix, right)!;
    solveNormal(matrix, right)!.x.forEach((v, i) => {
      expect(found[i]).toBeCloseTo(v, 7);
    });
  }
  expect(
    solvePositive(
      [
        [1, 2],
        [2, 1],
      ],
      [1, 1],
    ),
  ).toBeUndefined();
});

test("a first-order filter answers a step and a ramp as its equation does", () => {
  const time = Float64Array.from({ length: 200 }, (_, k) => 0.01 * k + 0.002 * Math.sin(k));
  const ramp = firstOrderFilter(time, time.slice(), 0.3);
  time.forEach((t, k) => {
    // y' = (t - y)/tau from y = t at the first row (0).
    expect(ramp[k]).toBeCloseTo(t - 0.3 * (1 - Math.exp(-(t - time[0]) / 0.3)), 10);
  });
  const gap = firstOrderFilter(Float64Array.of(0, 1, 2), Float64Array.of(1, Number.NaN, 1), 0.5);
  expect(gap[0]).toBe(1);
  expect(gap[1]).toBeNaN();
  expect(gap[2]).toBeCloseTo(1, 12);
});

test("a local polynomial is exact on its own degree, and uneven samples are solved by themselves", () => {
  const random = uniforms(7);
  const even = Float64Array.from({ length: 60 }, (_, k) => 0.1 * k);
  const uneven = even.map((t) => t + 0.03 * random());
  for (const t of [even, uneven]) {
    const y = t.map((v) => 2 - v + 0.5 * v * v);
    const { value, slope } = localPolynomial(t, y, 4, 2);
    t.forEach((v, k) => {
      expect(value[k]).toBeCloseTo(y[k], 9);
      expect(slope[k]).toBeCloseTo(v - 1, 7);
    });
  }
  const noisy = uneven.map((v) => Math.sin(v) + 0.1 * random());
  const { value, share } = localPolynomial(uneven, noisy, 3, 1);
  for (let i = 3; i < 57; i++) {
    const rows = [-3, -2, -1, 0, 1, 2, 3].map((d) => i + d);
    const line = solveColumns(
      [Float64Array.from(rows, () => 1), Float64Array.from(rows, (r) => uneven[r] - uneven[i])],
      Float64Array.from(rows, (r) => noisy[r]),
    )!;
    expect(value[i]).toBeCloseTo(line[0], 10);
    expect(share[i]).toBeLessThan(1);
  }
});

test("the modulating functions of even samples and of true times are one function", () => {
  const half = 12;
  const dt = 0.004;
  const time = Float64Array.from({ length: 2 * half + 1 }, (_, k) => k * dt);
  const even = evenModulatingFunction(half, dt);
  const free = modulatingFunction(time, 0, time.length);
  const sum = even.weight.reduce((s, v) => s + v, 0);
  // Means agree to what normalising the ends changes.
  const mean = (w: Float64Array): number => w.reduce((s, v, k) => s + v * Math.cos(20 * time[k]), 0);
  expect(mean(even.weight) / sum).toBeCloseTo(mean(free.weight), 2);
  // Second derivative of a parabola.
  const curvature = even.second.reduce((s, v, k) => s + v * 3 * time[k] ** 2, 0) / sum;
  expect(curvature / 6).toBeCloseTo(1, 1);
  expect(free.curvature.reduce((s, v, k) => s + v * 3 * time[k] ** 2, 0)).toBeCloseTo(6, 8);
});

test("damped steps come down where full ones overshoot, and stop where none helps", () => {
  // Full Newton steps on the root of atan diverge from 3 (Dennis and Schnabel, Numerical Methods for Unconstrained
  // Optimization, 1983, section 2.5: beyond 1.39).
  const cost = (x: number): number => Math.atan(x) ** 2;
  const found = descend<number>(3, {
    cost,
    step: (x) => [-Math.atan(x) * (1 + x * x)],
    at: (x, [d], part) => x + part * d,
  });
  expect(Math.abs(found)).toBeLessThan(1e-6);
  expect(descend<number>(3, { cost, step: () => null, at: () => null })).toBe(3);
  expect(descend<number>(3, { cost, step: () => [1], at: (x, [d], part) => x + part * d })).toBe(3);
});
