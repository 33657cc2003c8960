import { onceForColumn } from "../../numeric/series/onceForColumn.js";

/** How the stamps of a clock go on from row to row. */
export interface ClockSteps {
  /** Every row has a stamp. */
  readonly whole: boolean;
  /** Earliest and latest stamp; infinite where there is none. */
  readonly low: number;
  readonly high: number;
  /** Shortest and longest step from one row with a stamp to the next such row; negative where time steps back. */
  readonly least: number;
  readonly most: number;
}

/** Rows looked at in one call: a loop over all rows of the first long log would run to its end before it is
 * compiled. */
const rowsAtOnce = 2048;

function lookAt(time: Float64Array): ClockSteps {
  const { POSITIVE_INFINITY: top, NEGATIVE_INFINITY: bottom } = Number;
  const seen = Float64Array.of(top, bottom, top, bottom, Number.NaN, 0);
  for (let from = 0; from < time.length; from += rowsAtOnce)
    lookAtRows(time, from, Math.min(time.length, from + rowsAtOnce), seen);
  const [low, high, least, most, , missing] = seen;
  return { whole: missing === 0, low, high, least, most };
}

/** Looks at some rows more: lowest and highest stamp, shortest and longest step, the last stamp, stamps missing. */
function lookAtRows(time: Float64Array, from: number, to: number, seen: Float64Array): void {
  let low = seen[0];
  let high = seen[1];
  let least = seen[2];
  let most = seen[3];
  let last = seen[4];
  let missing = 0;
  for (let i = from; i < to; i += 1) {
    const t = time[i];
    if (t - t !== 0) {
      missing += 1;
      continue;
    }
    if (t < low) low = t;
    if (t > high) high = t;
    const step = t - last;
    if (step < least) least = step;
    if (step > most) most = step;
    last = t;
  }
  seen[0] = low;
  seen[1] = high;
  seen[2] = least;
  seen[3] = most;
  seen[4] = last;
  seen[5] += missing;
}

/**
 * Looks at all stamps of a clock, once: time is never changed once it is a clock. Most clocks rise evenly, and whatever
 * looks for breaks, wraps, bad stamps and gaps then has nothing to look for.
 *
 * @param time stamps of the rows, in any unit; those that are not finite are taken as missing
 * @example
 * clockSteps(Float64Array.of(0, 1, 3)); // { whole: true, low: 0, high: 3, least: 1, most: 2 }
 */
export const clockSteps: (time: Float64Array) => ClockSteps = onceForColumn(lookAt);
