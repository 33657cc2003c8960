import {
  linearRegression,
  type Regression,
  type RegressionOptions,
  type RobustFit,
  robustRegression,
  toldRegression,
} from "../../numeric/linear/linearRegression.js";
import { deviationPerMedian, upperMedian } from "../../numeric/series/median.js";
import { intervalOf } from "../book.js";
import { ofUniform, withModelError } from "../modelError.js";
import { ratioOfCoefficients } from "../quantity.js";
import type { MechanicalRow } from "./mechanicalRows.js";

/** Friction coefficient of a fit: pooled, or of one direction. */
export type FrictionName =
  | "coulomb"
  | "viscous"
  | "coulombPositive"
  | "coulombNegative"
  | "viscousPositive"
  | "viscousNegative";

/**
 * How friction is taken: alike both ways (`pooled`), each direction's on its own (`apart`), or alike both ways beside a
 * load that pulls one way (`loaded`).
 */
export type FrictionKind = "pooled" | "apart" | "loaded";

/** The equation of motion fitted to windows. */
export interface MotionFit {
  readonly regression: Regression;
  /**
   * Which side stands alone: `acceleration` (its first coefficient is Kt*g/J or 1/J, absent for a coast-down) or
   * `input` (J/(Kt*g) or J).
   */
  readonly form: "acceleration" | "input";
  /** Index of each coefficient in the regression; friction is per direction or pooled. */
  readonly at: { readonly [name in FrictionName | "first" | "load"]?: number };
  readonly rows: readonly MechanicalRow[];
}

/** What is not known of the input of an equation of motion. */
export interface InputErrors {
  /** Standard error of the angle by which currents were turned into the magnets' coordinates, rad. */
  readonly angle?: number;
  /** Standard error of the input over itself. */
  readonly input?: number;
  /**
   * Electrical turn of the rotor in one period of the current loop, per rad/s of the shaft: the voltage stands still
   * for that long, so that the current at the ends of a period, where it is sampled, is larger than its mean by up to
   * the square of the turn over twelve.
   */
  readonly turn?: number;
  /**
   * The same turn, by which the angle of the current may be late: what current lies across the magnets then makes
   * torque in proportion to the speed, which of one sense of rotation looks like viscous friction. Absent where the
   * pole pairs are not told: the machine may be one without an angle.
   */
  readonly late?: number;
  /** The input is turned into the magnets' coordinates, so that the current across them is known. */
  readonly inRotor?: boolean;
}

/** Offset error that is left by a sound alignment, as a standard deviation, electrical rad (common practice, no
 * source). */
const usualOffset = 0.06;

/** Value with a 95 % interval. */
type Interval = { readonly value: number; readonly low: number; readonly high: number };

/**
 * Fits the equation of motion to windows. Left stands what the disturbance of the shaft moves, so that it does not move
 * the regressors:
 *
 * - `coast` and `driven`: `dw/dt = gain*input - (Tc/J)*direction - (B/J)*w`. A torque command sets the current,
 *   whatever the shaft does; the
 *   acceleration is also the noisiest mean.
 * - `held`: `input = (J/Kt)*dw/dt + (Tc/Kt)*direction + (B/Kt)*w`. A speed loop makes the current answer to the
 *   disturbance and holds the speed; with
 *   the current among the regressors the answer would be read as a torque that moves nothing, and the gain come out too small.
 *
 * Windows of different length have different noise: a first fit gives the scale, a second weighs by it.
 *
 * @param friction alike both ways, each direction's on its own, or beside a load
 * @param errors what is not known of the input, see `InputErrors`
 */
