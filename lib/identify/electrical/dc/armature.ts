import type { Regression } from "../../../numeric/linear/linearRegression.js";
import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import { robustScale } from "../../../numeric/series/median.js";
import { intervalOf } from "../../book.js";
import type { Interval } from "../../curveIntervals.js";
import { twoPassRegression } from "../../mechanical/equationOfMotion.js";
import { growingWindows } from "../../mechanical/growingWindows.js";
import { currentError, ofUniform, withModelError } from "../../modelError.js";
import { ratioOfCoefficients } from "../../quantity.js";
import type { NotDetermined } from "./dcResponse.js";

/** Voltage, current and speed of an armature; plain arrays, one value a row. */
export interface ArmatureRecord {
  /** s, rising. */
  readonly time: Float64Array;
  /** V. */
  readonly voltage: Float64Array;
  /** A, signed as the voltage that makes it. */
  readonly current: Float64Array;
  /** rad/s, signed as the voltage that makes it. */
  readonly speed: Float64Array;
  /** rad, where the speed was had from it: the mean speed of a window is then the turn over its time, no difference of
   * rows. */
  readonly position?: Float64Array;
  /** Time constant of the speed's answer to the voltage, s, where it is known: noise of the speed then does no harm. */
  readonly timeConstant?: number;
  /** How far apart in time current and speed of one row may be, s; half a sample interval either way when absent. */
  readonly apart?: number;
}

/** Resistance and back-EMF constant of an armature. */
export interface Armature {
  /** Ohm, with all that lies between the voltage and the armature. */
  readonly resistance: Interval;
  /** V s/rad; the same number is the torque constant in N m/A. */
  readonly backEmf: Interval;
  /** Voltage lost whatever the current (brushes, bridge), V; absent where none was seen. */
  readonly drop?: Interval;
  /** Fraction of the current that is explained, 0 to 1. */
  readonly explained: number;
  readonly rows: number;
}

/** Means over one window of rows. */
interface ArmatureWindow {
  readonly voltage: number;
  readonly current: number;
  readonly speed: number;
  /** Mean acceleration, rad/s2. */
  readonly acceleration: number;
  /** Mean slope of the current, A/s. */
  readonly slope: number;
  /** Sum of squares of the times of the rows about their middle, s2. */
  readonly spread: number;
  readonly length: number;
  /** The voltage behind a lag of the record's time constant, as the speed answers; absent without one. */
  readonly behind?: number;
}

/** Fewest rows of a window, and most windows. */
const shortest = 4;
const mostWindows = 3000;
/** Rows after a change of the voltage that are left out. */
const skipped = 2;
/** What the fit must explain of the current. */
const leastExplained = 0.7;

/**
 * Resistance and back-EMF constant from the armature equation `u = R*i + Ke*w (+ drop*sign(i))`, written with the
 * current on the left, `i = u/R - (Ke/R)*w - ...`: the
 * voltage is known and the speed is smooth, and noise of the current beside them would make the resistance come out too
 * small. Means over windows between the
 * changes of the voltage; inductance then hardly matters. Both constants are ratios of coefficients, with their
 * intervals by Fieller's theorem.
 *
 * While the speed changes, current goes with acceleration, so that a speed logged later than the current by d reads as
 * a resistance too large by d over the time
 * constant (a speed that is a difference of counts is half an interval late). The log does not show d; the interval
 * allows for it.
 *
 * @returns `missing` where voltage, current and speed do not change enough apart from each other, or do not follow the
 *   law
 * @example
 * const found = armature({ time, voltage, current, speed });
 * if (!("missing" in found)) found.resistance.value; // Ohm
 */
