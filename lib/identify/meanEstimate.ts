import { integratedAutocorrelation } from "../numeric/series/autocorrelation.js";
import { deviationPerMedian, upperMedian } from "../numeric/series/median.js";

/** Mean of a correlated series with what is needed for an interval. */
export interface MeanEstimate {
  readonly mean: number;
  /** Standard error of the mean, correlation allowed for. */
  readonly standardError: number;
  /** Degrees of freedom of the standard error: effective samples less one. */
  readonly degreesOfFreedom: number;
  /** Samples used (finite ones). */
  readonly samples: number;
}

/**
 * Mean of correlated samples by the means of non-overlapping batches (Law, Simulation Modeling and Analysis, batch
 * means). A batch is made at least eight integrated autocorrelation times long where the series allows, so that batch
 * means are close to independent; there are at most 24 and at least 6 of them. Samples further than five robust
 * standard deviations from the median are set aside.
 *
 * @param resolution one step of a quantised series; its uniform error is the least the standard error may be for one
 * batch
 */
export function meanEstimate(values: ArrayLike<number>, resolution = 0): MeanEstimate {
  const finite: number[] = [];
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i])) finite.push(values[i]);
  if (finite.length === 0)
    return { mean: Number.NaN, standardError: Number.NaN, degreesOfFreedom: 0, samples: 0 };
  const median = upperMedian(finite);
  const deviation = upperMedian(finite.map((x) => Math.abs(x - median)));
  const spread = Math.max(deviationPerMedian * deviation, resolution);
  const kept = spread > 0 ? finite.filter((x) => Math.abs(x - median) <= 5 * spread) : finite;
  const n = kept.length;
  const mean = kept.reduce((sum, x) => sum + x, 0) / n;
  if (n < 6) {
    const variance = kept.reduce((sum, x) => sum + (x - mean) ** 2, 0) / Math.max(1, n - 1);
    return {
      mean,
      standardError: Math.sqrt(variance / n + resolution ** 2 / 12 / n),
      degreesOfFreedom: Math.max(1, n - 1),
      samples: n,
    };
  }
  const time = integratedAutocorrelation(kept);
  const batches = Math.max(6, Math.min(24, Math.floor(n / (8 * time))));
  const means: number[] = [];
  for (let b = 0; b < batches; b++) {
    const from = Math.floor((b * n) / batches);
    const to = Math.floor(((b + 1) * n) / batches);
    let sum = 0;
    for (let i = from; i < to; i++) sum += kept[i];
    means.push(sum / (to - from));
  }
  let variance = 0;
  for (const m of means) variance += (m - mean) ** 2;
  variance /= batches - 1;
  const floor = resolution ** 2 / 12 / n;
  return {
    mean,
    standardError: Math.sqrt(Math.max((variance / batches) * shortBatches(n, batches, time), floor)),
    degreesOfFreedom: batches - 1,
    samples: n,
  };
}

/**
 * What batches too short for their correlation leave out of the variance of the mean: its true value over what batch
 * means give on average, for a correlation that falls exponentially with the integrated time found. 1 for long batches.
 */
function shortBatches(n: number, batches: number, time: number): number {
  const tau = (time - 1) / 2;
  if (!(tau > 0)) return 1;
  // Variance of a mean over m samples, in units of 2*tau*variance (closed form of the exponential correlation).
  const of = (m: number): number => (1 - (tau / m) * (1 - Math.exp(-m / tau))) / m;
  const seen = (of(n / batches) - of(n)) / (batches - 1);
  return Math.min(4, Math.max(1, of(n) / seen));
}
