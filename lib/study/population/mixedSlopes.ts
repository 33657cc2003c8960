import { inverse, Matrix } from "ml-matrix";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { cholesky } from "../../numeric/linear/cholesky.js";
import { minimise } from "../../numeric/optimise/minimise.js";

/** One value of one motor at one time, with what else may act on it. */
export interface SlopePoint {
  readonly motor: string;
  readonly time: number;
  readonly value: number;
  /** Further covariates, the same number for every point. */
  readonly x?: readonly number[];
}

/** Level and slope that differ between motors. */
export interface MixedSlopes {
  /** Mean level at time 0, mean slope, then one effect for each covariate. */
  readonly fixed: readonly number[];
  readonly fixedCovariance: readonly (readonly number[])[];
  /** Variances of level and slope between motors, and their covariance. */
  readonly between: { readonly level: number; readonly slope: number; readonly both: number };
  /** Standard deviation of one run. */
  readonly residual: number;
  readonly criterion: number;
  /** Level and slope of each motor, with their covariance given the data (the fixed effects' doubt included). */
  readonly motors: readonly MotorPath[];
  readonly points: number;
}

/** Level at time 0 and slope of one motor. */
export interface MotorPath {
  readonly motor: string;
  readonly level: number;
  readonly slope: number;
  readonly variance: { readonly level: number; readonly slope: number; readonly both: number };
}

/** Sums of one motor: everything the likelihood needs of its points. */
interface Sums {
  readonly motor: string;
  readonly zz: readonly [number, number, number];
  /** Products of (1, time) with the fixed columns and the value. */
  readonly zx: readonly (readonly number[])[];
}

/** How level and slope differ between motors, over the standard deviation of a run: its lower Cholesky factor. */
type Ratio = readonly [number, number, number];

/**
 * Level and slope of each motor as drawn from a common distribution, by restricted maximum likelihood (Laird, N. M. and
 * Ware, J. H. (1982), Biometrics 38, 963-974; the criterion as in Bates, D. and others (2015), Journal of Statistical
 * Software 67(1)).
 *
 * @throws RangeError with fewer than three motors, or too few points for the fixed effects
 */
export function mixedSlopes(points: readonly SlopePoint[]): MixedSlopes {
  const data = prepare(points);
  const best = minimise(
    (theta) => criterionOf(data, theta as unknown as Ratio).value,
    [0.8, 0, 0.8],
    [0.4, 0.3, 0.4],
  );
  return finished(data, best.at as unknown as Ratio);
}

/**
 * The same over a range of what the slopes may differ by, each with its part of the likelihood: a fit of few motors
 * often puts that difference at nothing, and intervals from that fit alone would be too narrow.
 */
export function slopeRange(
  points: readonly SlopePoint[],
): { readonly part: number; readonly fit: MixedSlopes }[] {
  const data = prepare(points);
  const best = minimise(
    (theta) => criterionOf(data, theta as unknown as Ratio).value,
    [0.8, 0, 0.8],
    [0.4, 0.3, 0.4],
  );
  const [level, both, slope] = best.at;
  const least = 1 / Math.sqrt(data.motors.length * meanReach(data));
  const top = Math.abs(slope) + 3 * least + Math.abs(slope) * 3 * Math.sqrt(2 / data.motors.length);
  const grid = Array.from({ length: 11 }, (_, k) => (top * (k + 0.5)) / 11);
  const fits = grid.map((s): { theta: Ratio; value: number } => {
    // The level's part is found again at each of the slope's, from where the best fit has it.
    const found = minimise(([a, b]) => criterionOf(data, [a, b, s]).value, [level, both], [0.3, 0.2], {
      tolerance: 1e-6,
      mostEvaluations: 60,
    });
    return { theta: [found.at[0], found.at[1], s], value: found.value };
  });
  const lowest = fits.reduce((m, f) => Math.min(m, f.value), Number.POSITIVE_INFINITY);
  const weights = fits.map((f) => Math.exp(-0.5 * (f.value - lowest)));
  const total = weights.reduce((a, b) => a + b, 0);
  return fits.flatMap((f, k) =>
    weights[k] < 1e-3 * total ? [] : [{ part: weights[k] / total, fit: finished(data, f.theta) }],
  );
}

/** Steps of the walk over what the motors may differ by, and after how many of them a fit is kept. */
const walked = { steps: 1600, kept: 5 };

/**
 * Fits, without the paths of the motors, over all that the motors' levels and slopes may differ by and hang together:
 * each as often as the restricted likelihood has it, with every deviation and every correlation as likely before
 * (Gelman, A. (2006), Bayesian Analysis 1, 515-534). By a walk of Metropolis and others (1953), Journal of Chemical
 * Physics 21, 1087-1092; the same for the same points.
 */