export function armature(record: ArmatureRecord): Armature | NotDetermined {
  const windows = windowsOf(record);
  if (windows.length < 12)
    return { missing: "a longer log of voltage, current and speed, with changes of the voltage" };
  // Where the record tells the inductance it is a term of the law; else as much as is usual of it is in the errors.
  const lag = lagOf(windows, rowNoise(record.current));
  const plain = currentLaw(windows, { drop: false, lag });
  const withDrop = currentLaw(windows, { drop: true, lag });
  const better =
    withDrop !== null && (plain === null || sumOf(withDrop) < sumOf(plain) * penalty(windows.length));
  const drop = better && withDrop !== null ? ratioOfCoefficients(withDrop, lag === "told" ? 3 : 2, 0) : null;
  const chosen = drop !== null && drop.value > 0 ? withDrop : plain;
  if (chosen === null) return { missing: "a voltage, current and speed that change apart from each other" };
  const r = allowingForLag(chosen, windows, record, { drop: chosen === withDrop, lag });
  const conductance = intervalOf(r, 0);
  const backEmf = ratioOfCoefficients(r, 1, 0);
  if (!(conductance.low > 0) || backEmf === null || !(backEmf.low > 0))
    return { missing: "a current that follows the voltage less the back-EMF: it does not in this log" };
  if (!(r.explained >= leastExplained))
    return {
      missing: `a current that follows the voltage less the back-EMF: that explains ${Math.max(0, Math.round(100 * r.explained))} % of it`,
    };
  const resistance = withGain({
    value: 1 / conductance.value,
    low: 1 / conductance.high,
    high: 1 / conductance.low,
  });
  return {
    resistance,
    backEmf,
    ...(chosen === withDrop && drop !== null ? { drop } : {}),
    explained: r.explained,
    rows: record.time.length,
  };
}

/** A resistance with what the gain of the current's sensor leaves open. */
function withGain({ value, low, high }: Interval): Interval {
  const more = 1.96 * currentError * value;
  return { value, low: value - Math.hypot(value - low, more), high: value + Math.hypot(high - value, more) };
}

/** The ratio of sums of squares below which one coefficient more is worth it: Bayesian information criterion. */
function penalty(n: number): number {
  return Math.exp(-Math.log(n) / n) * (1 - 8 / n);
}

function sumOf(r: Regression): number {
  return r.residuals.reduce((sum, e, i) => sum + r.weights[i] * e * e, 0);
}

/** Terms of the law besides voltage and speed. */
interface Terms {
  readonly drop: boolean;
  /** The inductance, as the electrical time constant L/R: a term of its own where the record tells it. */
  readonly lag: "told" | Lag;
}

/** An electrical time constant L/R and its standard deviation, s. */
interface Lag {
  readonly value: number;
  readonly deviation: number;
}

/**
 * Usual electrical time constant L/R of a small DC motor and its standard deviation, s: from none (it cannot be less)
 * to
 * 1.1 ms (common practice, no source).
 */
const usualLag: Lag = { value: 0.5e-3, deviation: 0.3e-3 };
/** By how much the slope of the current must stand out from its noise before it may tell the inductance. */
const clearSlope = 20;

/** By how much less it may stand out to show that the inductance is larger than usual. */
const someSlope = 3;

/**
 * What is taken of the inductance: whether the slope of the current tells it. While the voltage stands still the slope
 * is a combination of voltage and speed; only what those do not explain of it (the rise of the current after a step)
 * can, and only where it is not noise: a regressor that is mostly noise gets a coefficient that is mostly zero. One
 * that is partly noise still shows an inductance far above the usual one of small motors; what the noise took of it is
 * put back and counts as not known.
 */
function lagOf(windows: readonly ArmatureWindow[], noise: number): "told" | Lag {
  const columns = [
    (w: ArmatureWindow) => w.voltage,
    (w: ArmatureWindow) => w.speed,
    (w: ArmatureWindow) => Math.sign(w.voltage),
    ...(windows[0].behind === undefined ? [] : [(w: ArmatureWindow) => w.behind ?? 0]),
  ].map((of) => Float64Array.from(windows, of));
  const slope = Float64Array.from(windows, (w) => w.slope);
  const x = solveColumns(columns, slope);
  if (x === null) return usualLag;
  let rest = 0;
  let chance = 0;
  windows.forEach((w, i) => {
    rest += (slope[i] - columns.reduce((sum, c, j) => sum + x[j] * c[i], 0)) ** 2;
    chance += noise ** 2 / w.spread;
  });
  if (!(rest > someSlope * chance)) return usualLag;
  const found = currentLaw(windows, { drop: false, lag: "told" });
  if (found === null) return usualLag;
  const { coefficients, standardErrors } = found;
  const [lag, error] = [coefficients[2], standardErrors[2]];
  const clear = rest > clearSlope * chance;
  if (clear && error < usualLag.deviation / 2 && Math.abs(lag) < 10e-3) return "told";
  if (!(lag - usualLag.value > 4 * Math.hypot(error, usualLag.deviation))) return usualLag;
  const whole = lag / (1 - chance / rest);
  return { value: whole, deviation: Math.hypot(error, whole - lag) };
}