export function fitMotion(
  rows: readonly MechanicalRow[],
  kind: "driven" | "held" | "coast",
  friction: FrictionKind,
  errors: InputErrors = {},
): MotionFit | null {
  if (rows.length < 6) return null;
  const columns: ((r: MechanicalRow) => number)[] = [];
  const at: Partial<Record<FrictionName | "first" | "load", number>> = {};
  const add = (name: FrictionName | "first" | "load", column: (r: MechanicalRow) => number): void => {
    at[name] = columns.length;
    columns.push(column);
  };
  const form = kind === "held" ? "input" : "acceleration";
  // Friction brakes the acceleration and asks for input.
  const sense = kind === "held" ? 1 : -1;
  if (kind === "driven") add("first", (r) => r.input);
  if (kind === "held") add("first", (r) => r.acceleration);
  if (friction === "apart") {
    add("coulombPositive", (r) => (r.direction > 0 ? sense : 0));
    add("coulombNegative", (r) => (r.direction < 0 ? -sense : 0));
    add("viscousPositive", (r) => (r.direction > 0 ? sense * r.speed : 0));
    add("viscousNegative", (r) => (r.direction < 0 ? sense * r.speed : 0));
  } else {
    add("coulomb", (r) => sense * r.direction);
    add("viscous", (r) => sense * r.speed);
  }
  if (friction === "loaded") add("load", () => sense);
  const design = rows.map((r) => columns.map((column) => column(r)));
  const regression = twoPassRegression(
    design,
    rows.map((r) => (kind === "held" ? r.input : r.acceleration)),
    rows.map((r) => r.lengthClass),
    // The even windows of a coast-down are long beside what correlates them; growing ones are not.
    kind === "coast" ? { leastBlock: 6 } : {},
  );
  if (regression === null) return null;
  const perAcross = kind === "driven" ? regression.coefficients[at.first!] : 1;
  let leak = regression;
  const { angle = 0, input = 0, turn = 0, late = 0, inRotor = false } = errors;
  for (const [size, of] of [
    [angle, (r: MechanicalRow) => r.across],
    [input, (r: MechanicalRow) => r.input],
    [turn > 0 ? ofUniform(1) : 0, (r: MechanicalRow) => (r.input * (r.speed * turn) ** 2) / 12],
    [
      late > 0 ? ofUniform(1) : 0,
      (r: MechanicalRow) => r.speed * late * (inRotor ? r.across : usualOffset * r.input),
    ],
  ] as const)
    if (size > 0)
      leak = withModelError(
        leak,
        design,
        rows.map((r) => perAcross * of(r)),
        size,
      );
  return { regression: leak, form, at, rows };
}

/**
 * Inertia over what a unit of input makes, with its sign: J/(Kt*g), or J where the input is a torque. Null for a
 * coast-down, and when it is not told from zero.
 */
export function inertiaOverInput({ regression: r, form, at }: MotionFit): Interval | null {
  if (at.first === undefined) return null;
  const own = intervalOf(r, at.first);
  if (!(own.low * own.high > 0)) return null;
  return form === "input" ? own : { value: 1 / own.value, low: 1 / own.high, high: 1 / own.low };
}

/** Friction over inertia. Null when the fit does not hold it. */
export function frictionOverInertia(fit: MotionFit, name: FrictionName): Interval | null {
  const { regression, form, at } = fit;
  const j = at[name];
  if (j === undefined) return null;
  return form === "acceleration" ? intervalOf(regression, j) : ratioOfCoefficients(regression, j, at.first!);
}

/**
 * Whether friction would drive the shaft: its whole at the mean speed of the windows is below zero by twice its 95 %
 * half width. No friction does that, also one that falls with the speed; the motion then has another law. A weight may,
 * where the shaft turns one way only: that is left alone.
 */
export function drivenByFriction({ regression: r, form, at, rows }: MotionFit): boolean {
  const { coulomb, viscous, first } = at;
  if (coulomb === undefined || viscous === undefined || !rows.some(({ direction }) => direction > 0))
    return false;
  if (!rows.some(({ direction }) => direction < 0)) return false;
  const speed = rows.reduce((sum, row) => sum + Math.abs(row.speed), 0) / rows.length;
  const sense = form === "input" && first !== undefined ? Math.sign(r.coefficients[first]) : 1;
  const { covariance: v } = r;
  const whole = sense * (r.coefficients[coulomb] + speed * r.coefficients[viscous]);
  const variance = v[coulomb][coulomb] + 2 * speed * v[coulomb][viscous] + speed ** 2 * v[viscous][viscous];
  return whole < -2 * Math.max(r.critical[coulomb], r.critical[viscous]) * Math.sqrt(Math.max(0, variance));
}

