import { linearRegression, type Regression } from "../../numeric/linear/linearRegression.js";
import { integratedAutocorrelation } from "../../numeric/series/autocorrelation.js";
import { quantile } from "../../numeric/series/median.js";
import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import { intervalOf } from "../book.js";
import type { Interval } from "../curveIntervals.js";
import { ofUniform, withModelError } from "../modelError.js";

/** The motion of a joint and what drove it; plain arrays, one value a row. */
export interface JointRecord {
  /** s, rising. */
  readonly time: Float64Array;
  /** Joint angle, rad. */
  readonly angle: Float64Array;
  /** rad/s; only its sign and size are used, to tell which way friction acts. */
  readonly speed: Float64Array;
  /** Torque, N m, or current, A. */
  readonly effort: Float64Array;
  /** One count of the angle, rad; 0 where it is not quantised. */
  readonly resolution: number;
  /** How far apart in time effort and angle of one row may be, s; a sample interval either way when absent. */
  readonly apart?: number;
}

/** What drives a joint: inertia, friction and gravity in units of the effort. */
export interface JointMotion {
  /** Effort per rad/s2. */
  readonly inertia: Interval;
  /** Effort against the motion, whatever its speed. */
  readonly coulomb: Interval;
  /** Effort per rad/s. */
  readonly viscous: Interval;
  /** Largest effort that gravity (or a spring) asks for over the angle; absent where it takes none. */
  readonly gravity?: Interval;
  /** Constant effort: a load, or the offset of the sensor; absent where none is told from zero. */
  readonly constant?: Interval;
  /** Fraction of the effort's variation that is explained, 0 to 1. */
  readonly explained: number;
  /** Length of the windows, s. */
  readonly window: number;
  readonly windows: number;
}

/** Speeds below this fraction of the largest are left out: there friction is no line. */
const slowest = 0.04;
/** Friction turns its sense about zero within this fraction of the largest speed, or within what the speed's noise
 * blurs. */
const turning = 0.003;
/** What the fit must explain of the effort. */
const leastExplained = 0.75;
/** Size of the second order of a lag over the effort up to which it is taken out (judgement). */
const smallSecond = 0.05;
/** Fewest windows. */
const leastWindows = 16;

/**
 * The equation of motion of a joint, `effort = J*dw/dt + Tc*sign(w) + B*w + gs*sin(q) + gc*cos(q) + constant`, fitted
 * to a motion that need not make a turn: every term is averaged over windows with a smooth weight that vanishes at both
 * ends (weak form: Shinbrot, 1957), so that nothing is differentiated. Windows last a part of the time in which the
 * motion changes, longer where the counts of the encoder would otherwise be felt. Gravity and the constant are kept
 * where they pay by the Bayesian information criterion on as many windows as are independent; intervals are from blocks
 * of windows (see `linearRegression`), so that correlated residuals widen them.
 *
 * @returns `missing` where the joint hardly moves, its speed never changes sign or size enough, or the effort follows
 * something else
 * @example
 * const found = jointMotion({ time, angle, speed, effort: torque, resolution: 0 });
 * if (!("missing" in found)) found.inertia.value; // kg m2
 */
export function jointMotion(record: JointRecord): JointMotion | { readonly missing: string } {
  const length = windowLength(record);
  if (length === null) return { missing: "a joint that moves" };
  const rows = rowsOf(record, length);
  if (rows.length < leastWindows)
    return {
      missing: `a longer motion: ${rows.length} windows of ${record.time.length} rows show it moving, ${leastWindows} are needed`,
    };
  const plain = [
    fitted(rows, []),
    fitted(rows, ["constant"]),
    fitted(rows, ["sine", "cosine", "constant"]),
  ].filter((f) => f !== null);
  if (plain.length === 0)
    return { missing: "a motion in which acceleration, speed and direction change apart from each other" };
  const best = cheapest(plain);
  const interval = (record.time[record.time.length - 1] - record.time[0]) / (record.time.length - 1);
  const { regression: r, extra } = allowingForLag(rows, best, record.apart ?? interval);
  const explained = explainedOf(rows, r);
  if (!(explained >= leastExplained))
    return {
      missing: `an effort that follows the motion of this joint alone: inertia, friction and gravity explain ${Math.max(0, Math.round(100 * explained))} % of it`,
    };
  const bent = bendsOf(rows, best);
  const wide = (j: number): Interval => widened(intervalOf(r, j), bent[j]);
  const inertia = wide(0);
  if (!(inertia.low > 0)) return { missing: "an effort that accelerates the joint the way it points" };
  const at = (name: Extra): number => 3 + extra.indexOf(name);
  const constant = extra.includes("constant") ? intervalOf(r, at("constant")) : undefined;
  return {
    inertia,
    coulomb: wide(1),
    viscous: wide(2),
    ...(extra.includes("sine") ? { gravity: amplitudeOf(r, at("sine"), at("cosine")) } : {}),
    ...(constant !== undefined && constant.low * constant.high > 0 ? { constant } : {}),
    explained,
    window: record.time[Math.min(length, record.time.length - 1)] - record.time[0],
    windows: rows.length,
  };
}

