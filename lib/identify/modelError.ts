import { type Regression, withCovariance } from "../numeric/linear/linearRegression.js";
import { columnSolver } from "../numeric/linear/solveColumns.js";
import { solvePositive } from "../numeric/linear/solvePositive.js";

/**
 * Standard deviation by which an error that lies anywhere within plus or minus `reach` is entered: 1.96 of it hold 95 %
 * of such errors where they decide the interval. (Their own standard deviation, reach/sqrt(3), would make the interval
 * reach beyond all of them.)
 */
export function ofUniform(reach: number): number {
  return (0.95 * reach) / 1.96;
}

/**
 * How well the logged current stands for the one that makes torque, as a standard deviation over it: its sensor's gain,
 * sampling where its ripple is not zero, a d current that adds or takes torque (common practice, no source).
 */
export const currentError = 0.004;

/** Variance of a combination. */
function quadratic(covariance: readonly (readonly number[])[], c: readonly number[]): number {
  return covariance.reduce((sum, row, a) => sum + row.reduce((part, v, b) => part + c[a] * c[b] * v, 0), 0);
}

/**
 * Widens the covariance of a regression by a disturbance of known shape and uncertain size: what the shape would put
 * into each coefficient per unit, times the standard deviation of its size.
 */
export function withModelError(
  fit: Regression,
  design: readonly (readonly number[])[],
  shape: readonly number[],
  deviation: number,
): Regression {
  const leak = leakOf(fit, design, shape);
  return leak === null ? fit : widened(fit, Array.from(leak), deviation);
}

/** What a disturbance of known shape puts into each coefficient, per unit; null where the fit does not tell. */
export function leakOf(
  fit: Regression,
  design: readonly (readonly number[])[],
  shape: readonly number[],
): Float64Array | null {
  const { root, solve } = leaksOf(fit.influence, design);
  return solve?.(root.map((r, i) => r * shape[i])) ?? null;
}

/** The regressors times the roots of their weights, ready to be solved for. */
interface Leaks {
  readonly design: readonly (readonly number[])[];
  readonly root: Float64Array;
  readonly solve: ReturnType<typeof columnSolver>;
}

/** By the weights of a fit: one is widened by several disturbances, and each keeps its weights. */
const leaks = new WeakMap<object, Leaks>();

function leaksOf(influence: Regression["influence"], design: Leaks["design"]): Leaks {
  const known = leaks.get(influence);
  if (known?.design === design) return known;
  const root = influence.map((w) => Math.sqrt(Math.max(0, w)));
  const solve = columnSolver(design[0].map((_, j) => root.map((r, i) => r * design[i][j])));
  const made = { design, root, solve };
  leaks.set(influence, made);
  return made;
}

/**
 * Widens the covariance of a regression by noise in its regressors: it draws their coefficients towards zero, or, where
 * a loop answers to the same noise, anywhere. What it would take is entered as a standard deviation.
 *
 * @param noise variance of the noise in every regressor of a row
 */
export function withNoisyColumns(
  fit: Regression,
  design: readonly (readonly number[])[],
  noise: readonly (readonly number[])[],
): Regression {
  const columns = design[0].map((_, j) => j);
  const size = columns.map((j) => Math.sqrt(design.reduce((s, r, i) => s + fit.influence[i] * r[j] ** 2, 0)));
  const normal = columns.map((a) =>
    columns.map(
      (b) => design.reduce((s, r, i) => s + fit.influence[i] * r[a] * r[b], 0) / (size[a] * size[b] || 1),
    ),
  );
  const pulled = columns.map((j) => {
    const drawn = noise.reduce((s, r, i) => s + fit.influence[i] * r[j], 0) * fit.coefficients[j];
    return size[j] > 0 ? drawn / size[j] : 0;
  });
  const leak = solvePositive(normal, pulled);
  return leak === undefined
    ? fit
    : widened(
        fit,
        leak.map((v, j) => (size[j] > 0 ? v / size[j] : 0)),
        1,
      );
}

/**
 * The mean of several fits of one law to one record, each with its probability, widened by how far they lie apart.
 *
 * @param fits with probabilities that sum to one
 */
export function meanOfFits(
  fits: readonly { readonly fit: Regression; readonly weight: number }[],
): Regression {
  const likeliest = fits.reduce((a, b) => (b.weight > a.weight ? b : a)).fit;
  const mean = likeliest.coefficients.map((_, j) =>
    fits.reduce((sum, { fit, weight }) => sum + weight * fit.coefficients[j], 0),
  );
  let whole: Regression = likeliest;
  for (const { fit, weight } of fits)
    if (weight > 0)
      whole = widened(
        whole,
        fit.coefficients.map((c, j) => c - mean[j]),
        Math.sqrt(weight),
      );
  const { covariance, degreesOf } = whole;
  return withCovariance({ ...likeliest, coefficients: mean }, covariance, degreesOf);
}

/** The fit with what a disturbance puts into each coefficient, times the standard deviation of its size. */
function widened(fit: Regression, leak: readonly number[], deviation: number): Regression {
  const covariance = fit.covariance.map((row, a) =>
    row.map((v, b) => v + deviation ** 2 * leak[a] * leak[b]),
  );
  // The size of the disturbance is stated, not measured: its share of a variance has no lack of degrees of freedom
  // (Satterthwaite's sum).
  const degreesOf = (combination: readonly number[]): number => {
    const measured = quadratic(fit.covariance, combination);
    const whole = quadratic(covariance, combination);
    return measured > 0 ? Math.min(1e6, fit.degreesOf(combination) * (whole / measured) ** 2) : 1e6;
  };
  return withCovariance(fit, covariance, degreesOf);
}
