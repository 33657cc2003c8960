import type { LifeModel } from "./lifeModel.js";

/** Time by which a share of the units has failed, with the limits within which that time lies. */
export interface LifeBandPoint {
  /** Share failed, 0 to 1. */
  readonly failed: number;
  readonly time: number;
  readonly low: number;
  readonly high: number;
}

/**
 * The confidence band of a fitted life: the profile-likelihood interval of the time by which a share has failed
 * (`model.life`), at shares evenly spaced on Weibull paper. Each interval holds at its share by itself. Where an
 * interval has no end, the share is left out.
 *
 * @param from - smallest and `to` largest share, for instance those at which something failed
 * @param x - covariates at which it is asked, when the model has some
 * @throws RangeError for shares that are not between 0 and 1
 * @example
 * const model = fitLife("weibull", [{ after: 54, by: 54 }, { after: 187, by: 187 }, { after: 216, by: 216 }, { after: 500, by: Infinity }]);
 * if (!isUndetermined(model)) lifeBand(model, 0.1, 0.9)[0].failed; // 0.1
 */
export function lifeBand(
  model: LifeModel,
  from: number,
  to: number,
  x: readonly number[] = [],
  points = 13,
): readonly LifeBandPoint[] {
  if (!(from > 0 && from < to && to < 1))
    throw new RangeError(`a band runs between two shares within 0 and 1, not from ${from} to ${to}`);
  const height = (failed: number) => Math.log(-Math.log1p(-failed));
  const [a, b] = [height(from), height(to)];
  return Array.from({ length: points }, (_, i) => {
    const failed = -Math.expm1(-Math.exp(a + ((b - a) * i) / (points - 1)));
    const { value, low, high } = model.life(failed, x);
    return { failed, time: value, low, high };
  }).filter(({ low, high }) => low > 0 && Number.isFinite(high));
}