type Extra = "sine" | "cosine" | "constant" | "change";

interface JointRow {
  readonly acceleration: number;
  readonly sign: number;
  readonly speed: number;
  readonly sine: number;
  readonly cosine: number;
  readonly effort: number;
  /** Mean change of the effort, per s. */
  readonly change: number;
  /** Mean second derivative of the effort, per s2. */
  readonly bend: number;
}

interface JointFit {
  readonly regression: Regression;
  readonly extra: readonly Extra[];
}

/** Rows of a window; null where nothing moves. */
function windowLength({ time, speed, resolution }: JointRecord): number | null {
  const n = time.length;
  const interval = (time[n - 1] - time[0]) / (n - 1);
  let squares = 0;
  let changes = 0;
  const reach = Math.max(1, Math.round(n / 400));
  for (let i = reach; i < n; i++) {
    const d = (speed[i] - speed[i - reach]) / (time[i] - time[i - reach]);
    if (d - d !== 0) continue;
    squares += speed[i] * speed[i];
    changes += d * d;
  }
  if (!(squares > 0) || !(changes > 0)) return null;
  // A wave of angular frequency f has speed over acceleration 1/f.
  const pace = Math.sqrt(squares / changes);
  const acceleration = Math.sqrt(changes / n);
  // Rounding to counts puts about step/sqrt(12)*sqrt(720/m^5)/dt^2 into a mean acceleration over m rows: at most a
  // twentieth of the usual one.
  const quiet =
    resolution > 0
      ? ((resolution / Math.sqrt(12)) * Math.sqrt(720) * 20) / (acceleration * interval * interval)
      : 0;
  const rows = Math.max(8, quiet ** 0.4, (0.8 * pace) / interval);
  return Math.round(Math.min(rows, n / 12));
}

/** Means over half-overlapping windows in which the joint moves; within them friction changes its sign with the
 * speed. */
function rowsOf(record: JointRecord, length: number): JointRow[] {
  const { time, angle, speed, effort } = record;
  const n = time.length;
  const interval = (time[n - 1] - time[0]) / (n - 1);
  let most = 0;
  for (const w of speed) if (Math.abs(w) > most) most = Math.abs(w);
  const least = slowest * most;
  const blur = Math.max(turning * most, 2 * noiseLevel(speed));
  const signs = speed.map((w) => Math.max(-1, Math.min(1, w / blur)));
  const sines = angle.map(Math.sin);
  const cosines = angle.map(Math.cos);
  const rows: JointRow[] = [];
  const step = Math.max(1, length >> 1);
  for (let from = 0; from + length <= n; from += step) {
    const to = from + length;
    let good = time[to - 1] - time[from] < 1.5 * interval * length;
    let moving = 0;
    for (let i = from; good && i < to; i++) {
      good = effort[i] - effort[i] === 0 && angle[i] - angle[i] === 0 && speed[i] - speed[i] === 0;
      if (Math.abs(speed[i]) > least) moving++;
    }
    if (!good || moving < 0.7 * length) continue;
    const bump = modulatingFunction(time, from, to);
    rows.push({
      acceleration: project(bump, bump.curvature, angle),
      sign: project(bump, bump.weight, signs),
      speed: project(bump, bump.slope, angle),
      sine: project(bump, bump.weight, sines),
      cosine: project(bump, bump.weight, cosines),
      effort: project(bump, bump.weight, effort),
      change: project(bump, bump.slope, effort),
      bend: project(bump, bump.curvature, effort),
    });
  }
  return rows;
}

function designOf(rows: readonly JointRow[], extra: readonly Extra[]): number[][] {
  return rows.map((r) => [
    r.acceleration,
    r.sign,
    r.speed,
    ...extra.map((name) => (name === "constant" ? 1 : r[name])),
  ]);
}

/**
 * An effort that is early or late beside the angle looks like friction. Where the motion has waves enough to tell the
 * two apart, the lag is fitted along; else the interval holds what a lag of up to `apart` would do. Which of the two is
 * decided by the lag's interval alone, not by its value. A lag of `t` leaves `t*t/2` of the effort's second derivative
 * (Taylor), a thousandth of the inertia at 4 ms and 11 rad/s: with the lag known it is taken out.
 */
