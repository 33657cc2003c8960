import type { Mark } from "../formats/sourceTable.js";
import { clockSteps } from "./clockSteps.js";
import { backSteps } from "./clockWraps.js";
import { longAgo } from "./timeAxis.js";

/** One stretch of rows with a clock of its own. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly title?: string;
  /** How much time stepped back to its first row, when it did. */
  readonly back?: number;
  /** How much time leapt ahead to its first row, when the clock was set there. */
  readonly ahead?: number;
}

/** Fewer rows than this after a step back of the clock are rows out of order, and no run. */
const fewestRows = 5;
/** A step back is undone by leaving out at most so many rows before it: they were the bad ones. */
const mostBad = 3;

/**
 * Parts rows where their clock begins anew, or where the source shows a break and time does not simply go on. Single
 * rows out of order do not part anything.
 *
 * @param time clock, wraps carried on; undefined when there is none
 */
export function clockRuns(
  time: Float64Array | undefined,
  rows: number,
  marks: readonly Mark[] = [],
): Stretch[] {
  const starts = new Map<number, { title?: string; back?: number; ahead?: number }>();
  if (time !== undefined) {
    for (const [before, after] of backSteps(time)) {
      if (!beginsAnew(time, before, after)) continue;
      starts.set(after, { back: time[before] - time[after] });
    }
    for (const [before, after] of setAhead(time)) starts.set(after, { ahead: time[after] - time[before] });
  }
  const first = marks.find((m) => m.row === 0 && m.title !== undefined)?.title;
  for (const mark of marks) {
    if (mark.row <= 0 || mark.row >= rows) continue;
    const near = [...starts.keys()].find((row) => row >= mark.row && row - mark.row <= 2);
    if (near !== undefined) {
      starts.set(near, { ...starts.get(near), title: mark.title ?? starts.get(near)?.title });
      continue;
    }
    if (mark.by === "remark") continue;
    const goes = time !== undefined && runsThrough(time, mark.row);
    // A heading that a logger writes again every so often, and a message between two rows, part nothing.
    if (mark.by !== "order" && (goes || (mark.by === "title" && time !== undefined))) continue;
    starts.set(mark.row, { title: mark.title });
  }
  const edges = [...starts.keys()].sort((a, b) => a - b);
  const out: Stretch[] = [];
  for (let k = 0; k <= edges.length; k += 1) {
    const from = k === 0 ? 0 : edges[k - 1];
    const to = k === edges.length ? rows : edges[k];
    out.push({ from, to, ...(k === 0 ? { title: first } : starts.get(from)) });
  }
  return out;
}

/** Pairs of rows between which a clock that began at zero was set to the date: no pause lasts for years. */
function setAhead(time: Float64Array): [number, number][] {
  const out: [number, number][] = [];
  if (clockSteps(time).most <= longAgo) return out;
  let last = -1;
  let since = 0;
  for (let i = 0; i < time.length; i += 1) {
    if (time[i] - time[i] !== 0) continue;
    if (last >= 0 && time[i] - time[last] > longAgo) {
      if (since >= fewestRows && time.length - i >= fewestRows) out.push([last, i]);
      since = 0;
    }
    last = i;
    since += 1;
  }
  return out;
}

/** True when time stays behind what it was before for several rows, and the rows before the step are not the bad
 * ones. */
function beginsAnew(time: Float64Array, before: number, after: number): boolean {
  let seen = 0;
  let behind = 0;
  for (let i = after; i < time.length && seen < fewestRows; i += 1) {
    if (time[i] - time[i] !== 0) continue;
    seen += 1;
    if (time[i] < time[before]) behind += 1;
  }
  if (seen < fewestRows || behind < seen) return false;
  // A few stamps that leap ahead: without them time goes on.
  let left = 0;
  for (let i = before; i >= 0 && left <= mostBad; i -= 1) {
    if (time[i] - time[i] !== 0) continue;
    if (time[i] <= time[after]) return false;
    left += 1;
  }
  return true;
}

/** True when time goes on over a row by a step like those around it. */
function runsThrough(time: Float64Array, row: number): boolean {
  const step = time[row] - time[row - 1];
  const around: number[] = [];
  for (let i = Math.max(1, row - 20); i < Math.min(time.length, row + 20); i += 1)
    if (i !== row && time[i] > time[i - 1]) around.push(time[i] - time[i - 1]);
  if (around.length === 0) return step >= 0;
  around.sort((a, b) => a - b);
  return step >= 0 && step <= 10 * around[around.length >> 1];
}
