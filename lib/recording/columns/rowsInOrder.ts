import { median } from "../../numeric/series/median.js";

/** Rows that were written in another order than they were measured. */
export interface Disorder {
  /** The rows in the order of time; those without time come last. */
  readonly order: Int32Array;
  /** How they lay, for text. */
  readonly how: "backwards" | "shuffled" | "from the middle" | "a few rows late";
  /** Steps of the clock that went back. */
  readonly back: number;
}

/** Share of steps that go back above which the rows lie in no order of time at all: half of them do where rows were
 * shuffled. */
const shuffledShare = 0.3;
/** Steps back of at most this many intervals are rows written late, not a clock that begins anew. */
const lateBy = 8;

/**
 * Finds rows that one clock stamped and that only lie in another order: newest first, sorted by another column, a ring
 * buffer written from its middle, or some rows written late. Undefined where the rows are in order, or where what is
 * seen may as well be several runs.
 *
 * @param time stamps of the rows, s; those that are not finite are taken as missing
 * @example
 * rowsInOrder(Float64Array.of(0.3, 0.2, 0.1, 0))?.how; // => "backwards"
 */
export function rowsInOrder(time: Float64Array): Disorder | undefined {
  if (!stepsBack(time)) return undefined;
  const stamped: number[] = [];
  const rest: number[] = [];
  for (let i = 0; i < time.length; i += 1) (Number.isFinite(time[i]) ? stamped : rest).push(i);
  const steps = stamped.slice(1).map((row, k) => time[row] - time[stamped[k]]);
  const backs = steps.filter((step) => step < 0);
  if (backs.length === 0 || stamped.length < 4) return undefined;
  const usual = median(steps.filter((step) => step !== 0).map(Math.abs));
  const how = howTheyLie(time, stamped, steps, backs, usual);
  if (how === undefined) return undefined;
  stamped.sort((a, b) => time[a] - time[b] || a - b);
  return { order: Int32Array.from([...stamped, ...rest]), how, back: backs.length };
}

function stepsBack(time: Float64Array): boolean {
  let last = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < time.length; i += 1) {
    const t = time[i];
    if (t < last) return true;
    if (t - t === 0) last = t;
  }
  return false;
}

function howTheyLie(
  time: Float64Array,
  rows: readonly number[],
  steps: readonly number[],
  backs: readonly number[],
  usual: number,
): Disorder["how"] | undefined {
  const share = backs.length / steps.length;
  if (share > 0.95) return "backwards";
  // Equal stamps in plenty are several runs, line by line or sorted by another column.
  const stamps = new Set(rows.map((row) => time[row]));
  const distinct = stamps.size > 0.9 * rows.length;
  if (share > shuffledShare) return distinct ? "shuffled" : undefined;
  if (!distinct) return undefined;
  if (backs.length >= 4 && mergeEvenly(time, rows, usual)) return "shuffled";
  if (backs.length <= 0.2 * steps.length && backs.every((step) => -step <= lateBy * usual))
    return "a few rows late";
  return backs.length === 1 && fromTheMiddle(time, rows, usual) ? "from the middle" : undefined;
}

/** Each stretch alone leaves stamps out, and all of them together none, as when rows were sorted by another column;
 * runs of several clocks do not mesh so. */
function mergeEvenly(time: Float64Array, rows: readonly number[], usual: number): boolean {
  const sorted = Float64Array.from(rows, (row) => time[row]).sort();
  const steps = sorted.slice(1).map((t, k) => t - sorted[k]);
  const step = median(steps);
  const even = steps.filter((s) => Math.abs(s - step) < 0.1 * step).length;
  return usual > 1.8 * step && even > 0.9 * steps.length;
}

/** The end of the last row is the beginning of the first: one clock, whose rows were written from somewhere within. */
function fromTheMiddle(time: Float64Array, rows: readonly number[], usual: number): boolean {
  const join = time[rows[0]] - time[rows[rows.length - 1]];
  return Math.abs(join - usual) < 0.25 * usual;
}
