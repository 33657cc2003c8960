import { meanOf } from "./sample.js";

/** A point that a control chart calls out. */
export interface Signal {
  /** Index of the value, from 0. */
  readonly at: number;
  readonly rule: string;
}

/** A control chart: the plotted values, the centre line and limits, and the points called out. */
export interface ControlChart {
  readonly kind: "individuals" | "moving range" | "ewma";
  readonly values: readonly number[];
  readonly center: number;
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  /** Deviation the limits were drawn from. */
  readonly sigma: number;
  readonly signals: readonly Signal[];
}

/** d2 and D4 for ranges of two (ISO 7870-2:2013, table of control chart constants; d2 = 2/sqrt(pi)). */
const d2 = 2 / Math.sqrt(Math.PI);
const d4 = 1 + (3 * Math.sqrt(2 - (2 / Math.sqrt(Math.PI)) ** 2)) / d2;

/**
 * Chart of individual values and of their moving ranges. Deviation from the mean moving range over 2/sqrt(pi); limits
 * at three deviations; runs called out by the rules of the Western Electric handbook (1956): 2 of 3 beyond two
 * deviations, 4 of 5 beyond one, 8 on one side.
 *
 * @param values - in order of time
 * @param baseline - how many of the first values set centre and limits; all when absent
 * @throws RangeError for fewer than 2 baseline values
 * @example
 * individualsChart([10, 10.1, 9.9, 10, 10.1, 9.9, 11], 6).individuals.signals[0].at; // => 6
 */
export function individualsChart(
  values: ArrayLike<number>,
  baseline = values.length,
): { readonly individuals: ControlChart; readonly movingRange: ControlChart } {
  const x = Array.from(values);
  if (baseline < 2 || baseline > x.length)
    throw new RangeError(`a chart needs a baseline of 2 to ${x.length} values, got ${baseline}`);
  const ranges = x.slice(1).map((v, i) => Math.abs(v - x[i]));
  const meanRange = meanOf(ranges.slice(0, baseline - 1));
  const center = meanOf(x.slice(0, baseline));
  const sigma = meanRange / d2;
  const signals: Signal[] = [];
  const z = x.map((v) => (sigma > 0 ? (v - center) / sigma : 0));
  const run = (i: number, length: number, need: number, beyond: number) =>
    [1, -1].some(
      (side) =>
        i + 1 >= length &&
        side * z[i] > beyond &&
        z.slice(i + 1 - length, i + 1).filter((v) => side * v > beyond).length >= need,
    );
  for (let i = 0; i < x.length; i++) {
    if (Math.abs(z[i]) > 3) signals.push({ at: i, rule: "beyond three deviations" });
    else if (run(i, 3, 2, 2)) signals.push({ at: i, rule: "2 of 3 beyond two deviations on one side" });
    else if (run(i, 5, 4, 1)) signals.push({ at: i, rule: "4 of 5 beyond one deviation on one side" });
    else if (run(i, 8, 8, 0)) signals.push({ at: i, rule: "8 in a row on one side" });
  }
  const fill = (v: number, n: number) => new Array<number>(n).fill(v);
  return {
    individuals: {
      kind: "individuals",
      values: x,
      center,
      lower: fill(center - 3 * sigma, x.length),
      upper: fill(center + 3 * sigma, x.length),
      sigma,
      signals,
    },
    movingRange: {
      kind: "moving range",
      values: ranges,
      center: meanRange,
      lower: fill(0, ranges.length),
      upper: fill(d4 * meanRange, ranges.length),
      sigma,
      signals: ranges.flatMap((r, i) =>
        r > d4 * meanRange ? [{ at: i + 1, rule: "range beyond its limit" }] : [],
      ),
    },
  };
}

/**
 * Exponentially weighted moving average chart: sensitive to small lasting shifts (Roberts, S. W. (1959), Technometrics
 * 1, 239-250).
 *
 * @param options - `lambda` weight of the newest value (0.2 when absent), `width` of the limits in deviations (3),
 *   `center` and `sigma` when known; otherwise from the first `baseline` values as in `individualsChart`;
 *   `steady` uses the final limits for every point
 * @example
 * ewmaChart([10, 10.1, 9.9, 10, 10.3, 10.4, 10.5], { center: 10, sigma: 0.1 }).signals[0].at; // => 5
 */
export function ewmaChart(
  values: ArrayLike<number>,
  options: {
    readonly lambda?: number;
    readonly width?: number;
    readonly center?: number;
    readonly sigma?: number;
    readonly baseline?: number;
    readonly steady?: boolean;
  } = {},
): ControlChart {
  const { lambda = 0.2, width = 3, baseline, steady = false } = options;
  if (!(lambda > 0 && lambda <= 1))
    throw new RangeError(`lambda must lie above 0 and up to 1, got ${lambda}`);
  const known = options.center !== undefined && options.sigma !== undefined;
  const base = known ? undefined : individualsChart(values, baseline).individuals;
  const center = options.center ?? base!.center;
  const sigma = options.sigma ?? base!.sigma;
  let average = center;
  const smooth = Array.from(values, (v) => {
    average = lambda * v + (1 - lambda) * average;
    return average;
  });
  const half = smooth.map(
    (_, i) =>
      width * sigma * Math.sqrt((lambda / (2 - lambda)) * (steady ? 1 : 1 - (1 - lambda) ** (2 * (i + 1)))),
  );
  return {
    kind: "ewma",
    values: smooth,
    center,
    lower: half.map((h) => center - h),
    upper: half.map((h) => center + h),
    sigma,
    signals: smooth.flatMap((v, i) =>
      Math.abs(v - center) > half[i] ? [{ at: i, rule: "weighted average beyond its limit" }] : [],
    ),
  };
}
