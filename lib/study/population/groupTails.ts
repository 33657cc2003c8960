import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { spreads, surpriseOf, tOfSurprise } from "./dayModel.js";
import { type LevelEffect, ownMean, pauleMandel } from "./levelModel.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, errorSource, tailedNulls, tailOf } from "./tailedNull.js";

/** The farthest groups of a sample, held against drawn fleets of the same layout. */
export interface GroupTails {
  /** For each group, the chance of any as far out among sound groups; 1 for all but the farthest. */
  readonly chances: readonly number[];
  /** Student's t beyond which the farthest would be called out at a chance `p`. */
  readonly cut: (p: number) => number;
}

/** Most groups that are called out one after the other, as a part of all. */
const mostFound = 0.1;
/** A group whose chance is above this ends the search for more. */
const goesOn = 0.05;
/** Errors drawn for each kind of tails, and most and fewest fleets. */
const drawn = { errors: 3e6, most: 3000, least: 300 };

/**
 * How far out the farthest of many groups may lie when groups differ by normal effects and motors have tails as heavy
 * as they look: each farthest group is held against the others by Student's t, with the spread between the others
 * estimated without it, and its t against that of fleets drawn for the same sizes of groups, with about the spread
 * between groups that was seen and the limit moved by the tails of the motors (`tailedNulls`). The motors, of which
 * there are more than groups, tell the tails; a search by the distances of the groups alone has to allow for more.
 *
 * @param effects - what was found of each group
 * @param beyond - what each motor has beyond its group
 * @returns undefined where half of the groups have a single motor: nothing tells how motors scatter
 */
export function groupTails(effects: readonly LevelEffect[], beyond: Float64Array): GroupTails | undefined {
  const counts = effects.map((e) => e.count);
  if (medianOf(counts) < 2) return undefined;
  const means = { found: effects.map((e) => e.found), variance: effects.map((e) => e.variance) };
  const size = effects.length;
  const all = effects.map((_, g) => g);
  const ratio = betweenOf(means, all) / medianOf(means.variance);
  const near = spreads.reduce((a, b) => (Math.abs(b - ratio) < Math.abs(a - ratio) ? b : a));
  const draws = Math.round(drawn.errors / counts.reduce((a, b) => a + b, 0));
  const { nulls } = tailedNulls(
    `groups ${near} ${counts.slice().sort().join(" ")}`,
    (family) => drawnGroups(counts, near, family),
    tailOf(beyond),
    Math.max(drawn.least, Math.min(drawn.most, draws)),
    "exponential",
  );
  const chances = all.map(() => 1);
  for (let kept = all; kept.length > (1 - mostFound) * size; ) {
    const { group, t } = farthest(means, kept);
    chances[group] = nulls[0].chance(surprise(t, size));
    if (chances[group] > goesOn) break;
    kept = kept.filter((g) => g !== group);
  }
  return { chances, cut: (p) => tOfSurprise(nulls[0].quantile(p), size) };
}

const surprise = (t: number, groups: number) => Math.max(1e-6, Math.min(700, surpriseOf(t, groups)));

interface Means {
  readonly found: ArrayLike<number>;
  readonly variance: ArrayLike<number>;
}

const betweenOf = ({ found, variance }: Means, kept: readonly number[]) =>
  pauleMandel(
    kept.map((g) => found[g]),
    kept.map((g) => 1 / variance[g]),
  );

/** Mean of groups and the variance of that, for a spread between them. */
function middleOf({ found, variance }: Means, kept: readonly number[], between: number) {
  let [total, sum] = [0, 0];
  for (const g of kept) {
    const w = 1 / (between + variance[g]);
    total += w;
    sum += w * found[g];
  }
  return { middle: sum / total, doubt: 1 / total };
}

/** The group that lies farthest, and its t against the others. */
function farthest(means: Means, kept: readonly number[]): { group: number; t: number } {
  const { found, variance } = means;
  const whole = betweenOf(means, kept);
  const { middle } = middleOf(means, kept, whole);
  const far = (g: number) => Math.abs(found[g] - middle) / Math.sqrt(whole + variance[g]);
  const group = kept.reduce((a, b) => (far(b) > far(a) ? b : a));
  const others = kept.filter((g) => g !== group);
  const between = betweenOf(means, others);
  const rest = middleOf(means, others, between);
  return {
    group,
    t: Math.abs(found[group] - rest.middle) / Math.sqrt(between + variance[group] + rest.doubt),
  };
}

/** Draws sound groups of given sizes; how much they differ is taken from about what was seen. */
function drawnGroups(counts: readonly number[], spread: number, family: number): () => DrawnFleet {
  const random = seededRandom(1 + family);
  const error = errorSource(family, random);
  const place = spreads.indexOf(spread as (typeof spreads)[number]);
  const near = spreads.slice(Math.max(0, place - 1), place + 2);
  const typical = 1 / medianOf(counts);
  const all = counts.map((_, g) => g);
  const ones = new Array<number>(Math.max(...counts)).fill(1);
  const rows = counts.reduce((a, b) => a + b, 0);
  return () => {
    const apart = Math.sqrt(near[Math.floor(near.length * random.uniform())] * typical);
    const found = new Float64Array(counts.length);
    const beyond = new Float64Array(rows);
    const standard: number[] = [];
    let at = 0;
    counts.forEach((count, g) => {
      const own = Array.from({ length: count }, error);
      const mean = ownMean(own, ones);
      found[g] = mean + apart * random.normal();
      const wider = count > 1 ? 1 / Math.sqrt(1 - 1 / count) : 0;
      for (const value of own) {
        beyond[at++] = value - mean;
        if (count > 1) standard.push(Math.abs(value - mean) * wider);
      }
    });
    const within = (deviationPerMedian * medianOf(standard)) ** 2;
    const variance = counts.map((count) => within / count);
    const { t } = farthest({ found, variance }, all);
    return { statistics: [surprise(t, counts.length)], tail: tailOf(beyond) };
  };
}