/**
 * Friction over what a unit of input makes, with the sign of the latter. Null when the fit does not hold it, or when it
 * hangs on one block of
 * windows: it has no interval worth the name then.
 */
export function frictionOverInput(fit: MotionFit, name: FrictionName | "load"): Interval | null {
  const { regression, form, at } = fit;
  const j = at[name];
  if (j === undefined || at.first === undefined || regression.degreesOfFreedom[j] < 1.2) return null;
  return form === "input" ? intervalOf(regression, j) : ratioOfCoefficients(regression, j, at.first);
}

/**
 * Regression of windows of several lengths. A first pass weighs by the length of each window; the second by a residual
 * scale that goes as a power of the
 * length, read off the residuals of the first. Two numbers only: a scale for every length on its own is so uncertain
 * that weighing
 * by it makes the coefficients worse and their errors look smaller than they are.
 *
 * @param lengths logarithm (base 2) of the length of each window
 */
export function twoPassRegression(
  design: readonly (readonly number[])[],
  response: readonly number[],
  lengths: readonly number[],
  more: Pick<RegressionOptions, "series" | "leastBlock"> = {},
): Regression | null {
  // Where blocks of rows cannot tell how well the first pass knows its coefficients, the second is not to be trusted.
  const first = toldRegression(design, response, { weights: lengths.map(lengthWeight), ...more });
  const weights = first && secondWeights(first, lengths, more.series);
  return weights && linearRegression(design, response, { ...more, weights });
}

/** The coefficients of `twoPassRegression` alone, however well they are known: for the steps of a search. */
export function twoPassCoefficients(
  design: readonly (readonly number[])[],
  response: readonly number[],
  lengths: readonly number[],
): RobustFit | null {
  const first = robustRegression(design, response, { weights: lengths.map(lengthWeight) });
  const weights = first && secondWeights(first, lengths, undefined);
  return weights && robustRegression(design, response, { weights });
}

/** Prior guess: the noise of a mean falls with the root of the length of its window. */
const lengthWeight = (length: number): number => 2 ** length;

/** Weights of the second pass; those of the first where it leaves nothing to weigh by. */
function secondWeights(
  first: RobustFit,
  lengths: readonly number[],
  series: ArrayLike<number> | undefined,
): number[] {
  const guess = lengths.map(lengthWeight);
  const weights = new Array<number>(lengths.length).fill(0);
  for (const one of new Set(series === undefined ? [0] : Array.from(series))) {
    const own = guess.map((_, i) => i).filter((i) => series === undefined || series[i] === one);
    const sizes = own.map((i) => Math.abs(first.residuals[i]) / Math.sqrt(guess[i]));
    const line = scaleLine(
      own.map((i) => lengths[i]),
      sizes,
    );
    if (line === null) return guess;
    own.forEach((i) => {
      weights[i] = 4 ** -(line.at + line.slope * lengths[i]);
    });
  }
  return weights;
}

/**
 * Robust scale of residuals as a power of the window's length: logarithm (base 2) at length 1, and exponent. Null when
 * the residuals vanish.
 */
function scaleLine(
  lengths: readonly number[],
  sizes: readonly number[],
): { readonly at: number; readonly slope: number } | null {
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  for (const length of new Set(lengths)) {
    const own = sizes.filter((_, i) => lengths[i] === length);
    const middle = upperMedian(own);
    if (own.length < 5 || !(middle > 0)) continue;
    const y = Math.log2(deviationPerMedian * middle);
    n += own.length;
    sx += own.length * length;
    sy += own.length * y;
    sxx += own.length * length * length;
    sxy += own.length * length * y;
  }
  if (n === 0) return null;
  const spread = sxx - (sx * sx) / n;
  // From an error that no averaging lowers to that of a second derivative of quantised samples.
  const slope = spread > 1e-9 * n ? Math.max(-2.5, Math.min(0, (sxy - (sx * sy) / n) / spread)) : -0.5;
  return { at: (sy - slope * sx) / n, slope };
}
