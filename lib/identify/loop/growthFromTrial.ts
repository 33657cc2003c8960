import { maximum } from "../../numeric/optimise/alongLogarithm.js";
import { halving } from "../../numeric/optimise/halving.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { drivenPart } from "../../run/trip.js";
import type { Estimate } from "../../units/estimate.js";
import { atLimit, missingColumns, trialColumns } from "./trialColumns.js";

/** How fast a runaway grew before the current reached its limit. */
export interface ObservedGrowth {
  readonly growthTime?: Estimate;
  /** Rows the fit used, and factor by which the exponential grew over them. */
  readonly rows: number;
  readonly factor?: number;
  /** First and last time used, s. */
  readonly from?: number;
  readonly to?: number;
  /** Whether the predicted growth time lies within the interval; absent without a prediction. */
  readonly agrees?: boolean;
  readonly missing?: string;
}

/** Logarithm of the largest factor between a growth and the end of its interval. */
const furthest = 6;

/**
 * Growth time constant of a runaway from its log: w = a + b*exp(t/tau) fitted to the speed from the step of the
 * reference to the row where the current command reaches its limit (past it the speed rises along a straight line and
 * says nothing of the loop), or where the drive tripped. The interval is where the sum of squares stays below the F
 * limit, with the number of independent rows taken from the residuals' correlation.
 *
 * @param predicted the growth time that `growthTime` gives, to compare with
 * @example
 * const { growthTime, missing } = growthFromTrial(run, trial);
 * growthTime ?? missing; // an estimate in s, or why there is none
 */
export function growthFromTrial(run: Run, trial: Trial, predicted?: Estimate): ObservedGrowth {
  const driven = drivenPart(run, trial);
  const seen = run.once(`growth ${driven.from} ${driven.to}`, () => observe(run, driven));
  const { growthTime } = seen;
  if (predicted === undefined || growthTime === undefined) return seen;
  return { ...seen, agrees: predicted.high >= growthTime.low && predicted.low <= growthTime.high };
}

function observe(run: Run, trial: Trial): ObservedGrowth {
  const none = (missing: string, rows = 0): ObservedGrowth => ({ rows, missing });
  const lacking = missingColumns(run);
  if (lacking.length > 0) return none(`not logged: ${lacking.join(", ")}`);
  const columns = trialColumns(run, trial);
  if (columns === undefined) return none("fewer than 16 whole rows");
  const { time, speed, reference, command, current } = columns;
  const { rows: limited } = atLimit(columns, run.recording.drive.currentLimit);
  // From the first row whose reference has moved or is not zero, to the first row at the limit.
  let start = 0;
  while (start < time.length && reference[start] === 0) start++;
  if (start === time.length) start = 0;
  let end = start;
  while (end < time.length && limited[end] === 0 && reference[end] === reference[start]) end++;
  // A current that does not follow its command any more is none of the loop's: the drive is off, or out of voltage.
  while (end > start && Math.abs(current[end - 1]) < 0.5 * Math.abs(command[end - 1])) end--;
  const rows = end - start;
  if (rows < 8)
    return none(
      `only ${rows} rows lie between the step of the reference and the current limit: log faster, or lower the gains`,
      rows,
    );
  const t = Float64Array.from({ length: rows }, (_, k) => time[start + k] - time[start]);
  const w = speed.slice(start, end);
  const span = t[rows - 1];
  const at = (rate: number) => {
    // Linear least squares for a and b, the exponential scaled to 1 at the last row.
    let s1 = 0;
    let sx = 0;
    let sxx = 0;
    let sy = 0;
    let sxy = 0;
    const x = t.map((v) => Math.exp(rate * (v - span)));
    for (let k = 0; k < rows; k++) {
      s1++;
      sx += x[k];
      sxx += x[k] * x[k];
      sy += w[k];
      sxy += x[k] * w[k];
    }
    const d = s1 * sxx - sx * sx;
    const b = (s1 * sxy - sx * sy) / d;
    const a = (sy - b * sx) / s1;
    const residual = w.map((v, k) => v - a - b * x[k]);
    return { squares: residual.reduce((s, v) => s + v * v, 0), b, residual };
  };
  const [low, high] = [0.05 / span, 40 / span];
  const points = 160;
  const rates = Array.from({ length: points }, (_, k) => low * (high / low) ** (k / (points - 1)));
  const squares = rates.map((r) => at(r).squares);
  let best = 0;
  squares.forEach((s, k) => {
    if (s < squares[best]) best = k;
  });
  if (best === 0 || best === points - 1)
    return none("the speed does not grow as an exponential before the current limit", rows);
  const { at: rate } = maximum((r) => -at(r).squares, rates[best - 1], rates[best + 1]);
  const fit = at(rate);
  let lagged = 0;
  for (let k = 1; k < rows; k++) lagged += fit.residual[k] * fit.residual[k - 1];
  const correlation = Math.min(0.95, Math.max(0, fit.squares > 0 ? lagged / fit.squares : 0));
  const independent = Math.max(5, (rows * (1 - correlation)) / (1 + correlation));
  const limit = fit.squares * (1 + 5 / (independent - 3)); // F(1, n-3) at 95 % is 3.84 to 5.3 for 8 rows or more
  const edge = (towards: 1 | -1): number => {
    const growing = (x: number): boolean => at(rate * Math.exp(towards * x)).squares <= limit;
    let reach = 0.1;
    while (growing(reach) && reach < furthest) reach += 0.1;
    return (
      rate * Math.exp(towards * (reach < furthest ? halving(reach - 0.1, reach, growing, 40)[0] : reach))
    );
  };
  const factor = Math.exp(rate * span);
  if (factor < 2) return none(`the exponential grows by a factor of ${factor.toFixed(2)} only`, rows);
  const growthTime: Estimate = {
    value: 1 / rate,
    low: 1 / edge(1),
    high: 1 / edge(-1),
    unit: "s",
    method: `exponential fitted to the speed, ${rows} rows before the current limit`,
    level: 0.95,
    samples: rows,
    channels: ["speed", "currentCommand", "speedCommand"],
  };
  return {
    growthTime,
    rows,
    factor,
    from: time[start],
    to: time[end - 1],
  };
}
