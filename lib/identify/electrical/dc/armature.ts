import type { Regression } from "../../../numeric/linear/linearRegression.js";
import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import { intervalOf } from "../../book.js";
import type { Interval } from "../../curveIntervals.js";
import { twoPassRegression } from "../../mechanical/equationOfMotion.js";
import { currentError, ofUniform, withModelError } from "../../modelError.js";
import { ratioOfCoefficients } from "../../quantity.js";
import { likelyLags } from "./armatureLag.js";
import { type ArmatureRecord, type ArmatureWindow, type LaggedWindow, windowsOf } from "./armatureWindows.js";
import type { NotDetermined } from "./dcResponse.js";

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
  const lags = likelyLags(record, windows);
  const best = lags.reduce((a, b) => (b.weight > a.weight ? b : a));
  const plain = currentLaw(windows, { lagged: best.lagged, drop: false });
  const withDrop = currentLaw(windows, { lagged: best.lagged, drop: true });
  const better =
    withDrop !== null && (plain === null || sumOf(withDrop) < sumOf(plain) * penalty(windows.length));
  const lost = better && withDrop !== null ? ratioOfCoefficients(withDrop, 2, 0) : null;
  const drop = lost !== null && lost.value > 0;
  const nothing = {
    missing: "a current that follows the voltage less the back-EMF: it does not in this log",
  };
  if (!drop && plain === null)
    return { missing: "a voltage, current and speed that change apart from each other" };
  const found: (Told & { readonly weight: number })[] = [];
  for (const { lagged, weight } of lags) {
    const r = currentLaw(windows, { lagged, drop });
    const told = r === null ? null : toldBy(allowingForLate(r, windows, record, { lagged, drop }));
    if (told !== null) found.push({ ...told, weight });
    else if (lagged === best.lagged) return nothing;
  }
  const explained = found.reduce((a, b) => (b.weight > a.weight ? b : a), found[0])?.explained;
  if (explained === undefined) return nothing;
  if (!(explained >= leastExplained))
    return {
      missing: `a current that follows the voltage less the back-EMF: that explains ${Math.max(0, Math.round(100 * explained))} % of it`,
    };
  return {
    resistance: withGain(mixture(found.map((f) => ({ ...f.resistance, weight: f.weight })))),
    backEmf: mixture(found.map((f) => ({ ...f.backEmf, weight: f.weight }))),
    ...(drop && lost !== null ? { drop: lost } : {}),
    explained,
    rows: record.time.length,
  };
}

/** What one regression tells. */
interface Told {
  readonly resistance: Interval;
  readonly backEmf: Interval;
  readonly explained: number;
}

function toldBy(r: Regression): Told | null {
  const conductance = intervalOf(r, 0);
  const backEmf = ratioOfCoefficients(r, 1, 0);
  if (!(conductance.low > 0) || backEmf === null || !(backEmf.low > 0)) return null;
  const resistance = { value: 1 / conductance.value, low: 1 / conductance.high, high: 1 / conductance.low };
  return { resistance, backEmf, explained: r.explained };
}

/** Intervals of one quantity under several assumptions, each as probable as it is: mean, and spread of mean and own. */
function mixture(parts: readonly (Interval & { readonly weight: number })[]): Interval {
  const total = parts.reduce((sum, p) => sum + p.weight, 0);
  const mean = (of: (p: Interval) => number): number =>
    parts.reduce((sum, p) => sum + p.weight * of(p), 0) / total;
  const value = mean((p) => p.value);
  const between = 1.96 ** 2 * mean((p) => (p.value - value) ** 2);
  return {
    value,
    low: value - Math.sqrt(mean((p) => (p.value - p.low) ** 2) + between),
    high: value + Math.sqrt(mean((p) => (p.high - p.value) ** 2) + between),
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

/** One way of writing the law: windows behind a lag of the current, with a drop or without. */
interface Written {
  readonly lagged: readonly LaggedWindow[];
  readonly drop: boolean;
}

// i = u/R - (Ke/R)*w - (drop/R)*sign(u)
function designOf({ lagged, drop }: Written): number[][] {
  return lagged.map((w) => [w.voltage, -w.speed, ...(drop ? [-Math.sign(w.voltage)] : [])]);
}

/** What a speed that is early or late by up to `apart` would put into the coefficients, uniform within that. */
function allowingForLate(
  r: Regression,
  windows: readonly ArmatureWindow[],
  record: ArmatureRecord,
  written: Written,
): Regression {
  const { time } = record;
  const apart = record.apart ?? (time[time.length - 1] - time[0]) / (time.length - 1) / 2;
  const perLag = windows.map((w) => -r.coefficients[1] * w.acceleration);
  return withModelError(r, designOf(written), perLag, ofUniform(apart));
}

/**
 * The law by least squares; with the voltage behind the lag of the speed by two-stage least squares (instrumental
 * variables: Soderstrom and Stoica, System Identification, 1989, ch. 8): counts and noise in the measured speed would
 * make its coefficient too small, and what the voltage explains of the speed holds none.
 */
function currentLaw(windows: readonly ArmatureWindow[], written: Written): Regression | null {
  const design = designOf(written);
  const current = windows.map((w) => w.current);
  const lengths = windows.map((w) => Math.round(Math.log2(w.length)));
  const explained = explainedByVoltage(windows, design, 1);
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
    (_: ArmatureWindow, i: number) => design[i][0],
    (w: ArmatureWindow) => w.behind ?? 0,
    (w: ArmatureWindow) => Math.sign(w.voltage),
  ].map((of) => Float64Array.from(windows, (w, i) => weight[i] * of(w, i)));
  const x = solveColumns(
    instruments,
    Float64Array.from(design, (row, i) => weight[i] * row[column]),
  );
  if (x === null) return null;
  const explained = (i: number): number =>
    instruments.reduce((sum, z, k) => sum + (x[k] * z[i]) / weight[i], 0);
  return design.map((row, i) => row.map((v, j) => (j === column ? explained(i) : v)));
}
