import { createHash } from "node:crypto";
import { halving } from "../../numeric/optimise/halving.js";
import { orderStatisticInPlace } from "../../numeric/series/median.js";
import { medianOf } from "./sample.js";

/** Square, in mean sizes, at which an error is held. */
export const heldSquare = 25;

/** How heavy the tails of errors are: their fourth moment over the square of their mean size, each held at five mean
 * sizes. */
export function tailOf(errors: ArrayLike<number>): number {
  const n = errors.length;
  let sizes = 0;
  for (let i = 0; i < n; i++) sizes += Math.abs(errors[i]);
  if (!(sizes > 0)) return 0;
  const inverse = (n / sizes) ** 2;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    const square = Math.min(heldSquare, errors[i] * errors[i] * inverse);
    sum += square * square;
  }
  return sum / n;
}

/** What a statistic does in sound fleets whose tails are not known but seen. */
export interface TailedNull {
  /** Chance of as much or more. */
  readonly chance: (value: number) => number;
  /** The value that is exceeded with a chance. */
  readonly quantile: (chance: number) => number;
}

/** One drawn fleet: its statistics and how heavy its tails look. */
export interface DrawnFleet {
  readonly statistics: readonly number[];
  readonly tail: number;
}

/** What sound fleets of one layout do. */
interface Drawn {
  readonly statistics: readonly Matched[];
  /** The lightest tails that count, and the heaviest in the drawn fleets. */
  readonly lightest: number;
  readonly heaviest: number;
  /** How heavy the tails of the fleets of each family look. */
  readonly looks: readonly Look[];
  /** How much likelier any of the statistics exceeds its quantile than one of them does, at a chance that the draws can
   * tell. */
  readonly overlap: number;
}

interface Look {
  readonly mean: number;
  readonly deviation: number;
}

/** A statistic whose logarithm, less `slope` times the heaviness of the tails, has about the same upper quantile for
 * all tails. Farther out each family falls in its own way. */
interface Matched {
  readonly slope: number;
  readonly chances: readonly ((adjusted: number) => number)[];
}

/** How a chance falls far out: by the same factor with each unit, with each doubling, or by the geometric mean. */
type Fall = "exponential" | "power" | "between";
/** What falls: a statistic over a deviation that is estimated, or the farthest of values. */
type Falls = "each" | "farthest";
/** The fall in each family. */
const fallsIn: Readonly<Record<Falls, readonly Fall[]>> = {
  each: ["between", "between", "between"],
  farthest: ["exponential", "between", "power", "power", "power"],
};
/** The upper part of the statistics at which the slope is found: far out, where decisions fall. That of the farthest
 * values is told by their fitted fall, others by the draws themselves. */
const matchedPart = { each: 0.005, farthest: 0.0025 };
/** The upper part beyond which the fall is fitted. */
const fittedPart = 0.02;
/** The families that are drawn: the ends between which the chance of a false alarm is held, and one between them.
 * Single values whose levels differ look lighter than the farthest of them are: for these also a heavier one. */
const familiesOf = (falls: Falls) => (falls === "farthest" ? [0, 1, 2, 3, 4] : [0, 1, 2]);
/** The last family up to which the limits of light and heavy tails are matched; a heavier one has its own chances
 * only. */
const matchedFamily = { each: 2, farthest: 3 };
/** Chance at which the overlap of several statistics is measured, and how many draws it must leave: the farther out,
 * the less they overlap. */
const told = { chance: 0.01, draws: 60 };

const remembered = new Map<string, Drawn>();

/**
 * The distribution of statistics in sound fleets, drawn with tails from normal to those of Student's t with 5 degrees
 * of freedom. How heavy the tails of the data look moves a statistic's limits: the statistic is held against the drawn
 * ones after its logarithm has lost a multiple of that heaviness, chosen so that its upper quantiles agree at both ends
 * of the families, and against those of each family as far as the data look like it, since light tails fall faster. So
 * the chance of a false alarm is about the same for light and for heavy tails. A far value hardly moves the heaviness
 * (it is held), so it stays as odd as it is.
 *
 * @param key - all that the drawn fleets depend on; what was drawn for it is kept and used again
 * @param source - for each family, what draws one fleet
 * @param tail - the heaviness of the data (`tailOf`)
 * @param draws - fleets drawn of each family
 * @param falls - how the chances of the statistics fall far out
 * @returns one distribution for each statistic, and how much likelier any of them is out than one
 */
export function tailedNulls(
  key: string,
  source: (family: number) => () => DrawnFleet,
  tail: number,
  draws: number,
  falls: Falls,
): { readonly nulls: readonly TailedNull[]; readonly overlap: number } {
  const place = createHash("sha256").update(key).digest("hex");
  let drawn = remembered.get(place);
  if (drawn === undefined) {
    drawn = drawFleets(source, draws, falls);
    if (remembered.size >= 60) remembered.delete(remembered.keys().next().value as string);
    remembered.set(place, drawn);
  }
  const seen = Math.max(drawn.lightest, Math.min(drawn.heaviest, tail));
  const believed = beliefs(drawn.looks, seen);
  const nulls = drawn.statistics.map(({ slope, chances }): TailedNull => {
    const factor = Math.exp(-slope * seen);
    const own = (value: number) =>
      chances.reduce((sum, chance, f) => sum + believed[f] * chance(value * factor), 0);
    return { chance: own, quantile: (p) => quantileOf(own, p) };
  });
  return { nulls, overlap: drawn.overlap };
}

