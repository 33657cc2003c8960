import { type SeededRandom, seededRandom } from "../../numeric/distributions/seededRandom.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { errorSource } from "./errorSource.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** Sizes of samples for which the farthest value is held against drawn samples. */
const matchedSizes = { least: 40, most: 700 };
/** Sizes of levels, and deviations between levels over those between values, of drawn samples. */
const sizes = [2, 3, 4, 5, 7, 10, 15, 25] as const;
const aparts = [0, 0.25, 0.5, 1, 2, 5] as const;
/** Deviations beyond which a value pulls its level no more, as in `levelModel`. */
const pull = 2.5;

/** What was taken off values: effects of levels of so many values, so far apart in deviations between values. */
export interface Layered {
  readonly size: number;
  readonly apart: number;
}

/**
 * How far out the farthest of sound values may lie: the farthest, over the middle size of all, against samples of this
 * size drawn with tails from normal to those of Student's t with 5 degrees of freedom, the limit moved by how heavy
 * the tails of the others look (`tailedNulls`). The farthest itself has no part in that: a single far value in a small
 * sample would widen its own limit.
 *
 * @param values - about zero; between 40 and 700 of them
 * @param layered - what was taken off the values: the same is laid on the drawn samples and taken off them. What is
 * left of effects that are normal makes the tails look lighter than the farthest value is
 * @returns as `tailedChances`
 */
export function matchedTails(
  values: Float64Array,
  layered?: Layered,
): { readonly chance: (value: number) => number; readonly cut: (p: number) => number } | undefined {
  if (values.length < matchedSizes.least || values.length > matchedSizes.most) return undefined;
  const seen = lookAt(values);
  if (!(seen.scale > 0)) return undefined;
  const size = sizes.findLast((one) => one <= (layered?.size ?? 1)) ?? 1;
  const place =
    layered === undefined || layered.size > 2 * sizes[sizes.length - 1] ? -1 : nearest(layered.apart);
  const near = size === 1 || place < 0 ? [0] : aparts.slice(Math.max(0, place - 1), place + 2);
  // Sizes that differ by less than a twentieth share what was drawn.
  const n = Math.round(1.05 ** Math.round(Math.log(values.length) / Math.log(1.05)));
  const source = (family: number) => {
    const random = seededRandom(1 + family);
    const draw = errorSource(family, random);
    return (): DrawnFleet => {
      const values = new Float64Array(n);
      draw(values);
      const apart = near.length === 1 ? near[0] : near[Math.floor(near.length * random.uniform())];
      if (near.length > 1) layAndTake(values, { size, apart }, random);
      const { farthest, tail } = lookAt(values);
      return { statistics: [farthest], tail };
    };
  };
  const draws = Math.max(1500, Math.min(8000, Math.round(8e5 / n)));
  const [own]: readonly TailedNull[] = tailedNulls(
    `far ${n} ${near.length > 1 ? size : 1} ${near}`,
    source,
    seen.tail,
    draws,
    "farthest",
  ).nulls;
  return {
    chance: (value) => own.chance(Math.abs(value) / seen.scale),
    cut: (p) => own.quantile(p) * seen.scale,
  };
}

/** The middle size of values, the farthest over it, and how heavy the tails of the others look. */
function lookAt(values: Float64Array): { scale: number; farthest: number; tail: number } {
  const sizes = values.map(Math.abs);
  const scale = deviationPerMedian * medianOf(sizes);
  let far = 0;
  for (let i = 1; i < sizes.length; i++) if (sizes[i] > sizes[far]) far = i;
  const farthest = sizes[far] / scale;
  // Held at nothing, it drops out of the sums; what it leaves out of their number is too little to count.
  sizes[far] = 0;
  return { scale, farthest, tail: Math.log(Math.max(1e-9, tailOf(sizes))) };
}

const nearest = (apart: number) =>
  aparts.reduce<number>(
    (best, one, k) => (Math.abs(one - apart) < Math.abs(aparts[best] - apart) ? k : best),
    0,
  );

/** Lays effects on levels of values and takes them off again as far as they can be told, as `levelModel` does. */
function layAndTake(values: Float64Array, { size, apart }: Layered, random: SeededRandom) {
  const shrunk = apart ** 2 / (apart ** 2 + 1 / size);
  const lever = shrunk / size;
  for (let from = 0; from + size <= values.length; from += size) {
    const laid = apart * random.normal();
    let mean = 0;
    for (let i = from; i < from + size; i++)
      mean += (laid + Math.max(-pull, Math.min(pull, values[i]))) / size;
    for (let i = from; i < from + size; i++) {
      const own = values[i] + laid - shrunk * mean;
      const held = Math.max(-pull, Math.min(pull, own));
      values[i] = (own + (held * lever) / (1 - lever)) * Math.sqrt(1 - lever);
    }
  }
}
