import { linearRegression } from "simple-statistics";
import { normal, studentT } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import type { Undetermined } from "../life/lifeData.js";
import type { TestResult } from "./normality.js";
import { medianOf, squaresAbout } from "./sample.js";

/** Whether a constant of one motor drifts over its runs. */
export interface Drift {
  /** Median of all pairwise slopes, with Sen's interval. */
  readonly slope: Estimate;
  /** Rank test for a trend. */
  readonly mannKendall: TestResult;
  /** Least-squares slope with Student's interval. */
  readonly regression: Estimate;
  /** Value on the robust line at the first and at the last time. */
  readonly start: number;
  readonly end: number;
  readonly runs: number;
}

/**
 * Judges the drift of a series: Theil and Sen's slope with Sen's interval (Sen, P. K. (1968), Journal of the American
 * Statistical Association 63, 1379-1389), Mann and Kendall's trend test with ties and continuity, and the least-squares
 * slope with its interval.
 *
 * @param times - in `timeUnit`
 * @param values - in `unit`
 * @returns `Undetermined` for fewer than 4 runs at different times
 * @example
 * const judged = drift([0, 1, 2, 3, 4], [1, 2, 3, 4, 5]);
 * if (!isUndetermined(judged)) judged.slope; // { value: 1, low: 1, high: 1, unit: "1", ... }
 */
export function drift(
  times: ArrayLike<number>,
  values: ArrayLike<number>,
  options: { readonly unit?: string; readonly timeUnit?: string; readonly level?: number } = {},
): Drift | Undetermined {
  const { unit = "1", timeUnit = "d", level = 0.95 } = options;
  const kept = Array.from({ length: times.length }, (_, i) => i).filter(
    (i) => Number.isFinite(times[i]) && Number.isFinite(values[i]),
  );
  const t = Float64Array.from(kept, (i) => times[i]);
  const y = Float64Array.from(kept, (i) => values[i]);
  const n = t.length;
  if (new Set(t).size < 4) return { undetermined: `${n} runs: at least 4 at different times are needed` };
  const slopes: number[] = [];
  let s = 0;
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      if (t[i] === t[j]) continue;
      const slope = (y[j] - y[i]) / (t[j] - t[i]);
      slopes.push(slope);
      s += Math.sign(slope);
    }
  const tied = (x: Float64Array) => {
    const counts = new Map<number, number>();
    for (const v of x) counts.set(v, (counts.get(v) ?? 0) + 1);
    return [...counts.values()].filter((c) => c > 1);
  };
  const [ties, meets] = [tied(y), tied(t)];
  const sum = (list: number[], f: (c: number) => number) => list.reduce((total, c) => total + f(c), 0);
  // Variance of Kendall's S with ties in both (Kendall, Rank Correlation Methods, 4th ed., 1975).
  const variance =
    (n * (n - 1) * (2 * n + 5) -
      sum(ties, (c) => c * (c - 1) * (2 * c + 5)) -
      sum(meets, (c) => c * (c - 1) * (2 * c + 5))) /
      18 +
    (sum(ties, (c) => c * (c - 1) * (c - 2)) * sum(meets, (c) => c * (c - 1) * (c - 2))) /
      (9 * n * (n - 1) * (n - 2)) +
    (sum(ties, (c) => c * (c - 1)) * sum(meets, (c) => c * (c - 1))) / (2 * n * (n - 1));
  const z = s === 0 || variance === 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance);
  const sorted = Float64Array.from(slopes).sort();
  const m = sorted.length;
  const reach = normal.quantile((1 + level) / 2) * Math.sqrt(variance);
  const lowRank = Math.max(0, Math.floor((m - reach) / 2) - 1);
  const highRank = Math.min(m - 1, Math.ceil((m + reach) / 2));
  const slope = medianOf(sorted);
  const level0 = medianOf(y.map((yi, i) => yi - slope * t[i]));
  const { m: b } = linearRegression(Array.from(t, (ti, i) => [ti, y[i]]));
  const residual = squaresAbout(y.map((yi, i) => yi - b * t[i]));
  const half = studentT.quantile((1 + level) / 2, n - 2) * Math.sqrt(residual / (n - 2) / squaresAbout(t));
  const common = { unit: `${unit}/${timeUnit}`, level, samples: n };
  const [first, last] = [Math.min(...t), Math.max(...t)];
  return {
    slope: {
      value: slope,
      low: sorted[lowRank],
      high: sorted[highRank],
      method: "median of pairwise slopes, Sen interval",
      ...common,
    },
    mannKendall: { name: "Mann-Kendall", statistic: z, p: 2 * normal.upper(Math.abs(z)) },
    regression: { value: b, low: b - half, high: b + half, method: "least squares, t interval", ...common },
    start: level0 + slope * first,
    end: level0 + slope * last,
    runs: n,
  };
}
