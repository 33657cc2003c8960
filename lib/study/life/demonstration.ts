import { beta, chiSquare } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import { checkLives, type Life, unitCount } from "./lifeData.js";

/**
 * Units that must run through a test without failure (or with `allowed` failures) to demonstrate a reliability. With a
 * Weibull shape known from before, a test of `ratio` times the mission counts as that many missions to the power of the
 * shape.
 *
 * Binomial (success-run) relation: for no failure, R^n = 1 - C, n = ln(1 - C) / (ratio^shape * ln R).
 *
 * @throws RangeError for shares outside 0 to 1
 * @example
 * unitsToDemonstrate({ reliability: 0.9, confidence: 0.9 }); // => 22
 */
export function unitsToDemonstrate(wish: {
  readonly reliability: number;
  readonly confidence: number;
  readonly allowed?: number;
  readonly ratio?: number;
  readonly shape?: number;
}): number {
  const { reliability, confidence, allowed = 0, ratio = 1, shape = 1 } = wish;
  for (const [name, v] of [
    ["reliability", reliability],
    ["confidence", confidence],
  ] as const)
    if (!(v > 0 && v < 1)) throw new RangeError(`${name} must lie between 0 and 1, got ${v}`);
  const inTest = reliability ** (ratio ** shape);
  // Smallest n with P(at most `allowed` failures | R) <= 1 - C; that probability is a beta tail.
  const passes = (n: number) => beta.cdf(inTest, n - allowed, allowed + 1) <= (1 - confidence) * (1 + 1e-12);
  let high = allowed + 1;
  while (!passes(high)) high *= 2;
  let low = allowed;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (middle > allowed && passes(middle)) high = middle;
    else low = middle;
  }
  return high;
}

/**
 * Reliability that `units` run for the mission with `failures` failures demonstrate: one-sided lower limit of Clopper
 * and Pearson (Biometrika 26 (1934), 404-413). For no failure this is (1 - C)^(1/n).
 *
 * @example
 * demonstratedReliability({ units: 22, failures: 0, confidence: 0.9 }).low; // => 0.9006
 */
export function demonstratedReliability(test: {
  readonly units: number;
  readonly failures: number;
  readonly confidence: number;
}): Estimate {
  const { units, failures, confidence } = test;
  if (!(units > 0 && failures >= 0 && failures <= units))
    throw new RangeError(`${failures} failures among ${units} units are not possible`);
  return {
    value: 1 - failures / units,
    low: failures === units ? 0 : beta.quantile(1 - confidence, units - failures, failures + 1),
    high: 1,
    unit: "1",
    level: confidence,
    samples: units,
    method: "one-sided lower limit from the binomial distribution",
  };
}

/**
 * Lower limit of the life by which a share fails, when the Weibull shape is known from before and the failures are few
 * or none. With r failures, 2*sum(t^shape)/scale^shape follows a chi-square with 2r + 2 degrees of freedom as the
 * conservative limit.
 *
 * @param lives - exact and right-censored lives
 * @throws RangeError for interval-censored lives
 * @example
 * const running = [{ after: 1000, by: Infinity, count: 20 }];
 * lifeWithKnownShape(running, { shape: 2, share: 0.1, confidence: 0.9, unit: "h" }).low; // => 956.6
 */
export function lifeWithKnownShape(
  lives: readonly Life[],
  wish: {
    readonly shape: number;
    readonly share: number;
    readonly confidence: number;
    readonly unit?: string;
  },
): Estimate {
  const { shape, share, confidence, unit = "h" } = wish;
  checkLives(lives);
  let total = 0;
  let failures = 0;
  for (const { after, by, count = 1, from = 0 } of lives) {
    if (by !== Infinity && by !== after) throw new RangeError("interval-censored lives cannot enter here");
    total += count * (after ** shape - from ** shape);
    if (by !== Infinity) failures += count;
  }
  const factor = (-Math.log1p(-share)) ** (1 / shape);
  const scaleLow = ((2 * total) / chiSquare.quantile(confidence, 2 * failures + 2)) ** (1 / shape);
  const scale = failures > 0 ? (total / failures) ** (1 / shape) : Infinity;
  return {
    value: scale * factor,
    low: scaleLow * factor,
    high: Infinity,
    unit,
    level: confidence,
    samples: unitCount(lives),
    method: `time of ${share * 100} % failed, one-sided lower limit, Weibull shape ${shape} taken as known, ${failures} failures`,
  };
}
