import type { Estimate } from "../../units/estimate.js";
import type { SmoothedStep } from "./smoothedStep.js";

/** What every measure of one response shares: its coverage, how many samples it rests on, and when the step came. */
export interface StepReport {
  readonly level: number;
  /** Quantile of the normal distribution that belongs to `level`. */
  readonly quantile: number;
  readonly samples: number;
  readonly stepTime: number;
  /** UCUM code of the values. */
  readonly unit: string;
  /** What could not be measured, and why; filled while measuring. */
  readonly missing: Record<string, string>;
}

/** A value with its standard error, and a bound its interval cannot pass. */
interface Measured {
  readonly value: number;
  readonly error: number;
  readonly unit: string;
  readonly method: string;
  readonly least?: number;
}

/** A measured value with the interval of its standard error. */
export function estimateOf(report: StepReport, measured: Measured): Estimate {
  const { value, error, unit, method, least = Number.NEGATIVE_INFINITY } = measured;
  const { quantile, level, samples } = report;
  return {
    value,
    low: Math.max(least, value - quantile * error),
    high: value + quantile * error,
    unit,
    method,
    level,
    samples,
  };
}

/** How the smoothed response was read, in words. */
export function howRead({ half }: SmoothedStep): string {
  return half > 0 ? `local cubic over ${2 * half + 1} samples` : "linear interpolation between samples";
}
