import { median } from "../../numeric/series/median.js";
import { clockSteps } from "./clockSteps.js";

/** At most so many rows together stand apart as bad stamps; more are a run of their own. */
const mostTogether = 3;
/** Share of the rows that bad stamps may be, beside three. */
const mostShare = 0.02;
/** A pause of more intervals than this parts rows. */
const pause = 1e4;
/** Bad stamps are further away than so many times the length of everything else. */
const farAway = 100;

/**
 * Rows with a stamp of their own, far away from the clock of all the others: a first row that was written before the
 * clock was set, a register that was read while it changed. Several rows together are a logger that restarted, and no
 * bad stamps; nor is anything found where that would be much of the table, or where the others have no regular clock.
 *
 * @param time stamps of the rows, s; those that are not finite are taken as missing
 * @returns the rows, in order
 * @example
 * strayStamps(Float64Array.of(1000, 1.75e9, 1.75e9 + 0.01, 1.75e9 + 0.02, 1.75e9 + 0.03, 1.75e9 + 0.04)); // => [0]
 */
export function strayStamps(time: Float64Array): number[] {
  const { low, high, least, most } = clockSteps(time);
  const apart = pause * usualStep(time);
  // Nothing leaps.
  if (!(apart > 0) || high - low <= apart || Math.max(most, -least) <= apart) return [];
  const lone: number[] = [];
  let from = Number.POSITIVE_INFINITY;
  let to = Number.NEGATIVE_INFINITY;
  for (const rows of together(time, apart))
    if (rows.length <= mostTogether) lone.push(...rows);
    else
      for (const row of rows) {
        from = Math.min(from, time[row]);
        to = Math.max(to, time[row]);
      }
  if (lone.length > mostTogether + mostShare * time.length || !(to > from)) return [];
  const far = Math.max(apart, farAway * (to - from));
  return lone.filter((row) => time[row] < from - far || time[row] > to + far);
}

/** Rows with a time, parted where it leaps either way. */
function together(time: Float64Array, apart: number): number[][] {
  const out: number[][] = [];
  let last = Number.NaN;
  for (let i = 0; i < time.length; i += 1) {
    if (time[i] - time[i] !== 0) continue;
    if (Math.abs(time[i] - last) <= apart) out[out.length - 1].push(i);
    else out.push([i]);
    last = time[i];
  }
  return out;
}

const stepsLooked = 4000;

/** Median size of the steps, s; of a long log, of some all over it. */
function usualStep(time: Float64Array): number {
  const steps: number[] = [];
  const stride = Math.max(1, Math.floor(time.length / stepsLooked));
  for (let i = 1; i < time.length; i += stride) {
    const step = Math.abs(time[i] - time[i - 1]);
    if (step > 0 && step - step === 0) steps.push(step);
  }
  return median(steps);
}
