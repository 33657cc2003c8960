import { fitLeastSquares } from "../../../lib/numeric/optimise/fitLeastSquares.js";
import { extendedLanczos } from "./extendedLanczos.js";
import { digits, type NistProblem, nistNames, nistProblem } from "./problems.js";

export interface DigitRow {
  readonly problem: string;
  readonly start: 1 | 2;
  /** Fewest correct significant digits over the parameters, their standard errors, and of the residual sum of
   * squares. */
  readonly parameterDigits: number;
  readonly errorDigits: number;
  readonly sumDigits: number;
  readonly iterations: number;
  readonly evaluations: number;
  readonly attempts: number;
  readonly stop: string;
}

/**
 * One problem from one of its starts with the default settings: numeric derivatives, no bounds, no scales, no options.
 * `extended`: Lanczos problems only, residuals formed in extended precision.
 */
export function digitRow(problem: NistProblem, start: 1 | 2, extended = false): DigitRow {
  const { y, x, model, certified, certifiedErrors } = problem;
  const result = fitLeastSquares({
    parameters: problem.starts[start - 1].map((value, j) => ({ name: `b${j + 1}`, start: value })),
    ...(extended
      ? extendedLanczos(problem.name as "Lanczos1")
      : {
          count: y.length,
          residuals(p: Float64Array, out: Float64Array) {
            for (let i = 0; i < y.length; i++) out[i] = y[i] - model(x[i], p);
          },
        }),
  });
  return {
    problem: extended ? `${problem.name}, residuals in extended precision` : problem.name,
    start,
    parameterDigits: Math.min(...certified.map((c, j) => digits(result.parameters[j].value, c))),
    errorDigits: Math.min(...certifiedErrors.map((c, j) => digits(result.parameters[j].standardError, c))),
    sumDigits: digits(result.sumOfSquares, problem.sumOfSquares),
    iterations: result.stop.iterations,
    evaluations: result.stop.evaluations,
    attempts: result.stop.attempts.length,
    stop: result.stop.code,
  };
}

/** Lanczos1 with residuals formed in extended precision, from both starts. */
export function extendedRows(): DigitRow[] {
  const problem = nistProblem("Lanczos1");
  return [digitRow(problem, 1, true), digitRow(problem, 2, true)];
}

/** All 54 runs. */
export function digitRows(): DigitRow[] {
  return nistNames.flatMap((name) => {
    const problem = nistProblem(name);
    return [digitRow(problem, 1), digitRow(problem, 2)];
  });
}
