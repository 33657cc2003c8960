import type { Estimate } from "../../units/estimate.js";
import type { StepFit } from "./stepFitTypes.js";

/**
 * A fit with what the rows of its log leave open. A command that stands in a row took effect at some instant since the
 * row before, so that times which are not long beside the rows are known to half a row at best: dead time and fast time
 * constant, and with the latter natural frequency and damping ratio of an overdamped response. These are left out where
 * the fast time constant may as well be nothing. The settling behind a slew limit is left out where it is shorter than
 * a row.
 *
 * @param row time between rows, s
 */
export function withRowTimes(fit: StepFit, row: number): StepFit {
  const { deadTime, fastTimeConstant: fast, timeConstant: settling, loopGain, ...others } = fit;
  // A response that runs at its limit nearly to its end shows no settling between two rows.
  const unseen = fit.model === "slew-limited" && settling !== undefined && settling.value < row;
  const slow = unseen ? undefined : settling;
  const rest = unseen || loopGain === undefined ? others : { ...others, loopGain };
  const dead = deadTime === undefined ? {} : { deadTime: byHalfRow(deadTime, row) };
  const first = slow === undefined ? {} : { timeConstant: slow };
  if (fast === undefined || slow === undefined || fit.model !== "second-order-overdamped")
    return { ...rest, ...dead, ...first, fastTimeConstant: fast };
  const wide = byHalfRow(fast, row);
  const { naturalFrequency, dampingRatio, ...further } = rest;
  const all = { ...further, ...dead, ...first, fastTimeConstant: wide };
  if (!(wide.low > 0)) return all;
  // Both go as the root of one over the fast time constant, where that is the shorter by far.
  const by = (e: Estimate): Estimate => ({
    ...e,
    low: Math.min(e.low, e.value * Math.sqrt(fast.value / wide.high)),
    high: Math.max(e.high, e.value * Math.sqrt(fast.value / wide.low)),
  });
  return {
    ...all,
    ...(naturalFrequency === undefined ? {} : { naturalFrequency: by(naturalFrequency) }),
    ...(dampingRatio === undefined ? {} : { dampingRatio: by(dampingRatio) }),
  };
}

/** An estimate of a time, wider by half a row to either side (in squares with its own error) and not below zero. */
function byHalfRow(e: Estimate, row: number): Estimate {
  const half = row / 2;
  return {
    ...e,
    low: Math.max(0, e.value - Math.hypot(e.value - e.low, half)),
    high: e.value + Math.hypot(e.high - e.value, half),
  };
}
