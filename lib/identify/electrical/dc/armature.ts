import type { Regression } from "../../../numeric/linear/linearRegression.js";
import { intervalOf } from "../../book.js";
import type { Interval } from "../../curveIntervals.js";
import { twoPassRegression } from "../../mechanical/equationOfMotion.js";
import { growingWindows } from "../../mechanical/growingWindows.js";
import { ofUniform, withModelError } from "../../modelError.js";
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
  readonly length: number;
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
  const lag = tellsLag(windows);
  const plain = currentLaw(windows, { drop: false, lag });
  const withDrop = currentLaw(windows, { drop: true, lag });
  const better =
    withDrop !== null && (plain === null || sumOf(withDrop) < sumOf(plain) * penalty(windows.length));
  const drop = better && withDrop !== null ? ratioOfCoefficients(withDrop, lag ? 3 : 2, 0) : null;
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
  const resistance = { value: 1 / conductance.value, low: 1 / conductance.high, high: 1 / conductance.low };
  return {
    resistance,
    backEmf,
    ...(chosen === withDrop && drop !== null ? { drop } : {}),
    explained: r.explained,
    rows: record.time.length,
  };
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
  /** The inductance, as the electrical time constant L/R. */
  readonly lag: boolean;
}

/** Usual electrical time constant of a small DC motor, s, one standard deviation (common practice, no source). */
const usualLag = 1e-3;

function tellsLag(windows: readonly ArmatureWindow[]): boolean {
  const found = currentLaw(windows, { drop: false, lag: true });
  return (
    found !== null && found.standardErrors[2] < usualLag / 2 && Math.abs(found.coefficients[2]) < 5 * usualLag
  );
}

function designOf(windows: readonly ArmatureWindow[], { drop, lag }: Terms): number[][] {
  return windows.map((w) => [
    w.voltage,
    -w.speed,
    ...(lag ? [-w.slope] : []),
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
  if (terms.lag) return late;
  return withModelError(
    late,
    design,
    windows.map((w) => -w.slope),
    usualLag,
  );
}

/** Slope of the straight line through a signal's rows. */
function slopeOf(time: Float64Array, values: Float64Array, from: number, to: number): number {
  const middle = (time[from] + time[to - 1]) / 2;
  let [tt, tv] = [0, 0];
  for (let i = from; i < to; i++) {
    tt += (time[i] - middle) ** 2;
    tv += (time[i] - middle) * values[i];
  }
  return tt > 0 ? tv / tt : 0;
}

function currentLaw(windows: readonly ArmatureWindow[], terms: Terms): Regression | null {
  return twoPassRegression(
    designOf(windows, terms),
    windows.map((w) => w.current),
    windows.map((w) => Math.round(Math.log2(w.length))),
  );
}

/**
 * Means over windows that begin at each change of the voltage and grow with the time since; even ones where it changes
 * at every row.
 */
function windowsOf({ time, voltage, current, speed }: ArmatureRecord): ArmatureWindow[] {
  const n = time.length;
  const edges = [0];
  for (let i = 1; i < n; i++)
    if (voltage[i] !== voltage[i - 1] && i - edges[edges.length - 1] >= shortest) edges.push(i);
  edges.push(n);
  const windows: ArmatureWindow[] = [];
  for (let k = 0; k + 1 < edges.length && windows.length < mostWindows; k++) {
    // The row of a change often holds the current from before it, or one that has only begun to rise.
    const changed = k > 0 ? 1 : 0;
    const begin = edges[k] + (edges[k + 1] - edges[k] > 2 * shortest ? skipped : changed);
    for (const { from, to } of growingWindows(begin, edges[k + 1], shortest - 1)) {
      let [u, i, w] = [0, 0, 0];
      for (let j = from; j < to; j++) {
        u += voltage[j];
        i += current[j];
        w += speed[j];
      }
      const length = to - from;
      if (u - u === 0 && i - i === 0 && w - w === 0)
        windows.push({
          voltage: u / length,
          current: i / length,
          speed: w / length,
          acceleration: (speed[to - 1] - speed[from]) / (time[to - 1] - time[from]),
          slope: slopeOf(time, current, from, to),
          length,
        });
    }
  }
  return windows;
}
