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

/** Clocks that were looked at. Time is never changed once it is a clock. */
const known = new WeakMap<Float64Array, ClockSteps>();

/**
 * Looks at all stamps of a clock, once: most clocks rise evenly, and whatever looks for breaks, wraps, bad stamps and
 * gaps then has nothing to look for.
 *
 * @param time stamps of the rows, in any unit; those that are not finite are taken as missing
 * @example
 * clockSteps(Float64Array.of(0, 1, 3)); // { whole: true, low: 0, high: 3, least: 1, most: 2 }
 */
export function clockSteps(time: Float64Array): ClockSteps {
  let found = known.get(time);
  if (found === undefined) {
    found = lookAt(time);
    known.set(time, found);
  }
  return found;
}

function lookAt(time: Float64Array): ClockSteps {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  let missing = 0;
  let last = Number.NaN;
  for (let i = 0; i < time.length; i += 1) {
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
  return { whole: missing === 0, low, high, least, most };
}
