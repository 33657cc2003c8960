import { pauleMandel } from "./levelModel.js";

/** Fewest runs of a day of which an effect can be told. */
export const leastOnDay = 3;

/** What the runs of each day have in common beyond their motors' lines. */
export interface DayEffects {
  /** Variance between days. */
  readonly variance: number;
  /** Each day's effect, drawn towards nothing as far as it is not sure. */
  readonly effect: Float64Array;
  /** Degrees of freedom that the effects take from the errors. */
  readonly used: number;
}

/**
 * Effects of days, by Paule and Mandel (1982) as in `levelModel`.
 *
 * @param means - mean of what the lines leave over of each day's runs
 * @param counts - runs of each day
 * @param one - variance of one run
 * @param degrees - degrees of freedom of the means: the lines have taken their part of them
 */
export function dayEffects(
  means: Float64Array,
  counts: Float64Array,
  one: number,
  degrees: number,
): DayEffects {
  const wider = Math.sqrt(means.length / degrees);
  const variance = pauleMandel(
    means.map((mean) => wider * mean),
    counts.map((count) => count / one),
  );
  let kept = 0;
  const effect = means.map((mean, d) => {
    const part = variance === 0 ? 0 : variance / (variance + one / counts[d]);
    kept += part;
    return mean * part;
  });
  return { variance, effect, used: (kept * degrees) / means.length };
}
