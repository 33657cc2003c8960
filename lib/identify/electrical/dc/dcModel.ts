import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import { upperMedian } from "../../../numeric/series/median.js";
import { firstOrderOfHeld, meanOfHeld } from "./heldInput.js";
import { senseOf } from "./moving.js";

/** What a motor was driven with and how fast it turned; plain arrays, one value a row. */
export interface DrivenSpeed {
  /** s, rising. */
  readonly time: Float64Array;
  /** Voltage, duty, or any other input that sets the speed; held from row to row. */
  readonly input: Float64Array;
  /** rad/s. */
  readonly speed: Float64Array;
  /** By how much the speed is known to be late, s (half an interval for a difference of rows); none when absent. */
  readonly late?: number;
  /** The speed is the mean over the time before each row: a difference of a position. Its model is such a mean too. */
  readonly means?: boolean;
}

/** A record made ready for fitting. */
export interface DcRecord extends DrivenSpeed {
  /** Sense of rotation at every row, 0 at rest. */
  readonly sign: Int8Array;
  /** Mean sense of rotation from each row to the next: between -1 and 1 where the shaft turns back between them. */
  readonly sense: Float64Array;
  /** Rows of a finite speed. */
  readonly all: Uint8Array;
  /** Those of them with an input, or at rest. */
  readonly driven: Uint8Array;
  /** First row of each driven stretch. */
  readonly starts: readonly number[];
  /** s. */
  readonly span: number;
  /** Median sample interval, s. */
  readonly interval: number;
  /** Speeds no larger than this count as rest, rad/s. */
  readonly rest: number;
  /** So many rows are averaged before they are fitted. */
  readonly group: number;
  /** What makes the residuals of the rows used white; they are fitted as they are when absent. */
  readonly white?: (rows: Float64Array) => Float64Array;
}

/** What a model has besides gain and time constant. */
export interface DcShape {
  readonly delayed: boolean;
  readonly drift: boolean;
  readonly friction: boolean;
  /** A second lag of the input before it makes a torque: that of the armature's inductance. */
  readonly lagged?: boolean;
}

/** The times of a model that are searched, s; all else is solved for. */
export interface DcTimes {
  readonly tau: number;
  readonly delay: number;
  readonly lag: number;
}

/** The model at given times, with all else solved for. */
export interface DcSolution extends DcTimes {
  readonly shape: DcShape;
  /** Rows that were fitted. */
  readonly used: Uint8Array;
  /** Gain, then gain times dead band, drift (where the shape has them), then the state of each stretch. */
  readonly coefficients: Float64Array;
  readonly columns: readonly Float64Array[];
  readonly residuals: Float64Array;
  readonly sumOfSquares: number;
}

/** Input below this fraction of the largest counts as none. */
export const noInput = 1e-3;
/** Most points that are fitted: the rows of a longer record are averaged in groups, after the model was run over all of
 * them. */
const mostPoints = 4000;
/** Most driven stretches that are fitted, the first ones. */
const mostStretches = 12;

/** Reads off which rows are driven, at rest, or neither; a sentence where there is nothing to fit. */
export function dcRecord(record: DrivenSpeed): DcRecord | string {
  const { time, input, speed } = record;
  const n = time.length;
  if (n < 12) return `at least 12 rows; there are ${n}`;
  let largest = 0;
  for (const u of input) if (Math.abs(u) > largest) largest = Math.abs(u);
  if (!(largest > 0)) return "an input that is not zero throughout";
  const atRows = record.means === true ? speed.map((w, i) => (w + speed[Math.min(n - 1, i + 1)]) / 2) : speed;
  const { sign, rest, most } = senseOf(atRows, input);
  if (!(most > 0)) return "a shaft that turns";
  const all = new Uint8Array(n);
  const driven = new Uint8Array(n);
  const starts: number[] = [];
  const on = (i: number): boolean => Math.abs(input[i]) > noInput * largest;
  for (let i = 0; i < n; i++) {
    if (speed[i] - speed[i] !== 0 || input[i] - input[i] !== 0) continue;
    all[i] = 1;
    driven[i] = on(i) || sign[i] === 0 ? 1 : 0;
    if (driven[i] === 1 && (i === 0 || driven[i - 1] === 0)) starts.push(i);
  }
  for (let i = starts[mostStretches] ?? n; i < n; i++) driven[i] = 0;
  if (record.means === true) {
    // What lies before the first row of a stretch is none of it.
    all[0] = 0;
    for (const i of starts) if (sign[i] !== 0) driven[i] = 0;
  }
  const steps = Float64Array.from(time.subarray(1), (t, i) => t - time[i]);
  return {
    time,
    input,
    speed,
    late: record.late,
    means: record.means,
    sign,
    sense: meanSense(atRows, sign),
    all,
    driven,
    starts: starts.slice(0, mostStretches),
    span: time[n - 1] - time[0],
    interval: upperMedian(steps),
    rest,
    group: Math.max(1, Math.floor(n / mostPoints)),
  };
}

