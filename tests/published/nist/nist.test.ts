import { expect, test } from "vitest";
import { digitRow } from "./digitTable.js";
import { nistNames, nistProblem } from "./problems.js";

// NIST Statistical Reference Datasets, nonlinear regression: certified values in the .dat files beside this test.

test("the files hold 27 problems with as many rows as they state", () => {
  expect(nistNames.length).toBe(27);
  for (const name of nistNames) {
    const problem = nistProblem(name);
    expect(problem.y.length, name).toBeGreaterThan(5);
    expect(problem.certified.length, name).toBe(problem.starts[0].length);
    // The certified values and the model as written down here give the certified residual sum of squares.
    let sum = 0;
    problem.y.forEach((y, i) => {
      sum += (y - problem.model(problem.x[i], problem.certified)) ** 2;
    });
    // The certified parameters are printed to 11 digits: Lanczos1's residuals of 1e-13 do not survive that.
    if (name !== "Lanczos1") expect(Math.abs(sum / problem.sumOfSquares - 1), name).toBeLessThan(1e-6);
  }
});

for (const name of nistNames) {
  for (const start of [1, 2] as const) {
    test(`${name} from start ${start}: six digits in the parameters, four in the standard errors`, () => {
      const row = digitRow(nistProblem(name), start);
      expect(row.parameterDigits).toBeGreaterThanOrEqual(6);
      // Lanczos1's residuals are 1e-13 of data near 1, so that plain double precision knows them to three digits.
      expect(row.errorDigits).toBeGreaterThanOrEqual(name === "Lanczos1" ? 2.9 : 4);
      expect(["converged", "rounding"]).toContain(row.stop);
    });
  }
}

test("Lanczos1 with residuals formed in extended precision: the standard errors have their four digits", () => {
  const row = digitRow(nistProblem("Lanczos1"), 2, true);
  expect(row.parameterDigits).toBeGreaterThanOrEqual(6);
  expect(row.errorDigits).toBeGreaterThanOrEqual(4);
});
