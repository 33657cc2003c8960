import { atLimit, missingColumns, trialColumns } from "../../identify/loop/trialColumns.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";

/** A stretch at the current limit. */
export interface LimitedStretch {
  readonly start: number;
  readonly end: number;
  readonly sign: 1 | -1;
}

/** What a trial shows of saturation and of an integral that wound up. */
export interface SaturationReport {
  /** A; absent when the command never dwells on a limit. */
  readonly limit?: number;
  /** Share of rows at the limit. */
  readonly share: number;
  readonly stretches: readonly LimitedStretch[];
  /** The error had changed sign, and the command still stood at the limit of the old sign: the integral was unwinding.
   * Longest case. */
  readonly unwinding?: { readonly at: number; readonly duration: number };
  /** Overshoot that followed it, rad/s. */
  readonly overshoot?: number;
  readonly missing?: string;
  readonly text: string;
}

/**
 * Saturation and wind-up in a speed trial. Wind-up is recognised by its own sign: the error has turned round, yet the
 * command stays at the limit of the old sign, which a proportional part alone cannot do.
 *
 * @example
 * saturation(run, trial).share; // => 0.034 (of the trial at the current limit)
 */
export function saturation(run: Run, trial: Trial): SaturationReport {
  const lacking = missingColumns(run);
  const columns = lacking.length === 0 ? trialColumns(run, trial) : undefined;
  if (columns === undefined) {
    const missing = lacking.length > 0 ? `not logged: ${lacking.join(", ")}` : "fewer than 16 whole rows";
    return { share: 0, stretches: [], missing, text: `saturation not looked at: ${missing}` };
  }
  const { time, reference, speed, command, interval } = columns;
  const { rows, limit } = atLimit(columns, run.recording.drive.currentLimit);
  const n = time.length;
  const stretches: LimitedStretch[] = [];
  for (let k = 0; k < n; k++) {
    if (!rows[k]) continue;
    const sign = command[k] > 0 ? 1 : -1;
    let end = k;
    while (end + 1 < n && rows[end + 1] && command[end + 1] * sign > 0) end++;
    stretches.push({ start: time[k], end: time[end], sign });
    k = end;
  }
  let unwinding: { at: number; duration: number } | undefined;
  let overshoot: number | undefined;
  let since = -1;
  let worst = 0;
  for (let k = 0; k < n; k++) {
    const error = reference[k] - speed[k];
    const turned = rows[k] === 1 && error * command[k] < 0 && reference[k] !== 0;
    if (turned && since < 0) {
      since = k;
      worst = 0;
    }
    if (turned) worst = Math.max(worst, Math.abs(error));
    if ((!turned || k === n - 1) && since >= 0) {
      const duration = time[k] - time[since];
      if (duration >= 3 * interval && duration > (unwinding?.duration ?? 0)) {
        // The error must have had the command's sign before: a torque against the command never does.
        const before = since > 0 ? reference[since - 1] - speed[since - 1] : 0;
        if (before * command[since] > 0) {
          unwinding = { at: time[since], duration };
          for (let j = k; j < n && (reference[j] - speed[j]) * (reference[k] - speed[k]) > 0; j++)
            worst = Math.max(worst, Math.abs(reference[j] - speed[j]));
          overshoot = worst;
        }
      }
      since = -1;
    }
  }
  const share = rows.reduce((sum, v) => sum + v, 0) / n;
  const text =
    limit === undefined
      ? "the current command stays below its limit"
      : unwinding
        ? `the command stands at ${limit.toPrecision(3)} A for ${(100 * share).toFixed(0)} % of the trial and stays there ${(1000 * unwinding.duration).toFixed(0)} ms after the error has turned round: the integral had wound up`
        : `the command stands at ${limit.toPrecision(3)} A for ${(100 * share).toFixed(0)} % of the trial, without signs of wind-up`;
  return {
    ...(limit === undefined ? {} : { limit }),
    share,
    stretches,
    ...(unwinding ? { unwinding, overshoot } : {}),
    text,
  };
}
