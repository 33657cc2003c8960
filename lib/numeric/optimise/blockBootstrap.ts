import { seededRandom } from "../distributions/seededRandom.js";
import { autocovariances } from "../series/autoregression.js";
import { asResidualProblem, searchProblem } from "./residualProblem.js";
import { trustRegionSearch } from "./trustRegion.js";
import type { FitResult, LeastSquaresProblem } from "./types.js";

/** Choices of a block bootstrap; every one has a default. */
export interface BootstrapOptions {
  /** Blocks of one length (`moving`) or of geometrically distributed lengths (`stationary`); `moving` when absent. */
  readonly blocks?: "moving" | "stationary";
  /** (Mean) block length in samples; found from the residuals when absent. */
  readonly blockLength?: number;
  /** Resamples, 400 when absent. */
  readonly replicates?: number;
  /** Seed of the resampling, 1 when absent: the same seed gives the same intervals. */
  readonly seed?: number;
  /** Coverage; that of the fit when absent. */
  readonly level?: number;
}

/** Intervals from a block bootstrap, and how they came about. */
export interface BootstrapResult {
  readonly intervals: readonly {
    readonly name: string;
    readonly value: number;
    readonly standardError: number;
    readonly low: number;
    readonly high: number;
  }[];
  readonly blockLength: number;
  readonly replicates: number;
  /** Resamples whose fit did not end properly and was left out. */
  readonly failed: number;
}

/**
 * Block length from the residuals' autocovariances by the flat-top window rule of Politis and White (2004) with the
 * correction of Patton, Politis and White (2009).
 *
 * @param r residuals in sample order, in any unit
 * @param blocks kind of block that will be resampled
 * @returns samples in a block
 * @example
 * const random = seededRandom(7);
 * automaticBlockLength(Float64Array.from({ length: 200 }, () => random.normal())); // => 1 (white residuals need no blocks)
 */
export function automaticBlockLength(r: Float64Array, blocks: "moving" | "stationary" = "moving"): number {
  const m = r.length;
  if (m < 10) return 1;
  const runs = Math.max(5, Math.ceil(Math.log10(m)));
  const most = Math.min(Math.floor(m / 3), Math.ceil(Math.sqrt(m)) + runs);
  const c = autocovariances(r, Math.min(m - 1, 2 * most));
  if (!(c[0] > 0)) return 1;
  const limit = 2 * Math.sqrt(Math.log10(m) / m);
  let lag = 0;
  // The last lag before a run of autocorrelations too small to matter.
  for (let k = 1; k <= most; k++) {
    let quiet = true;
    for (let i = 0; i < runs && k + i < c.length; i++) if (Math.abs(c[k + i] / c[0]) > limit) quiet = false;
    if (quiet) {
      lag = k - 1;
      break;
    }
    lag = k;
  }
  const reach = Math.min(2 * lag, c.length - 1);
  let g = 0;
  let spectrum = c[0];
  for (let k = 1; k <= reach; k++) {
    const share = k / reach;
    const window = share <= 0.5 ? 1 : 2 * (1 - share);
    g += 2 * window * k * c[k];
    spectrum += 2 * window * c[k];
  }
  const d = (blocks === "moving" ? 4 / 3 : 2) * spectrum * spectrum;
  if (!(d > 0)) return 1;
  const length = Math.cbrt((2 * g * g) / d) * Math.cbrt(m);
  return Math.max(1, Math.min(Math.ceil(Math.min(3 * Math.sqrt(m), m / 3)), Math.round(length)));
}

/**
 * Intervals by resampling blocks of residuals (Künsch 1989 for moving blocks, Politis and Romano 1994 for stationary
 * ones): each resample adds blocks of centred residuals to the fitted values and fits again, so that correlation within
 * a block survives. Percentile intervals; ordered samples are assumed.
 *
 * @example
 * const { intervals } = blockBootstrap(problem, fitLeastSquares(problem), { seed: 7 });
 */
export function blockBootstrap(
  given: LeastSquaresProblem,
  fit: FitResult,
  options: BootstrapOptions = {},
): BootstrapResult {
  const problem = asResidualProblem(given);
  const blocks = options.blocks ?? "moving";
  const replicates = options.replicates ?? 400;
  if (!(Number.isInteger(replicates) && replicates >= 20))
    throw new RangeError(`replicates is ${replicates}; give a whole number of at least 20.`);
  const level = options.level ?? fit.level;
  const m = fit.count;
  const n = fit.free.length;
  const blockLength = Math.max(
    1,
    Math.min(m, options.blockLength ?? automaticBlockLength(fit.residuals, blocks)),
  );
  const random = seededRandom(options.seed ?? 1);
  let mean = 0;
  for (let i = 0; i < m; i++) mean += fit.residuals[i] / m;
  // Fitting shrinks residuals.
  const stretch = Math.sqrt(m / Math.max(1, m - n));
  const centred = fit.residuals.map((e) => (e - mean) * stretch);
  const shift = new Float64Array(m);
  const prepared = searchProblem(
    {
      ...problem,
      residuals(p, out) {
        problem.residuals(p, out);
        for (let i = 0; i < m; i++) out[i] += shift[i];
      },
    },
    { loss: fit.loss, tolerance: 1e-3, maxIterations: 200 },
    fit.lossScale ?? 1,
  );
  const draws = fit.free.map(() => [] as number[]);
  let failed = 0;
  for (let k = 0; k < replicates; k++) {
    let from = 0;
    let left = 0;
    for (let i = 0; i < m; i++) {
      if (left === 0) {
        if (blocks === "moving") {
          from = Math.floor(random.uniform() * (m - blockLength + 1));
          left = blockLength;
        } else {
          from = Math.floor(random.uniform() * m);
          left =
            1 +
            Math.floor(Math.log(1 - random.uniform()) / Math.log(1 - 1 / Math.max(1.0000001, blockLength)));
        }
      }
      shift[i] = centred[from % m] - fit.residuals[i];
      from++;
      left--;
    }
    const outcome = trustRegionSearch(prepared, fit.values, {
      name: "resample",
      scaling: "largest",
      radius: 1,
    });
    if (outcome.code === "not-finite" || outcome.code === "iterations" || outcome.code === "singular") {
      failed++;
      continue;
    }
    fit.free.forEach((index, j) => {
      draws[j].push(outcome.p[index]);
    });
  }
  const tail = (1 - level) / 2;
  return {
    intervals: fit.free.map((index, j) => {
      const sorted = Float64Array.from(draws[j]).sort();
      const count = sorted.length;
      const quantile = (q: number): number => {
        const at = q * (count - 1);
        const k = Math.floor(at);
        return k + 1 < count ? sorted[k] + (at - k) * (sorted[k + 1] - sorted[k]) : sorted[count - 1];
      };
      let average = 0;
      for (const v of sorted) average += v / count;
      let squares = 0;
      for (const v of sorted) squares += (v - average) ** 2;
      return {
        name: fit.parameters[index].name,
        value: fit.values[index],
        standardError: count > 1 ? Math.sqrt(squares / (count - 1)) : Number.NaN,
        low: count > 0 ? quantile(tail) : Number.NaN,
        high: count > 0 ? quantile(1 - tail) : Number.NaN,
      };
    }),
    blockLength,
    replicates,
    failed,
  };
}