/** Noise of single rows of the current, A: robust scale of their third differences (those of a smooth curve vanish). */
function rowNoise(current: Float64Array): number {
  const thirds: number[] = [];
  for (let j = 3; j < current.length; j++)
    thirds.push(current[j] - 3 * current[j - 1] + 3 * current[j - 2] - current[j - 3]);
  return thirds.length === 0 ? 0 : robustScale(thirds) / Math.sqrt(20);
}

function designOf(windows: readonly ArmatureWindow[], { drop, lag }: Terms): number[][] {
  return windows.map((w) => [
    w.voltage,
    -w.speed,
    ...(lag === "told" ? [-w.slope] : []),
    ...(drop ? [-Math.sign(w.voltage)] : []),
  ]);
}

/**
 * What a speed that is early or late by up to `apart` would put into the coefficients, uniform within that, and an
 * inductance that is not told.
 */
function allowingForLag(
  r: Regression,
  windows: readonly ArmatureWindow[],
  record: ArmatureRecord,
  terms: Terms,
): Regression {
  const { time } = record;
  const apart = record.apart ?? (time[time.length - 1] - time[0]) / (time.length - 1) / 2;
  const perLag = windows.map((w) => -r.coefficients[1] * w.acceleration);
  const design = designOf(windows, terms);
  const late = withModelError(r, design, perLag, ofUniform(apart));
  if (terms.lag === "told") return late;
  return withModelError(
    late,
    design,
    windows.map((w) => -w.slope),
    terms.lag.deviation,
  );
}

/** Slope of the straight line through a signal's rows, and the spread of their times. */
function slopeOf(
  time: Float64Array,
  values: Float64Array,
  from: number,
  to: number,
): Pick<ArmatureWindow, "slope" | "spread"> {
  const middle = (time[from] + time[to - 1]) / 2;
  let tt = 0;
  let tv = 0;
  for (let i = from; i < to; i++) {
    tt += (time[i] - middle) ** 2;
    tv += (time[i] - middle) * values[i];
  }
  return { slope: tt > 0 ? tv / tt : 0, spread: tt };
}

/**
 * The law by least squares; with the voltage behind the lag of the speed by two-stage least squares (instrumental
 * variables: Soderstrom and Stoica, System Identification, 1989, ch. 8): counts and noise in the measured speed would
 * make its coefficient too small, and what the voltage explains of the speed holds none.
 */
function currentLaw(windows: readonly ArmatureWindow[], terms: Terms): Regression | null {
  const design = designOf(windows, terms);
  // i = u/R - (Ke/R)*w - (L/R)*di/dt
  const { lag } = terms;
  const current = windows.map((w) => w.current + (lag === "told" ? 0 : lag.value * w.slope));
  const lengths = windows.map((w) => Math.round(Math.log2(w.length)));
  const explained = lag === "told" ? null : explainedByVoltage(windows, design, 1);
  if (explained === null) return twoPassRegression(design, current, lengths);
  let found = twoPassRegression(explained, current, lengths);
  for (let k = 0; k < 3 && found !== null; k++) {
    const b = found.coefficients;
    const rest = current.map(
      (i, w) => i - b.reduce((sum, c, j) => sum + c * (design[w][j] - explained[w][j]), 0),
    );
    found = twoPassRegression(explained, rest, lengths);
  }
  return found;
}

