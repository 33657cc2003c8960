import { normal, studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { halving } from "../../numeric/optimise/halving.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { errorSource, tailFamilies } from "./errorSource.js";
import { medianOf } from "./sample.js";
import { tailOf } from "./tailedNull.js";

/** Fewest values whose tails can be told well enough. */
const leastForTails = 60;
const samples = 200;

/** What samples of one size look like in each family: their scale by the median, and how heavy their tails look. */
interface Looks {
  readonly size: Float64Array;
  readonly mean: number;
  readonly deviation: number;
}
const known = new Map<number, readonly Looks[]>();

function looksOf(n: number): readonly Looks[] {
  const found = known.get(n);
  if (found !== undefined) return found;
  const random = seededRandom(1);
  const looks = tailFamilies.map((_, family): Looks => {
    const draw = errorSource(family, random);
    const size = new Float64Array(samples);
    const tail = new Float64Array(samples);
    const e = new Float64Array(n);
    for (let k = 0; k < samples; k++) {
      draw(e);
      size[k] = scaleOf(e);
      tail[k] = tailOf(e);
    }
    const mean = tail.reduce((a, b) => a + b, 0) / samples;
    const squares = tail.reduce((sum, t) => sum + (t - mean) ** 2, 0);
    return { size, mean, deviation: Math.sqrt(squares / (samples - 1)) };
  });
  if (known.size > 20) known.clear();
  known.set(n, looks);
  return looks;
}

const scaleOf = (values: Float64Array) => deviationPerMedian * medianOf(values.map(Math.abs));

/** Chance that one error of a family is larger than a value, on one side. */
function upperOf(family: number, value: number): number {
  const { degrees } = tailFamilies[family];
  if (degrees === Number.POSITIVE_INFINITY) return normal.upper(value);
  return studentT.upper(value / Math.sqrt((degrees - 2) / degrees), degrees);
}

/**
 * How far each kind of tails is believed, by how heavy those of the values look against samples of the kind. Values
 * less a mean in which they have a part (`leverage`) look less heavy than they are: their fourth cumulant over the
 * square of their variance is smaller by (1 - leverage)^2.
 */
export function tailsOf(values: Float64Array, leverage: number): number[] {
  const looks = looksOf(values.length);
  const tail = looks[0].mean + (tailOf(values) - looks[0].mean) / (1 - leverage) ** 2;
  const logs = looks.map(
    ({ mean, deviation }, f) =>
      Math.log(tailFamilies[f].prior / deviation) - 0.5 * ((tail - mean) / deviation) ** 2,
  );
  const top = Math.max(...logs);
  const parts = logs.map((l) => Math.exp(l - top));
  const total = parts.reduce((a, b) => a + b, 0);
  return parts.map((part) => part / total);
}

/** How far tails must be believed to be beyond those of Student's t with 5 degrees of freedom to be called so. */
const surelyHeavy = 0.7;
/** Fewest values of which that can be said. */
const leastForHeavy = 30;

/**
 * Whether the tails of sound values look heavier than those for which the chance of a false alarm is held (Student's t
 * with 5 degrees of freedom).
 *
 * @param leverage as for `tailsOf`
 */
export function tailsBeyondHeld(values: Float64Array, leverage: number): boolean {
  if (values.length < leastForHeavy) return false;
  const parts = tailsOf(values, leverage);
  return parts.reduce((sum, part, f) => sum + (tailFamilies[f].degrees < 5 ? part : 0), 0) > surelyHeavy;
}

/** False alarms of the gap test in each kind of tails, over what it states; 3,000 to 9,000 samples of 30 to 300 values
 * each. */
const gapRates = [0.57, 0.75, 1.3, 2.2, 6];

/** The same for values whose tails are believed so far. */
export function gapRate(tails: readonly number[]): number {
  return tails.reduce((sum, part, f) => sum + part * gapRates[f], 0);
}

/**
 * How far out the farthest of sound values may lie, with the tails that the values themselves show: each kind of tails
 * (normal, Student's t with 8, 5, 3.5 and 2.5 degrees of freedom) is weighed by how heavy samples of it look against
 * these; the chance that the farthest of them lies beyond a value is exact for each, averaged over how well so many
 * values tell their scale.
 *
 * @param residuals - values about zero; at least 60 of them finite
 * @param leverage - mean part that a value has in what was taken off it
 * @returns `chance` of any value as far as this one (in the unit of the residuals), `cut`: the value beyond which the
 * chance is `p`;
 *   undefined for fewer values
 */
export function tailedChances(
  residuals: ArrayLike<number>,
  leverage = 0,
): { readonly chance: (value: number) => number; readonly cut: (p: number) => number } | undefined {
  const kept = Float64Array.from(Array.from(residuals).filter(Number.isFinite));
  const n = kept.length;
  const scale = n < leastForTails ? 0 : scaleOf(kept);
  if (!(scale > 0)) return undefined;
  const looks = looksOf(n);
  const parts = tailsOf(kept, leverage);
  const chance = (value: number) => {
    const x = Math.abs(value) / scale;
    let sum = 0;
    looks.forEach(({ size }, f) => {
      const weight = parts[f];
      if (weight < 1e-6) return;
      let mean = 0;
      // Every twentieth sample is enough: the scale of so many values varies little.
      for (let k = 0; k < samples; k += 20) mean += -Math.expm1(n * Math.log1p(-2 * upperOf(f, x * size[k])));
      sum += (weight * mean) / (samples / 20);
    });
    return sum;
  };
  const cut = (p: number) => {
    let [low, high] = [0, 8 * scale];
    while (chance(high) > p && high < 1e6 * scale) high *= 2;
    [low, high] = halving(low, high, (x) => chance(x) > p, 40);
    return high;
  };
  return { chance, cut };
}
