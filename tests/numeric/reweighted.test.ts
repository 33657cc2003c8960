import fc from "fast-check";
import { expect, test } from "vitest";
import { reweighted } from "../../lib/numeric/linear/reweighted.js";
import { columnSolver, solveColumns } from "../../lib/numeric/linear/solveColumns.js";
import { thinQr } from "../../lib/numeric/linear/thinQr.js";

const n = 12;
/** Squares of numbers smaller than this are lost below the smallest that a double holds. */
const smallest = 1e-60;
const value = fc.double({ min: -10, max: 10, noNaN: true }).map((v) => (Math.abs(v) < smallest ? 0 : v));
const column = fc.array(value, { minLength: n, maxLength: n }).map((v) => Float64Array.from(v));
const weights = fc
  .array(fc.double({ min: 0.3, max: 1, noNaN: true }), { minLength: n, maxLength: n })
  .map((v) => Float64Array.from(v));
/** A line besides, so that the columns can be told apart. */
const ramp = Float64Array.from({ length: n }, (_, i) => i + 1);

const lengthOf = (v: Float64Array): number => Math.hypot(...v);

test("weighted least squares leave residuals that are orthogonal to every column under the weights", () => {
  fc.assert(
    fc.property(column, column, weights, (a, y, w) => {
      const columns = [ramp, a];
      fc.pre(solveColumns(columns, y) !== null);
      const qr = thinQr(columns);
      fc.pre(Math.abs(qr.diagonal[1]) > 1);
      const beta = reweighted(qr, y)(w);
      expect(beta).toBeDefined();
      const left = y.map((v, i) => w[i] * (v - columns.reduce((sum, c, j) => sum + c[i] * beta![j], 0)));
      for (const c of columns)
        expect(Math.abs(c.reduce((sum, v, i) => sum + v * left[i], 0))).toBeLessThan(1e-8);
    }),
  );
});

test("weights that leave a direction to nothing give no answer", () => {
  const spike = new Float64Array(n);
  spike[3] = 1;
  const w = new Float64Array(n).fill(1);
  w[3] = 1e-9;
  expect(reweighted(thinQr([ramp, spike]), ramp)(w)).toBeUndefined();
});

test("columns factorized once give what each response alone gives", () => {
  fc.assert(
    fc.property(column, column, column, (a, y, z) => {
      const columns = [ramp, a];
      const solve = columnSolver(columns);
      const scaled = thinQr(columns.map((c) => c.map((v) => v / lengthOf(c))));
      for (const response of [y, z]) {
        const alone = solveColumns(columns, response);
        const found = solve?.(response) ?? null;
        expect(found === null).toBe(alone === null);
        // Golub and Van Loan, Matrix Computations, section 5.3.7: of columns of length one, an answer is sure to the
        // rounding of the response times the square of the condition.
        const condition = 2 / Math.abs(scaled.diagonal[1]);
        for (const [j, x] of (alone ?? []).entries())
          expect(Math.abs(found![j] - x) * lengthOf(columns[j])).toBeLessThanOrEqual(
            100 * Number.EPSILON * condition ** 2 * lengthOf(response),
          );
      }
    }),
  );
});

test("columns that are multiples of each other cannot be told apart", () => {
  expect(columnSolver([ramp, ramp.map((v) => 2 * v)])).toBeUndefined();
  expect(columnSolver([])).toBeUndefined();
});