export function slopeWalk(points: readonly SlopePoint[]): MixedSlopes[] {
  const data = prepare(points);
  const height = (theta: readonly number[]) =>
    -0.5 * criterionOf(data, theta as unknown as Ratio).value - Math.log(Math.hypot(theta[1], theta[2]));
  const [level, both, slope] = minimise(
    (theta) => criterionOf(data, theta as unknown as Ratio).value,
    [0.8, 0, 0.8],
    [0.4, 0.3, 0.4],
  ).at;
  // Off the pole of the prior where the slopes seem not to differ.
  const least = 1 / Math.sqrt(data.motors.length * meanReach(data));
  let at = [level, both, Math.max(least, Math.abs(slope))];
  let now = height(at);
  const widths = at.map((_, i) => widthOf(height, at, i));
  const random = seededRandom(1);
  const fits: MixedSlopes[] = [];
  for (let k = 1; k <= walked.steps; k++) {
    const next = at.map((v, i) => v + widths[i] * random.normal());
    const there = height(next);
    if (Math.log(random.uniform()) < there - now) [at, now] = [next, there];
    if (k % walked.kept === 0) fits.push(finished(data, at as unknown as Ratio, []));
  }
  return fits;
}

/** About one deviation of a walk's target along one of its coordinates. */
function widthOf(height: (theta: readonly number[]) => number, at: readonly number[], i: number): number {
  const top = height(at);
  let width = 0.05;
  const falls = (w: number) =>
    [-w, w].every((d) => height(at.map((v, j) => (j === i ? v + d : v))) < top - 0.5);
  if (falls(width)) while (falls(width / 2) && width > 1e-4) width /= 2;
  else while (!falls(width) && width < 10) width *= 2;
  return width;
}

interface Data {
  readonly motors: readonly Sums[];
  /** Products of the fixed columns and the value among themselves. */
  readonly xx: readonly (readonly number[])[];
  readonly width: number;
  readonly points: number;
  readonly shift: number;
  readonly scale: number;
  readonly timeShift: number;
  readonly timeScale: number;
}

/** Times and values are centred and scaled, so that the search works on numbers near one. */
function prepare(points: readonly SlopePoint[]): Data {
  const n = points.length;
  const mean = (of: (p: SlopePoint) => number) => points.reduce((sum, p) => sum + of(p), 0) / n;
  const [shift, timeShift] = [mean((p) => p.value), mean((p) => p.time)];
  const scale = Math.sqrt(mean((p) => (p.value - shift) ** 2)) || 1;
  const timeScale = Math.sqrt(mean((p) => (p.time - timeShift) ** 2)) || 1;
  const extra = points[0]?.x?.length ?? 0;
  const width = 2 + extra;
  const byMotor = new Map<string, SlopePoint[]>();
  for (const p of points) byMotor.set(p.motor, [...(byMotor.get(p.motor) ?? []), p]);
  if (byMotor.size < 3) throw new RangeError(`${byMotor.size} motors: at least 3 are needed`);
  if (n < width + 3) throw new RangeError(`${n} runs: too few for ${width} effects and the motors`);
  const empty = () => Array.from({ length: width + 1 }, () => new Array<number>(width + 1).fill(0));
  const xx = empty();
  const motors = [...byMotor].map(([motor, list]): Sums => {
    const own = empty();
    for (const p of list) {
      const row = [1, (p.time - timeShift) / timeScale, ...(p.x ?? []), (p.value - shift) / scale];
      for (let i = 0; i <= width; i++) for (let j = 0; j <= width; j++) own[i][j] += row[i] * row[j];
    }
    for (let i = 0; i <= width; i++) for (let j = 0; j <= width; j++) xx[i][j] += own[i][j];
    return { motor, zz: [own[0][0], own[0][1], own[1][1]], zx: [own[0], own[1]] };
  });
  return { motors, xx, width, points: n, shift, scale, timeShift, timeScale };
}

function meanReach(data: Data): number {
  return data.motors.reduce((sum, m) => sum + m.zz[2] - m.zz[1] ** 2 / m.zz[0], 0) / data.motors.length;
}

/** What the motors' own levels and slopes leave over, for a ratio. */
function reduced(data: Data, [a, b, c]: Ratio): { cross: number[][]; logDeterminant: number } {
  const { width } = data;
  const cross = data.xx.map((row) => [...row]);
  let logDeterminant = 0;
  for (const { zz, zx } of data.motors) {
    // M = I + L' Z'Z L, with L = [[a, 0], [b, c]]; the part to take out is (L' Z'X)' M^-1 (L' Z'X).
    const [n, s, q] = zz;
    const m11 = 1 + a * a * n + 2 * a * b * s + b * b * q;
    const m12 = c * (a * s + b * q);
    const m22 = 1 + c * c * q;
    const determinant = m11 * m22 - m12 * m12;
    logDeterminant += Math.log(determinant);
    const u = zx[0].map((v, j) => a * v + b * zx[1][j]);
    const w = zx[1].map((v) => c * v);
    for (let i = 0; i <= width; i++)
      for (let j = 0; j <= width; j++)
        cross[i][j] -=
          (m22 * u[i] * u[j] - m12 * (u[i] * w[j] + w[i] * u[j]) + m11 * w[i] * w[j]) / determinant;
  }
  return { cross, logDeterminant };
}

