import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { type Life, unitCount } from "./lifeData.js";
import { type TurnbullCurve, turnbull } from "./turnbull.js";

/** Survival at one time, with the limits within which it lies. */
export interface BandPoint {
  readonly time: number;
  readonly survival: number;
  readonly low: number;
  readonly high: number;
}

/** Options of `turnbullBand`. */
export interface TurnbullBandOptions {
  /** Level of each pointwise interval; 0.95 when absent. */
  readonly level?: number;
  /** Bootstrap samples; 400 when absent. */
  readonly samples?: number;
  readonly seed?: number;
}

/**
 * Pointwise band of Turnbull's survival curve by the bootstrap over units: units are drawn again with replacement, the
 * curve is estimated anew, and the quantiles of its survival are taken at the right ends of the stretches of the curve.
 * No closed formula is used, because the curve with interval-censored lives converges more slowly than the square root
 * of the number of units and is not normal (Groeneboom and Wellner, "Information Bounds and Nonparametric Maximum
 * Likelihood Estimation", 1992); the percentile band is approximate for the same reason. With exact and right-censored
 * lives alone use `kaplanMeier`.
 *
 * @param lives lives with any censoring
 * @returns one point for each stretch of the curve that ends at a finite time
 * @throws RangeError for impossible times, a level outside 0 to 1, or fewer than 20 samples
 * @example
 * turnbullBand([{ after: 0, by: 2 }, { after: 1, by: 3 }, { after: 2, by: 5 }])[1]; // => { time: 3, survival: 0, low: 0, high: 0.67 }
 */
export function turnbullBand(lives: readonly Life[], options: TurnbullBandOptions = {}): BandPoint[] {
  const { level = 0.95, samples = 400, seed = 1 } = options;
  if (!(level > 0 && level < 1)) throw new RangeError(`the level is between 0 and 1, not ${level}`);
  if (!(samples >= 20)) throw new RangeError(`a band needs at least 20 samples, not ${samples}`);
  const points = turnbull(lives).stretches.filter(({ to }) => Number.isFinite(to));
  const units = unitCount(lives);
  const ends: number[] = [];
  let end = 0;
  for (const { count = 1 } of lives) {
    end += count;
    ends.push(end);
  }
  const random = seededRandom(seed);
  const drawn = points.map(() => new Float64Array(samples));
  for (let k = 0; k < samples; k += 1) {
    const counts = new Array<number>(lives.length).fill(0);
    for (let u = 0; u < units; u += 1) counts[indexOf(ends, random.uniform() * end)] += 1;
    const again = lives.flatMap((life, i) => (counts[i] > 0 ? [{ ...life, count: counts[i] }] : []));
    const curve = turnbull(again);
    points.forEach(({ to }, i) => {
      drawn[i][k] = survivalAt(curve, to);
    });
  }
  const tail = (1 - level) / 2;
  return points.map(({ to, survival }, i) => {
    const sorted = drawn[i].sort();
    const at = (share: number): number => sorted[Math.min(samples - 1, Math.floor(share * samples))];
    return { time: to, survival, low: at(tail), high: at(1 - tail) };
  });
}

/** Share alive just after a time: failures in a stretch that ends later count as still to come. */
function survivalAt(curve: TurnbullCurve, time: number): number {
  let survival = 1;
  for (const { to, mass } of curve.stretches) if (to <= time) survival -= mass;
  return Math.max(0, survival);
}

/** The first index whose end lies beyond a value. */
function indexOf(ends: readonly number[], value: number): number {
  let low = 0;
  let high = ends.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ends[middle] > value) high = middle;
    else low = middle + 1;
  }
  return low;
}
