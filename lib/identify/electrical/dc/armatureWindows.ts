import { growingWindows } from "../../mechanical/growingWindows.js";

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

/** Means over one window of rows. */
export interface ArmatureWindow {
  /** First row, and the one behind the last. */
  readonly from: number;
  readonly to: number;
  /** The first one after a change of the voltage. */
  readonly first: boolean;
  readonly voltage: number;
  readonly current: number;
  readonly speed: number;
  /** Mean acceleration, rad/s2. */
  readonly acceleration: number;
  readonly length: number;
  /** Time from the first to the last row, s. */
  readonly span: number;
  /** The voltage behind a lag of the record's time constant, as the speed answers; absent without one. */
  readonly behind?: number;
}

/** Fewest rows of a window, and most windows. */
const shortest = 4;
const mostWindows = 3000;

/** Voltage and speed of windows as a current behind the armature's inductance shows them. */
export interface LaggedWindow {
  readonly voltage: number;
  readonly speed: number;
}

/**
 * Windows behind a lag L/R: `L*di/dt + R*i = u - Ke*w` is `i = (F(u) - Ke*F(w))/R` with F a first-order lag of L/R.
 * What F makes of voltage and speed is computed from both, so that no slope of the noisy current is needed; its mean
 * over a window is that of the signal less the lag times the change of F over the window's time.
 *
 * @param lag L/R, s
 * @param delays by how much the voltage acts later than its rows, s; below zero where it changed before the row that
 *   shows it
 * @returns the windows for each delay
 */
export function behindInductance(
  record: ArmatureRecord,
  windows: readonly ArmatureWindow[],
  lag: number,
  delays: readonly number[],
): LaggedWindow[][] {
  const rows = windows.reduce((most, { to }) => Math.max(most, to), 0);
  const { time } = record;
  const speed = laggedSpeed(time, turningOf(record, rows), lag);
  return delays.map((delay) => {
    const voltage = laggedVoltage(record, rows, lag, delay);
    return windows.map((w) => ({
      voltage: w.voltage - (lag * (voltage(time[w.to - 1]) - voltage(time[w.from]))) / w.span,
      speed: w.speed - (lag * (speed[w.to - 1] - speed[w.from])) / w.span,
    }));
  });
}

/** Behind a lag, what is held from each row to the next; from rest at the first value. */
function laggedSpeed(time: Float64Array, held: Float64Array, lag: number): Float64Array {
  const out = Float64Array.from(held);
  let step = Number.NaN;
  let left = 0;
  for (let k = 1; k < out.length; k++) {
    const now = time[k] - time[k - 1];
    if (!(Math.abs(now - step) <= 1e-9 * now)) [step, left] = [now, Math.exp(-now / lag)];
    out[k] = held[k - 1] + (out[k - 1] - held[k - 1]) * left;
  }
  return out;
}

/** The held voltage behind a lag, at any time: computed from change to change. */
function laggedVoltage(
  { time, voltage }: ArmatureRecord,
  rows: number,
  lag: number,
  delay: number,
): (at: number) => number {
  const [starts, levels, states] = [[Number.NEGATIVE_INFINITY], [voltage[0]], [voltage[0]]];
  for (let k = 1; k < rows; k++) {
    const last = levels.length - 1;
    if (voltage[k] === levels[last]) continue;
    const start = time[k] + delay;
    states.push(levels[last] + (states[last] - levels[last]) * Math.exp((starts[last] - start) / lag));
    starts.push(start);
    levels.push(voltage[k]);
  }
  return (at) => {
    let low = 0;
    let high = starts.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (starts[middle] <= at) low = middle;
      else high = middle;
    }
    return levels[low] + (states[low] - levels[low]) * Math.exp((starts[low] - at) / lag);
  };
}

/** Mean speed from each row to the next, rad/s. */
function turningOf({ time, speed, position }: ArmatureRecord, rows: number): Float64Array {
  return Float64Array.from({ length: rows }, (_, k) => {
    const next = Math.min(k + 1, rows - 1);
    if (position === undefined || next === k) return (speed[k] + speed[next]) / 2;
    return (position[next] - position[k]) / (time[next] - time[k]);
  });
}

/** Means over windows that begin at each change of the voltage and grow with the time since; even ones where it changes
 * at every row. */
export function windowsOf(record: ArmatureRecord): ArmatureWindow[] {
  const { time, voltage } = record;
  const n = time.length;
  const edges = [0];
  for (let i = 1; i < n; i++)
    if (voltage[i] !== voltage[i - 1] && i - edges[edges.length - 1] >= shortest) edges.push(i);
  edges.push(n);
  const behind = behindLag(record);
  const windows: ArmatureWindow[] = [];
  for (let k = 0; k + 1 < edges.length && windows.length < mostWindows; k++) {
    // The row of a change (the first row too) often holds the current from before it.
    const begin = edges[k] + 1;
    for (const { from, to } of growingWindows(begin, edges[k + 1], shortest - 1)) {
      const window = windowOf(record, behind, from, to);
      if (window !== null) windows.push({ ...window, first: from === begin });
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
): Omit<ArmatureWindow, "first"> | null {
  const { time, speed, position } = record;
  const span = time[to - 1] - time[from];
  const mean = (values: Float64Array): number =>
    position === undefined ? rowMean(values, from, to) : timeMean(time, values, from, to);
  const [voltage, current] = [mean(record.voltage), mean(record.current)];
  const turned =
    position === undefined ? rowMean(speed, from, to) : (position[to - 1] - position[from]) / span;
  if (!(Number.isFinite(voltage) && Number.isFinite(current) && Number.isFinite(turned))) return null;
  return {
    from,
    to,
    voltage,
    current,
    speed: turned,
    acceleration: (speed[to - 1] - speed[from]) / span,
    length: to - from,
    span,
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