/** The design with the given column replaced by what voltage, lagged voltage and its sense explain of it. */
function explainedByVoltage(
  windows: readonly ArmatureWindow[],
  design: readonly (readonly number[])[],
  column: number,
): number[][] | null {
  if (windows.some((w) => w.behind === undefined)) return null;
  const weight = windows.map((w) => Math.sqrt(w.length));
  const instruments = [
    (w: ArmatureWindow) => w.voltage,
    (w: ArmatureWindow) => w.behind ?? 0,
    (w: ArmatureWindow) => Math.sign(w.voltage),
  ].map((of) => Float64Array.from(windows, (w, i) => weight[i] * of(w)));
  const x = solveColumns(
    instruments,
    Float64Array.from(design, (row, i) => weight[i] * row[column]),
  );
  if (x === null) return null;
  const explained = (i: number): number =>
    instruments.reduce((sum, z, k) => sum + (x[k] * z[i]) / weight[i], 0);
  return design.map((row, i) => row.map((v, j) => (j === column ? explained(i) : v)));
}

/** Means over windows that begin at each change of the voltage and grow with the time since; even ones where it changes
 * at every row. */
function windowsOf(record: ArmatureRecord): ArmatureWindow[] {
  const { time, voltage } = record;
  const n = time.length;
  const edges = [0];
  for (let i = 1; i < n; i++)
    if (voltage[i] !== voltage[i - 1] && i - edges[edges.length - 1] >= shortest) edges.push(i);
  edges.push(n);
  const behind = behindLag(record);
  const windows: ArmatureWindow[] = [];
  for (let k = 0; k + 1 < edges.length && windows.length < mostWindows; k++) {
    // The row of a change (the first row too) often holds the current from before it, or one that has only begun to
    // rise.
    const begin = edges[k] + (edges[k + 1] - edges[k] > 2 * shortest ? skipped : 1);
    for (const { from, to } of growingWindows(begin, edges[k + 1], shortest - 1)) {
      const window = windowOf(record, behind, from, to);
      if (window !== null) windows.push(window);
    }
  }
  return windows;
}

/**
 * Means of one window; null where a value is missing. With a position they are means over the time between its first
 * and last row (the turn over the time; Gregory's end corrections for current and voltage), else means of the rows.
 */
function windowOf(
  record: ArmatureRecord,
  behind: Float64Array | null,
  from: number,
  to: number,
): ArmatureWindow | null {
  const { time, speed, position } = record;
  const span = time[to - 1] - time[from];
  const mean = (values: Float64Array): number =>
    position === undefined ? rowMean(values, from, to) : timeMean(time, values, from, to);
  const [voltage, current] = [mean(record.voltage), mean(record.current)];
  const turned =
    position === undefined ? rowMean(speed, from, to) : (position[to - 1] - position[from]) / span;
  if (!(Number.isFinite(voltage) && Number.isFinite(current) && Number.isFinite(turned))) return null;
  return {
    voltage,
    current,
    speed: turned,
    acceleration: (speed[to - 1] - speed[from]) / span,
    ...slopeOf(time, record.current, from, to),
    length: to - from,
    ...(behind === null ? {} : { behind: mean(behind) }),
  };
}

/** The voltage, held from row to row, behind a lag of the record's time constant. */
function behindLag({ time, voltage, timeConstant }: ArmatureRecord): Float64Array | null {
  if (timeConstant === undefined || !(timeConstant > 0)) return null;
  const out = new Float64Array(time.length);
  for (let k = 1; k < time.length; k++) {
    const u = Number.isFinite(voltage[k - 1]) ? voltage[k - 1] : out[k - 1];
    out[k] = u + (out[k - 1] - u) * Math.exp((time[k - 1] - time[k]) / timeConstant);
  }
  return out;
}

function rowMean(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let j = from; j < to; j++) sum += values[j];
  return sum / (to - from);
}

/** Mean over time between two rows by trapezoids, with the slopes at the ends taken out (Gregory's first
 * correction). */
function timeMean(time: Float64Array, values: Float64Array, from: number, to: number): number {
  let area = 0;
  for (let j = from + 1; j < to; j++) area += ((values[j] + values[j - 1]) * (time[j] - time[j - 1])) / 2;
  const last = to - 1;
  const span = time[last] - time[from];
  const step = span / (last - from);
  const ends = values[last] - values[last - 1] - (values[from + 1] - values[from]);
  return (area - (step * ends) / 12) / span;
}
