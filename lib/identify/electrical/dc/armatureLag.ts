import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import {
  type ArmatureRecord,
  type ArmatureWindow,
  behindInductance,
  type LaggedWindow,
} from "./armatureWindows.js";
import { independentOf } from "./dcSearch.js";

/** An electrical time constant L/R, what the windows are behind it, and how probable it is beside the others. */
export interface LikelyLag {
  readonly lag: number;
  readonly lagged: readonly LaggedWindow[];
  readonly weight: number;
}

/** Electrical time constants L/R that are tried: from the first on, each so many times the one before it, s. */
const ladder = Array.from({ length: 32 }, (_, k) => 0.05e-3 * 1.2 ** k);
/**
 * Usual electrical time constants of DC motors: a tenth of a millisecond without iron in the rotor, some milliseconds
 * of large ones (logarithmic normal distribution; common practice, no source).
 */
const usual = { median: 0.6e-3, deviation: 1 };
/** How many rows later than its own row a voltage may act: one that changes between the rows acts earlier. */
const delays = [-1.5, -1.25, -1, -0.75, -0.5, -0.25, 0, 0.25, 0.5];
/** What is left out for being less probable than the best. */
const least = 0.02;
/** Most lags that the law is solved for. */
const mostLags = 9;
/** Rows within which the windows are that are asked for the lag. */
const mostRows = 50_000;
/** Independent equations that a change of the voltage is worth: when it came between two rows is in all that follow. */
const perChange = 1;

/**
 * How probable each electrical time constant is: by how usual it is, and by how well the law with it explains the
 * current (normal residuals of as many windows as are independent), summed over the delays that the voltage may have.
 * While the speed changes the current goes with acceleration, and an inductance that is taken too small reads as a
 * resistance too small by its lag over the time constant of the speed; the first rows after a change of the voltage
 * are what tells it, where they are close enough.
 */
export function likelyLags(record: ArmatureRecord, windows: readonly ArmatureWindow[]): LikelyLag[] {
  const { time } = record;
  const interval = (time[time.length - 1] - time[0]) / (time.length - 1);
  const early = windows.filter(({ to }) => to <= mostRows);
  const asked = early.length < 12 ? windows.slice(0, 12) : early;
  const late = delays.map((rows) => rows * interval);
  const tried = ladder.flatMap((lag) =>
    behindInductance(record, asked, lag, late).map((lagged, k) => {
      const residuals = residualsOf(asked, lagged);
      return { lag, delay: late[k], residuals, left: squares(residuals) };
    }),
  );
  const best = tried.reduce((a, b) => (b.left < a.left ? b : a));
  // Windows overlap by half.
  const changes = asked.filter(({ first }) => first).length;
  const independent = Math.min(asked.length / 2, perChange * changes, independentOf(best.residuals));
  const chance = (left: number): number => Math.exp((-independent / 2) * Math.log(left / best.left));
  const lags = ladder.map((lag) => {
    const ways = tried.filter((one) => one.lag === lag);
    const prior = Math.exp(-(Math.log(lag / usual.median) ** 2) / (2 * usual.deviation ** 2));
    const { delay } = ways.reduce((a, b) => (b.left < a.left ? b : a));
    return { lag, delay, weight: prior * ways.reduce((sum, { left }) => sum + chance(left), 0) };
  });
  const most = Math.max(...lags.map(({ weight }) => weight));
  return few(lags.filter(({ weight }) => weight > least * most)).map(({ lag, delay, weight }) => ({
    lag,
    lagged: behindInductance(record, windows, lag, [delay])[0],
    weight,
  }));
}

/** Neighbours as one, the most probable for all, where there are many. */
function few<T extends { readonly weight: number }>(all: readonly T[]): T[] {
  const by = Math.ceil(all.length / mostLags);
  return Array.from({ length: Math.ceil(all.length / by) }, (_, k) => {
    const near = all.slice(k * by, (k + 1) * by);
    const first = near.reduce((a, b) => (b.weight > a.weight ? b : a));
    return { ...first, weight: near.reduce((sum, { weight }) => sum + weight, 0) };
  });
}

function squares(values: Float64Array): number {
  return values.reduce((sum, v) => sum + v * v, Number.MIN_VALUE);
}

/** What the law with a drop leaves of the current, weighted by the length of the windows. */
function residualsOf(windows: readonly ArmatureWindow[], lagged: readonly LaggedWindow[]): Float64Array {
  const weight = windows.map((w) => Math.sqrt(w.length));
  const columns = [
    (w: LaggedWindow) => w.voltage,
    (w: LaggedWindow) => w.speed,
    (w: LaggedWindow) => Math.sign(w.voltage),
  ].map((of) => Float64Array.from(lagged, (w, i) => weight[i] * of(w)));
  const current = Float64Array.from(windows, (w, i) => weight[i] * w.current);
  const x = solveColumns(columns, current) ?? solveColumns(columns.slice(0, 2), current);
  if (x === null) return current;
  return current.map((v, i) => v - x.reduce((sum, c, j) => sum + c * columns[j][i], 0));
}
