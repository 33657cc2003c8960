import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { errorSource } from "./errorSource.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** Sizes of samples for which the farthest value is held against drawn samples. */
const matchedSizes = { least: 40, most: 700 };
/** Values of one level that a drawn sample is centred by. */
const levels = [2, 3, 4, 5, 7, 10, 15, 25] as const;

/**
 * How far out the farthest of sound values may lie: the farthest, over the middle size of all, against samples of this
 * size drawn with tails from normal to those of Student's t with 5 degrees of freedom, the limit moved by how heavy
 * the tails of the others look (`tailedNulls`). The farthest itself has no part in that: a single far value in a small
 * sample would widen its own limit.
 *
 * @param values - about zero; between 40 and 700 of them
 * @param leverage - mean part that a value has in what was taken off it: the drawn samples lose as much
 * @returns as `tailedChances`
 */
export function matchedTails(
  values: Float64Array,
  leverage: number,
): { readonly chance: (value: number) => number; readonly cut: (p: number) => number } | undefined {
  if (values.length < matchedSizes.least || values.length > matchedSizes.most) return undefined;
  const seen = lookAt(values);
  if (!(seen.scale > 0)) return undefined;
  const level = levels.find((size) => 1 / size <= leverage * 1.2) ?? Number.POSITIVE_INFINITY;
  // Sizes that differ by less than a twentieth share what was drawn.
  const n = Math.round(1.05 ** Math.round(Math.log(values.length) / Math.log(1.05)));
  const source = (family: number) => {
    const draw = errorSource(family, seededRandom(1 + family));
    return (): DrawnFleet => {
      const { farthest, tail } = lookAt(centred(Float64Array.from({ length: n }, draw), level));
      return { statistics: [farthest], tail };
    };
  };
  const draws = Math.max(1500, Math.min(8000, Math.round(8e5 / n)));
  const [own]: readonly TailedNull[] = tailedNulls(
    `far ${n} ${level}`,
    source,
    seen.tail,
    draws,
    "power",
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

/** Each value less the mean of its level. */
function centred(values: Float64Array, level: number): Float64Array {
  if (level === Number.POSITIVE_INFINITY) return values;
  for (let from = 0; from < values.length; from += level) {
    const to = Math.min(values.length, from + level);
    if (to - from < 2) break;
    let mean = 0;
    for (let i = from; i < to; i++) mean += values[i] / (to - from);
    const wider = 1 / Math.sqrt(1 - 1 / (to - from));
    for (let i = from; i < to; i++) values[i] = (values[i] - mean) * wider;
  }
  return values;
}
