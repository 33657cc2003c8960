import { studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { deviationPerMedian, medianInPlace } from "../../numeric/series/median.js";
import { spreads, surpriseOf, tOfSurprise } from "./dayModel.js";
import { errorSource } from "./errorSource.js";
import { type LevelEffect, ownMean, pauleMandel } from "./levelModel.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** The farthest groups of a sample, held against sound fleets of the same layout. */
export interface GroupTails {
  /** For each group, the chance of any as far out among sound groups; 1 for all but the farthest. */
  readonly chances: readonly number[];
  /** Student's t of each group that was looked at, with its sign; 0 for those farther in. */
  readonly distances: readonly number[];
  /** How far, on the scale of the values, a typical group would have to lie to be called out at a chance `p`. */
  readonly reach: (p: number) => number;
}

/** Most groups that are called out one after the other, as a part of all. */
const mostFound = 0.1;
/** A group whose chance is above this ends the search for more. */
const goesOn = 0.05;
/** Errors drawn for each kind of tails, and most and fewest fleets. */
const drawn = { errors: 3e6, most: 8000, least: 300 };
/** Means of so many motors are normal for all purposes here: Student's t itself tells the chance. */
const normalFrom = 20;

/**
 * How far out the farthest of many groups may lie when groups differ by normal effects and motors have tails as heavy
 * as they look: each farthest group is held against the others by Student's t, with the spread between the others
 * estimated without it, and its t against that of fleets drawn for the same sizes of groups, with about the spread
 * between groups that was seen, for each kind of tails as far as the motors look like it (`tailedNulls`). The motors,
 * of which there are more than groups, tell the tails; a search by the distances of the groups alone has to allow for
 * more. Of groups of 20 motors and more, and of single motors, whose tails nothing tells, the t is taken as it stands.
 *
 * @param effects - what was found of each group
 * @param beyond - what each motor has beyond its group
 */
export function groupTails(effects: readonly LevelEffect[], beyond: Float64Array): GroupTails {
  const means = { found: effects.map((e) => e.found), variance: effects.map((e) => e.variance) };
  const size = effects.length;
  const all = effects.map((_, g) => g);
  const sound = soundGroups(effects, means, beyond);
  const chances = all.map(() => 1);
  const distances = all.map(() => 0);
  let kept = all;
  for (let before = 0; ; ) {
    const { group, t } = farthest(means, kept);
    distances[group] = t;
    before = Math.max(before, sound.chance(Math.abs(t)));
    chances[group] = before;
    if (before > goesOn || kept.length - 1 <= Math.max(least, (1 - mostFound) * size)) break;
    kept = kept.filter((g) => g !== group);
  }
  const rest = all.filter((g) => chances[g] > goesOn);
  const { error } = against(means, rest, medianOf(means.variance));
  return { chances, distances, reach: (p) => sound.quantile(p) * error };
}

/** Fewest groups that the others are held against. */
const least = 3;

/** Chance of the farthest of sound groups by its t, and the t of a chance. */
function soundGroups(effects: readonly LevelEffect[], means: Means, beyond: Float64Array): TailedNull {
  const size = effects.length;
  const counts = effects.map((e) => e.count);
  const typical = medianOf(counts);
  if (typical < 2 || typical >= normalFrom)
    return {
      chance: (t) => Math.min(1, 2 * size * studentT.upper(t, size - 2)),
      quantile: (p) => studentT.quantile(1 - p / 2 / size, size - 2),
    };
  const all = effects.map((_, g) => g);
  const ratio = betweenOf(means, all) / medianOf(means.variance);
  const near = spreads.reduce((a, b) => (Math.abs(b - ratio) < Math.abs(a - ratio) ? b : a));
  const draws = Math.round(drawn.errors / counts.reduce((a, b) => a + b, 0));
  const { nulls } = tailedNulls(
    `groups ${near} ${counts.slice().sort().join(" ")}`,
    (family) => drawnGroups(counts, near, family),
    tailOf(beyond),
    Math.max(drawn.least, Math.min(drawn.most, draws)),
    "each",
  );
  return {
    chance: (t) => nulls[0].chance(surprise(t, size)),
    quantile: (p) => tOfSurprise(nulls[0].quantile(p), size),
  };
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

/** What others let expect of a group whose mean has a variance of its own, and the error of that. */
function against(means: Means, others: readonly number[], own: number): { middle: number; error: number } {
  const between = betweenOf(means, others);
  const { middle, doubt } = middleOf(means, others, between);
  // Where the others differ by less than their errors let expect, so may the errors be too large.
  let squares = 0;
  for (const g of others) squares += (means.found[g] - middle) ** 2 / (between + means.variance[g]);
  const spread = squares / (others.length - 1);
  return { middle, error: Math.sqrt(spread * (between + own + doubt)) };
}

/** The group that lies farthest, and its t against the others. */
function farthest(means: Means, kept: readonly number[]): { group: number; t: number } {
  const { found, variance } = means;
  const whole = betweenOf(means, kept);
  const { middle } = middleOf(means, kept, whole);
  const far = (g: number) => Math.abs(found[g] - middle) / Math.sqrt(whole + variance[g]);
  const group = kept.reduce((a, b) => (far(b) > far(a) ? b : a));
  const rest = against(
    means,
    kept.filter((g) => g !== group),
    variance[group],
  );
  return { group, t: (found[group] - rest.middle) / rest.error };
}

/** Draws sound groups of given sizes; how much they differ is taken from about what was seen. */
function drawnGroups(counts: readonly number[], spread: number, family: number): () => DrawnFleet {
  const random = seededRandom(1 + family);
  const draw = errorSource(family, random);
  const place = spreads.indexOf(spread as (typeof spreads)[number]);
  const near = spreads.slice(Math.max(0, place - 1), place + 2);
  const typical = 1 / medianOf(counts);
  const all = counts.map((_, g) => g);
  const ones = new Array<number>(Math.max(...counts)).fill(1);
  const rows = counts.reduce((a, b) => a + b, 0);
  const found = new Float64Array(counts.length);
  const beyond = new Float64Array(rows);
  const own = counts.map((count) => new Float64Array(count));
  return () => {
    const apart = Math.sqrt(near[Math.floor(near.length * random.uniform())] * typical);
    const standard = new Float64Array(rows);
    let [at, of] = [0, 0];
    for (let g = 0; g < counts.length; g++) {
      const [list, count] = [own[g], counts[g]];
      draw(list);
      const mean = ownMean(list, ones);
      found[g] = mean + apart * random.normal();
      const wider = count > 1 ? 1 / Math.sqrt(1 - 1 / count) : 0;
      for (let i = 0; i < count; i++) {
        beyond[at++] = list[i] - mean;
        if (count > 1) standard[of++] = Math.abs(list[i] - mean) * wider;
      }
    }
    const within = (deviationPerMedian * medianInPlace(standard.subarray(0, of))) ** 2;
    const variance = counts.map((count) => within / count);
    const { t } = farthest({ found, variance }, all);
    return { statistics: [surprise(Math.abs(t), counts.length)], tail: tailOf(beyond) };
  };
}
