import { expect, test } from "vitest";
import { blockCovariance, blocksTell } from "../../lib/numeric/linear/blockCovariance.js";
import { cholesky } from "../../lib/numeric/linear/cholesky.js";
import { halving } from "../../lib/numeric/optimise/halving.js";
import { uniforms } from "../house/uniforms.js";

const rows = Array.from({ length: 40 }, (_, k) => [1, k, Math.sin(k)]);
const columns = [0, 1, 2].map((j) => Float64Array.from(rows, (row) => row[j]));
const residuals = rows.map((_, k) => Math.cos(7 * k));

test("without a whole block nothing is told of the covariance", () => {
  expect(blockCovariance(columns, residuals, [0])).toBeNull();
  expect(blockCovariance(columns, residuals, [])).toBeNull();
  expect(blockCovariance(columns, residuals, [0, 10, 20, 30, 40])).not.toBeNull();
});

test("whether blocks tell is known without their covariance, also where one bears on a coefficient alone", () => {
  const uniform = uniforms(20261128);
  const count = { told: 0, not: 0 };
  for (let trial = 0; trial < 600; trial++) {
    const p = 1 + Math.floor(6 * uniform());
    const n = 24 + Math.floor(120 * uniform());
    const blocks = 4 + Math.floor(4 * uniform());
    const edges = Array.from({ length: blocks + 1 }, (_, g) => Math.floor((g * n) / blocks));
    // A part of the columns is small outside one block, by up to twelve decades: about the limit it is both.
    const drawn = Array.from({ length: p }, () => {
      const [only, outside] = [Math.floor(blocks * uniform()), uniform() < 0.4 ? 10 ** (-12 * uniform()) : 1];
      return Float64Array.from({ length: n }, (_, i) => {
        const within = i >= edges[only] && i < edges[only + 1];
        return (uniform() - 0.5) * (within ? 1 : outside);
      });
    });
    const left = Float64Array.from({ length: n }, () => uniform() - 0.5);
    const series = uniform() < 0.5 ? undefined : left.map((_, i) => i % 2);
    const given = [drawn, left, edges, 0.9 * uniform(), series] as const;
    const told = blockCovariance(...given) !== null;
    expect(blocksTell(...given), `trial ${trial}`).toBe(told);
    count[told ? "told" : "not"]++;
  }
  expect(Math.min(count.told, count.not)).toBeGreaterThan(100);
});

test("a Cholesky factor times its transpose is the matrix, and what is not positive definite is told", () => {
  const given = [4, 2, -2, 2, 10, 2, -2, 2, 5];
  const l = Float64Array.from(given);
  expect(cholesky(l, 3)).toBe(true);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = 0; k <= j; k++) sum += l[i * 3 + k] * l[j * 3 + k];
      expect(sum).toBeCloseTo(given[i * 3 + j], 12);
    }
  expect(cholesky(Float64Array.of(1, 2, 2, 1), 2)).toBe(false);
  expect(cholesky(Float64Array.of(1, 2, 2, 1), 2, 1e-300)).toBe(true);
});

test("halving closes in from both sides on where something ceases to hold", () => {
  const [low, high] = halving(0, 4, (x) => x * x < 2);
  expect(low).toBeLessThanOrEqual(Math.SQRT2);
  expect(high).toBeGreaterThanOrEqual(Math.SQRT2 - 1e-15);
  expect(high - low).toBeLessThan(1e-15);
});