function drawFleets(source: (family: number) => () => DrawnFleet, draws: number, falls: Falls): Drawn {
  const seen = familiesOf(falls).map((family) => {
    const draw = source(family);
    return Array.from({ length: draws }, draw);
  });
  const looks = seen.map(lookOf);
  // Values lighter than normal ones (two clusters) are held against normal ones: no limit is moved further in. So it is
  // with drawn ones, or limits for normal tails would be those of samples that happen to look light.
  const lightest = looks[0].mean - 2 * looks[0].deviation;
  const fleets = seen.map((list) =>
    list.map(({ statistics, tail }) => ({ statistics, tail: Math.max(lightest, tail) })),
  );
  const all = fleets.flat();
  const adjusted = all[0].statistics.map((_, s) => {
    // As they look: held, light samples would make the slope steeper, and what is found less.
    const slope = matchingSlope(seen[0], seen[matchedFamily[falls]], s, falls);
    return {
      slope,
      values: Float64Array.from(all, (one) => one.statistics[s] * Math.exp(-slope * one.tail)),
    };
  });
  const ofFamily = (values: Float64Array, f: number) => values.slice(f * draws, (f + 1) * draws);
  const part = Math.max(told.chance, told.draws / all.length);
  const edges = adjusted.map(({ values }) => values.slice().sort()[Math.floor((1 - part) * values.length)]);
  const any = all.filter((_, k) => adjusted.some(({ values }, s) => values[k] > edges[s])).length;
  return {
    statistics: adjusted.map(({ slope, values }) => ({
      slope,
      chances: fallsIn[falls].map((fall, f) => upperTail(ofFamily(values, f), fall)),
    })),
    lightest,
    heaviest: all.reduce((most, one) => Math.max(most, one.tail), Number.NEGATIVE_INFINITY),
    looks,
    overlap: Math.max(1, any / all.length / part),
  };
}

/** The middle half of a family's heaviness, as a normal distribution: a few fleets with far values count little. */
function lookOf(fleets: readonly DrawnFleet[]): Look {
  const sorted = Float64Array.from(fleets, (one) => one.tail).sort();
  const at = (part: number) => sorted[Math.floor(part * (sorted.length - 1))];
  return { mean: at(0.5), deviation: Math.max(1e-12, (at(0.75) - at(0.25)) / 1.349) };
}

/** How far each family is believed, all alike before the heaviness was seen. */
function beliefs(looks: readonly Look[], seen: number): number[] {
  const logs = looks.map(
    ({ mean, deviation }) => -Math.log(deviation) - 0.5 * ((seen - mean) / deviation) ** 2,
  );
  const top = Math.max(...logs);
  const parts = logs.map((l) => Math.exp(l - top));
  const total = parts.reduce((a, b) => a + b, 0);
  return parts.map((part) => part / total);
}

/** The slope at which the upper quantiles of a statistic agree for light and heavy tails; half of the search's end
 * where none does. */
function matchingSlope(
  light: readonly DrawnFleet[],
  heavy: readonly DrawnFleet[],
  s: number,
  falls: Falls,
): number {
  const quantileIn = (list: readonly DrawnFleet[], family: number) => {
    const logs = Float64Array.from(list, (one) => Math.log(one.statistics[s]));
    const moved = new Float64Array(list.length);
    return (slope: number) => {
      for (let k = 0; k < logs.length; k++) moved[k] = logs[k] - slope * list[k].tail;
      // Of few draws the outermost say little.
      if (falls === "each")
        return orderStatisticInPlace(
          moved,
          Math.floor((1 - Math.max(matchedPart.each, 10 / logs.length)) * logs.length),
        );
      return Math.log(quantileOf(upperTail(moved.map(Math.exp), fallsIn[falls][family]), matchedPart[falls]));
    };
  };
  const [near, far] = [quantileIn(light, 0), quantileIn(heavy, matchedFamily[falls])];
  const apart = (slope: number) => far(slope) - near(slope);
  const middle = (list: readonly DrawnFleet[]) => medianOf(list.map((one) => one.tail));
  const start = apart(0);
  const distance = middle(heavy) - middle(light);
  if (!(start > 0) || !(distance > 0)) return 0;
  let [low, high] = [0, (2 * start) / distance];
  if (apart(high) > 0) return high / 2;
  [low, high] = halving(low, high, (slope) => apart(slope) > 0, falls === "each" ? 30 : 15);
  return (low + high) / 2;
}

/** Where a falling chance comes to `p`. */
function quantileOf(chance: (value: number) => number, p: number): number {
  let [low, high] = [0, 1];
  while (chance(high) > p && high < 1e12) high *= 2;
  [low, high] = halving(low, high, (value) => chance(value) > p);
  return high;
}

/**
 * Chance of more than a value from draws; beyond their outermost part it falls as `fall` says: maxima of normal values
 * have tails a little lighter than the exponential, statistics over a deviation from few groups tails a little lighter
 * than a power. The false-alarm table measures what comes of it.
 */
function upperTail(draws: Float64Array, fall: Fall): (value: number) => number {
  const sorted = draws.sort();
  const n = sorted.length;
  const outer = Math.max(fittedPart, Math.min(0.1, 60 / n));
  const start = Math.floor((1 - outer) * n);
  const from = sorted[start];
  let [excess, ratio] = [0, 0];
  for (let i = start; i < n; i++) {
    excess += (sorted[i] - from) / (n - start);
    ratio += Math.log(sorted[i] / from) / (n - start);
  }
  return (value) => {
    if (value > from && excess > 0) {
      const [units, doublings] = [(value - from) / excess, Math.log(value / from) / ratio];
      if (fall === "between") return outer * Math.exp(-0.5 * (units + doublings));
      return outer * Math.exp(-(fall === "power" ? doublings : units));
    }
    let [low, high] = [0, n];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (sorted[middle] < value) low = middle + 1;
      else high = middle;
    }
    return Math.max(0.1 / n, (n - low) / n);
  };
}