/** Where the speed passes through zero between two rows that turn, both senses by their parts of the time. */
function meanSense(speed: Float64Array, sign: Int8Array): Float64Array {
  return Float64Array.from(sign, (s, i) => {
    const [a, b] = [speed[i], speed[i + 1]];
    if (s === 0 || i + 1 === sign.length || sign[i + 1] === 0 || !(a * b < 0)) return s;
    return (Math.sign(a) * (Math.abs(a) - Math.abs(b))) / (Math.abs(a) + Math.abs(b));
  });
}

/** A record without some rows. */
export function without(record: DcRecord, rows: readonly number[]): DcRecord {
  const all = record.all.slice();
  const driven = record.driven.slice();
  for (const i of rows) {
    all[i] = 0;
    driven[i] = 0;
  }
  return { ...record, all, driven };
}

/** The columns of the model on the rows used; their sum, each times its coefficient, is the speed. */
export function dcColumns(
  record: DcRecord,
  used: Uint8Array,
  shape: DcShape,
  { tau, delay, lag }: DcTimes,
): Float64Array[] {
  const { time, sign, input } = record;
  const acting = input.map((u, i) => (sign[i] === 0 ? 0 : u));
  const response = record.means === true ? meanOfHeld : firstOrderOfHeld;
  const columns = [response(time, acting, tau, delay)];
  if (lag > 0) {
    // Two lags in series by partial fractions.
    const quick = response(time, acting, lag, delay);
    const slow = columns[0];
    for (let i = 0; i < slow.length; i++) slow[i] = (tau * slow[i] - lag * quick[i]) / (tau - lag);
  }
  if (shape.friction)
    columns.push(
      response(
        time,
        record.sense.map((s) => -s),
        tau,
        0,
      ),
    );
  if (shape.drift) columns.push(time.map((t, i) => (sign[i] === 0 ? 0 : (t - time[0]) / record.span)));
  const starts = used === record.driven ? record.starts : [0];
  starts.forEach((from, k) => {
    // A shaft at rest has no state to find.
    if (sign[from] === 0) return;
    const column = new Float64Array(time.length);
    const to = starts[k + 1] ?? time.length;
    for (let i = from; i < to; i++) {
      const left = Math.exp((time[from] - time[i]) / tau);
      if (left < 1e-12) break;
      column[i] = left;
    }
    columns.push(column);
  });
  return columns.map((c) => fitted(record, c, used));
}

/** The rows used as they are fitted. */
function fitted(record: DcRecord, values: Float64Array, used: Uint8Array): Float64Array {
  const rows = kept(values, used, record.group);
  return record.white === undefined ? rows : record.white(rows);
}

/** Derivatives of the speed by those of its times that the shape has, with all else held. */
export function dcDerivatives(record: DcRecord, at: DcSolution): Float64Array[] {
  const { shape, used, coefficients } = at;
  const curve = (times: DcTimes): Float64Array =>
    dcCurve(dcColumns(record, used, shape, times), coefficients);
  return timesOf(shape).map((name) => {
    const h = name === "tau" ? 1e-3 * at.tau : 0.02 * record.interval;
    // A lag cannot be below zero.
    const low = name === "lag" ? Math.max(0, at.lag - h) : at[name] - h;
    const up = curve({ ...at, [name]: at[name] + h });
    const down = curve({ ...at, [name]: low });
    for (let i = 0; i < up.length; i++) up[i] = (up[i] - down[i]) / (at[name] + h - low);
    return up;
  });
}

/** Which times a shape has. */
export function timesOf(shape: DcShape): (keyof DcTimes)[] {
  return ["tau", ...(shape.delayed ? ["delay" as const] : []), ...(shape.lagged ? ["lag" as const] : [])];
}

/** The rows used, averaged in groups. */
export function kept(values: Float64Array, used: Uint8Array, group: number): Float64Array {
  let count = 0;
  for (let i = 0; i < used.length; i++) count += used[i];
  const out = new Float64Array(Math.floor(count / group));
  let at = 0;
  for (let i = 0; i < used.length && at < out.length * group; i++)
    if (used[i] === 1) out[Math.floor(at++ / group)] += values[i] / group;
  return out;
}

/**
 * Solves for all that is linear at given times, or takes coefficients that are known; null where
 * the columns cannot be told apart.
 */
export function solveDc(
  record: DcRecord,
  used: Uint8Array,
  shape: DcShape,
  times: DcTimes,
  known?: Float64Array,
): DcSolution | null {
  const columns = dcColumns(record, used, shape, times);
  const residuals = fitted(record, record.speed, used);
  const coefficients = known ?? solveColumns(columns, residuals);
  if (coefficients === null) return null;
  const curve = dcCurve(columns, coefficients);
  let sumOfSquares = 0;
  for (let k = 0; k < residuals.length; k++) {
    residuals[k] -= curve[k];
    sumOfSquares += residuals[k] * residuals[k];
  }
  const { tau, delay, lag } = times;
  return { tau, delay, lag, shape, used, coefficients, columns, residuals, sumOfSquares };
}

/** Sum of the columns, each times its coefficient. */
function dcCurve(columns: readonly Float64Array[], coefficients: Float64Array): Float64Array {
  const out = new Float64Array(columns[0].length);
  columns.forEach((c, j) => {
    for (let k = 0; k < out.length; k++) out[k] += coefficients[j] * c[k];
  });
  return out;
}