function allowingForLag(rows: readonly JointRow[], fit: JointFit, apart: number): JointFit {
  if (!(apart > 0)) return fit;
  const withLag = fitted(rows, [...fit.extra, "change"]);
  if (withLag !== null) {
    const own = intervalOf(withLag.regression, withLag.regression.coefficients.length - 1);
    if (own.high - own.low < 1.9 * apart) {
      const second = own.value ** 2 / 2;
      const straight = rows.map((row) => ({ ...row, effort: row.effort + second * row.bend }));
      // Where it is no small correction the series is of no use.
      const size = (of: (row: JointRow) => number): number =>
        rows.reduce((sum, row) => sum + of(row) ** 2, 0);
      if (!(size((row) => second * row.bend) < smallSecond ** 2 * size((row) => row.effort))) return withLag;
      return fitted(straight, withLag.extra) ?? withLag;
    }
  }
  const changes = rows.map((row) => row.change);
  const regression = withModelError(fit.regression, designOf(rows, fit.extra), changes, ofUniform(apart));
  return { ...fit, regression };
}

function fitted(rows: readonly JointRow[], extra: readonly Extra[]): JointFit | null {
  const regression = linearRegression(
    designOf(rows, extra),
    rows.map((r) => r.effort),
    { leastBlock: 4 },
  );
  return regression === null ? null : { regression, extra };
}

/** The fit with the best information criterion, on as many windows as the richest one's residuals have independent
 * ones. */
function cheapest(fits: readonly JointFit[]): JointFit {
  const sum = ({ regression: r }: JointFit): number =>
    r.residuals.reduce((s, e, i) => s + r.weights[i] * e * e, 0) / r.weights.reduce((s, w) => s + w, 0);
  const richest = fits.reduce((a, b) => (sum(b) < sum(a) ? b : a)).regression.residuals;
  const independent = Math.max(8, richest.length / integratedAutocorrelation(richest));
  const score = (f: JointFit): number =>
    independent * Math.log(Math.max(sum(f), Number.MIN_VALUE)) + f.extra.length * Math.log(independent);
  return fits.reduce((a, b) => (score(b) < score(a) ? b : a));
}

/**
 * What each of the first three coefficients changes by between the slow windows, the fast ones and all, where that is
 * more than chance (Hausman, Econometrica 46, 1978: the variance of the difference is the difference of the variances);
 * else 0. Friction that is no line in speed shows so.
 */
function bendsOf(rows: readonly JointRow[], { regression: all, extra }: JointFit): number[] {
  const sizes = Float64Array.from(rows, (r) => Math.abs(r.speed));
  const middle = quantile(sizes, 0.5);
  const halves = [rows.filter((_, i) => sizes[i] < middle), rows.filter((_, i) => sizes[i] >= middle)];
  const bends = [0, 0, 0];
  for (const half of halves) {
    const part = half.length < 3 * leastWindows ? null : fitted(half, extra);
    if (part === null) continue;
    for (const j of bends.keys()) {
      const apart = Math.abs(part.regression.coefficients[j] - all.coefficients[j]);
      const chance =
        part.regression.critical[j] ** 2 *
        Math.max(0, part.regression.covariance[j][j] - all.covariance[j][j]);
      if (apart * apart > chance) bends[j] = Math.max(bends[j], Math.sqrt(apart * apart - chance));
    }
  }
  return bends;
}

function widened({ value, low, high }: Interval, by: number): Interval {
  return { value, low: value - Math.hypot(value - low, by), high: value + Math.hypot(high - value, by) };
}

/** Fraction of the effort's variation about its mean that the fit explains. */
function explainedOf(rows: readonly JointRow[], r: Regression): number {
  const mean = rows.reduce((s, row) => s + row.effort, 0) / rows.length;
  const about = rows.reduce((s, row) => s + (row.effort - mean) ** 2, 0);
  const left = r.residuals.reduce((s, e) => s + e * e, 0);
  return about > 0 ? 1 - left / about : 0;
}

/** Length of the vector of two coefficients, with the interval along its direction. */
function amplitudeOf(r: Regression, a: number, b: number): Interval {
  const value = Math.hypot(r.coefficients[a], r.coefficients[b]);
  const [ca, cb] = [r.coefficients[a] / value, r.coefficients[b] / value];
  const variance =
    ca * ca * r.covariance[a][a] + 2 * ca * cb * r.covariance[a][b] + cb * cb * r.covariance[b][b];
  const half = Math.max(r.critical[a], r.critical[b]) * Math.sqrt(Math.max(0, variance));
  return { value, low: Math.max(0, value - half), high: value + half };
}