function criterionOf(
  data: Data,
  theta: Ratio,
): { value: number; fixed: number[]; squares: number; inverse: Matrix } {
  const { width, points } = data;
  const { cross, logDeterminant } = reduced(data, theta);
  const left = new Matrix(cross.slice(0, width).map((row) => row.slice(0, width)));
  const right = cross.slice(0, width).map((row) => row[width]);
  const inverted = inverse(left);
  const fixed = inverted.mmul(Matrix.columnVector(right)).to1DArray();
  const squares = Math.max(1e-300, cross[width][width] - fixed.reduce((sum, v, i) => sum + v * right[i], 0));
  const logLeft = Math.log(Math.max(1e-300, determinant(left)));
  const degrees = points - width;
  const value = logDeterminant + logLeft + degrees * (1 + Math.log((2 * Math.PI * squares) / degrees));
  return { value, fixed, squares, inverse: inverted };
}

/** Determinant of a symmetric positive matrix by its Cholesky factor. */
function determinant(m: Matrix): number {
  const factor = Float64Array.from(m.to1DArray());
  cholesky(factor, m.rows, 1e-300);
  let product = 1;
  for (let i = 0; i < m.rows; i++) product *= factor[i * m.rows + i] ** 2;
  return product;
}

/** A ratio's fit in the units of the data. */
function finished(data: Data, theta: Ratio, motors: Data["motors"] = data.motors): MixedSlopes {
  const { width, points, scale, shift, timeScale, timeShift } = data;
  const { value, fixed, squares, inverse: inverted } = criterionOf(data, theta);
  const variance = squares / (points - width);
  const [a, b, c] = theta;
  const back = linear(width, scale, timeScale, timeShift);
  const covariance = back.mmul(inverted.clone().mul(variance)).mmul(back.transpose());
  const inUnits = back.mmul(Matrix.columnVector(fixed)).to1DArray();
  inUnits[0] += shift;
  const small = linear(2, scale, timeScale, timeShift);
  const spread = new Matrix([
    [a * a, a * b],
    [a * b, b * b + c * c],
  ]).mul(variance);
  const between = small.mmul(spread).mmul(small.transpose());
  return {
    fixed: inUnits,
    fixedCovariance: covariance.to2DArray(),
    between: { level: between.get(0, 0), slope: between.get(1, 1), both: between.get(0, 1) },
    residual: Math.sqrt(variance) * scale,
    criterion: value + 2 * (points - width) * Math.log(scale) + 2 * Math.log(timeScale),
    motors: motors.map((m) => pathOf(data, m, theta, { fixed, inverted, variance, small })),
    points,
  };
}

/** From level and slope on the centred scales to level at time 0 and slope in the units of the data. */
function linear(width: number, scale: number, timeScale: number, timeShift: number): Matrix {
  const m = Matrix.eye(width, width).mul(scale);
  m.set(1, 1, scale / timeScale);
  m.set(0, 1, (-scale * timeShift) / timeScale);
  return m;
}

/** Best prediction of one motor's level and slope, and its covariance. */
function pathOf(
  data: Data,
  { motor, zz, zx }: Sums,
  [a, b, c]: Ratio,
  fit: {
    readonly fixed: readonly number[];
    readonly inverted: Matrix;
    readonly variance: number;
    readonly small: Matrix;
  },
): MotorPath {
  const { width, shift } = data;
  const [n, s, q] = zz;
  const l = new Matrix([
    [a, 0],
    [b, c],
  ]);
  const z = new Matrix([
    [n, s],
    [s, q],
  ]);
  const m = inverse(Matrix.eye(2, 2).add(l.transpose().mmul(z).mmul(l)));
  const gain = l.mmul(m).mmul(l.transpose());
  const x = new Matrix(zx.map((row) => row.slice(0, width)));
  const rest = Matrix.columnVector(zx.map((row) => row[width])).sub(
    x.clone().mmul(Matrix.columnVector([...fit.fixed])),
  );
  const own = gain.mmul(rest);
  // Error of (mean + own part): the doubt of the fixed effects as far as the motor's own points do not replace it, and
  // its own.
  const pick = Matrix.zeros(2, width);
  pick.set(0, 0, 1);
  pick.set(1, 1, 1);
  const keep = pick.sub(gain.mmul(x));
  const covariance = keep.mmul(fit.inverted).mmul(keep.transpose()).add(gain).mul(fit.variance);
  const inUnits = fit.small.mmul(covariance).mmul(fit.small.transpose());
  const path = fit.small.mmul(
    Matrix.columnVector([fit.fixed[0] + own.get(0, 0), fit.fixed[1] + own.get(1, 0)]),
  );
  return {
    motor,
    level: path.get(0, 0) + shift,
    slope: path.get(1, 0),
    variance: { level: inUnits.get(0, 0), slope: inUnits.get(1, 1), both: inUnits.get(0, 1) },
  };
}
