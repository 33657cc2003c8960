import type { SeededRandom } from "../../numeric/distributions/seededRandom.js";

/**
 * Tails from which sound fleets are drawn: Student's t with these degrees of freedom, at a deviation of one. `prior`: how far each is
 * believed before the data are seen; with few values the tails cannot be seen, and this is what counts.
 */
export const tailFamilies = [
  { degrees: Number.POSITIVE_INFINITY, prior: 0.4 },
  { degrees: 8, prior: 0.2 },
  { degrees: 5, prior: 0.25 },
  { degrees: 3.5, prior: 0.15 },
] as const;

/** A source of errors of deviation one with the tails of a family. */
export function errorSource(family: number, random: SeededRandom): () => number {
  const { degrees } = tailFamilies[family];
  if (degrees === Number.POSITIVE_INFINITY) return () => random.normal();
  const scale = Math.sqrt(degrees - 2);
  // Bailey, R. W. (1994), Mathematics of Computation 62, 779-781: the polar method for Student's t.
  return () => {
    for (;;) {
      const u = 2 * random.uniform() - 1;
      const v = 2 * random.uniform() - 1;
      const w = u * u + v * v;
      if (w >= 1 || w === 0) continue;
      return u * scale * Math.sqrt((w ** (-2 / degrees) - 1) / w);
    }
  };
}

/** How heavy the tails of errors are: their fourth moment over the square of their mean size, each held at five mean sizes. */
export function tailOf(errors: ArrayLike<number>): number {
  const n = errors.length;
  let size = 0;
  for (let i = 0; i < n; i++) size += Math.abs(errors[i]) / n;
  if (!(size > 0)) return 0;
  let sum = 0;
  for (let i = 0; i < n; i++) sum += Math.min(25, (errors[i] / size) ** 2) ** 2;
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

/** Fleets of each family that are drawn to know how well it fits the data. */
const pilot = 75;

/**
 * The distribution of statistics in sound fleets, drawn for several kinds of tails, each kind weighed by how well its fleets show the
 * same heaviness of tails as the data do. A far value hardly moves that heaviness (it is held), so it stays as odd as it is.
 *
 * @param draw - one fleet of a family
 * @param tail - the heaviness of the data (`tailOf`)
 * @param more - fleets drawn beyond those that tell the families' weights
 * @returns one distribution for each statistic, and the chance that any of them exceeds its own value
 */
export function tailedNulls(
  draw: (family: number) => DrawnFleet,
  tail: number,
  more: number,
): { readonly nulls: readonly TailedNull[]; readonly any: (values: readonly number[]) => number } {
  const drawn = tailFamilies.map((_, family) => Array.from({ length: pilot }, () => draw(family)));
  const weights = weightsOf(drawn, tail);
  drawn.forEach((list, family) => {
    const n = Math.round(more * weights[family]);
    for (let k = 0; k < n; k++) list.push(draw(family));
  });
  const mixed = (of: (list: readonly DrawnFleet[], family: number) => number) =>
    drawn.reduce((sum, list, family) => sum + weights[family] * of(list, family), 0);
  const nulls = drawn[0][0].statistics.map((_, s): TailedNull => {
    const tables = drawn.map((list) => upperTail(Float64Array.from(list, (one) => one.statistics[s])));
    const chance = (value: number) =>
      Math.min(
        1,
        mixed((_, family) => tables[family](value)),
      );
    return { chance, quantile: (p) => quantileOf(chance, p) };
  });
  return {
    nulls,
    any: (values) =>
      mixed(
        (list) =>
          list.filter((one) => one.statistics.some((value, s) => value > values[s])).length / list.length,
      ),
  };
}

/** How far each family is believed, given how heavy the tails of its fleets and of the data look. */
function weightsOf(drawn: readonly (readonly DrawnFleet[])[], tail: number): number[] {
  const logs = drawn.map((list, family) => {
    const n = list.length;
    const mean = list.reduce((sum, one) => sum + one.tail, 0) / n;
    const squares = list.reduce((sum, one) => sum + (one.tail - mean) ** 2, 0);
    const deviation = Math.sqrt(squares / (n - 1)) || 1e-9;
    return Math.log(tailFamilies[family].prior / deviation) - 0.5 * ((tail - mean) / deviation) ** 2;
  });
  const top = logs.reduce((m, l) => Math.max(m, l), Number.NEGATIVE_INFINITY);
  const parts = logs.map((l) => Math.exp(l - top));
  const total = parts.reduce((a, b) => a + b, 0);
  return parts.map((p) => p / total);
}

/** Where a falling chance comes to `p`. */
function quantileOf(chance: (value: number) => number, p: number): number {
  let [low, high] = [0, 1];
  while (chance(high) > p && high < 1e12) high *= 2;
  for (let k = 0; k < 60; k++) {
    const middle = (low + high) / 2;
    if (chance(middle) > p) low = middle;
    else high = middle;
  }
  return high;
}

/**
 * Chance of more than a value from draws; beyond their outermost tenth it falls half as an exponential does and half as a power of the
 * value does (geometric mean of the two chances): maxima of normal values have tails a little lighter than the first, statistics over
 * a deviation from few groups tails a little lighter than the second. The false-alarm table measures what comes of it.
 */
function upperTail(draws: Float64Array): (value: number) => number {
  const sorted = draws.sort();
  const n = sorted.length;
  const tenth = Math.floor(0.9 * n);
  const from = sorted[tenth];
  let [excess, ratio] = [0, 0];
  for (let i = tenth; i < n; i++) {
    excess += (sorted[i] - from) / (n - tenth);
    ratio += Math.log(sorted[i] / from) / (n - tenth);
  }
  return (value) => {
    if (value > from && excess > 0)
      return 0.1 * Math.exp(-0.5 * ((value - from) / excess + Math.log(value / from) / ratio));
    let [low, high] = [0, n];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (sorted[middle] < value) low = middle + 1;
      else high = middle;
    }
    return Math.max(0.1 / n, (n - low) / n);
  };
}
