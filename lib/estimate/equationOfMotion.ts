import { linearRegression, type Regression, type RegressionOptions } from "./linearRegression.js";
import type { MechanicalRow } from "./mechanicalRows.js";
import { withModelError } from "./modelError.js";

/** The equation of motion fitted to windows. */
export interface MotionFit {
  readonly regression: Regression;
  /** Index of each coefficient in the regression; friction is per direction or pooled. */
  readonly at: {
    /** Input gain: Kt*g/J or 1/J. Absent for a coast-down. */
    readonly gain?: number;
    readonly coulomb?: number;
    readonly viscous?: number;
    readonly coulombPositive?: number;
    readonly coulombNegative?: number;
    readonly viscousPositive?: number;
    readonly viscousNegative?: number;
  };
  readonly rows: readonly MechanicalRow[];
}

/**
 * Fits `dw/dt = gain*input - (Tc/J)*direction - (B/J)*w` to windows. The acceleration, the noisiest mean, stands on the left, so its noise does not
 * bias the coefficients; the means of input and speed are averages over many samples, whose noise is small beside their range.
 *
 * Windows of different length have different noise: a first fit gives the scale of each length class, a second weighs by it.
 *
 * @param kind `driven` uses the input, `coast` takes it as zero
 * @param apart fit each direction's friction on its own
 * @param angleError standard error of the angle by which currents were turned into the magnets' coordinates, rad
 */
export function fitMotion(
  rows: readonly MechanicalRow[],
  kind: "driven" | "coast",
  apart: boolean,
  angleError = 0,
): MotionFit | null {
  if (rows.length < 6) return null;
  const columns: ((r: MechanicalRow) => number)[] = [];
  const at: Record<string, number> = {};
  const add = (name: string, column: (r: MechanicalRow) => number): void => {
    at[name] = columns.length;
    columns.push(column);
  };
  if (kind === "driven") add("gain", (r) => r.input);
  if (apart) {
    add("coulombPositive", (r) => (r.direction > 0 ? -1 : 0));
    add("coulombNegative", (r) => (r.direction < 0 ? 1 : 0));
    add("viscousPositive", (r) => (r.direction > 0 ? -r.speed : 0));
    add("viscousNegative", (r) => (r.direction < 0 ? -r.speed : 0));
  } else {
    add("coulomb", (r) => -r.direction);
    add("viscous", (r) => -r.speed);
  }
  const design = rows.map((r) => columns.map((column) => column(r)));
  const response = rows.map((r) => r.acceleration);
  const regression = twoPassRegression(
    design,
    response,
    rows.map((r) => r.lengthClass),
    // The even windows of a coast-down are long beside what correlates them; growing ones are not.
    kind === "coast" ? { leastBlock: 6 } : {},
  );
  if (regression === null) return null;
  const gain = at.gain === undefined ? 0 : regression.coefficients[at.gain];
  const leak =
    angleError > 0
      ? withModelError(
          regression,
          design,
          rows.map((r) => gain * r.across),
          angleError,
        )
      : regression;
  return { regression: leak, at, rows };
}

/** Regression of windows of several lengths: each class of length is weighed by the residual scale that a first pass finds for it. */
export function twoPassRegression(
  design: readonly (readonly number[])[],
  response: readonly number[],
  classes: readonly number[],
  more: Pick<RegressionOptions, "series" | "leastBlock"> = {},
): Regression | null {
  const n = design.length;
  // Prior guess: the noise of a mean falls with the length of its window.
  const guess = classes.map((c) => 2 ** c);
  const first = linearRegression(design, response, { weights: guess, ...more });
  if (first === null) return null;
  const scales = new Map<number, number>();
  const distinct = [...new Set(classes)];
  for (const one of distinct) {
    const sizes: number[] = [];
    for (let i = 0; i < n; i++)
      if (classes[i] === one) sizes.push(Math.abs(first.residuals[i]) / Math.sqrt(guess[i]));
    sizes.sort((a, b) => a - b);
    // A class with few windows borrows from all.
    if (sizes.length >= 8) scales.set(one, 1.4826 * sizes[sizes.length >> 1]);
  }
  const least = Math.max(...scales.values()) * 0.02;
  const known = [...scales.keys()];
  const scaleOf = (c: number): number => {
    const own = scales.get(c);
    if (own !== undefined) return Math.max(own, least);
    const nearest = known.reduce((best, k) => (Math.abs(k - c) < Math.abs(best - c) ? k : best), known[0]);
    return Math.max(scales.get(nearest)!, least);
  };
  if (known.length === 0 || !(least > 0)) return first;
  return linearRegression(design, response, {
    ...more,
    weights: classes.map((c) => 1 / scaleOf(c) ** 2),
  });
}
