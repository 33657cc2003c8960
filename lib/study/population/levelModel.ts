import { deviationPerMedian } from "../../numeric/series/median.js";
import { madOf, medianOf } from "./sample.js";

/** A level of a factor (one batch, one rig): how far it lies from the middle of all levels, drawn towards them by what
 * it cannot know. */
export interface LevelEffect {
  readonly level: string;
  readonly count: number;
  /** Mean of its values, other factors taken out, less the middle. */
  readonly found: number;
  /** Variance of `found` from the values alone. */
  readonly variance: number;
  /** `found` drawn towards the middle: the best prediction of the level. */
  readonly effect: number;
}

/** One constant of many motors as middle, levels of factors, and the motor's own deviation. */
export interface LevelModel {
  readonly middle: number;
  /** Deviation between the motors of one level. */
  readonly within: number;
  readonly factors: Readonly<
    Record<string, { readonly between: number; readonly effects: ReadonlyMap<string, LevelEffect> }>
  >;
  /** Deviation of each motor from what its levels let expect, over the standard deviation of that difference. */
  readonly residuals: Float64Array;
  /** What its levels let expect of each motor, and the standard deviation of a sound motor about that. */
  readonly expected: Float64Array;
  readonly scale: Float64Array;
  /** Mean part that a motor has in what is expected of it. */
  readonly leverage: number;
  /** Part of the stated errors' variance that the spread of the values leaves room for, at most 1. */
  readonly errorPart: number;
  /** Deviation of a typical motor from what its levels let expect, its error (as far as it is believed) in it. */
  readonly typical: number;
}

/** Deviations beyond which a value no longer pulls its levels. */
const pull = 2.5;

/**
 * Splits values into a middle, effects of factors (batch, rig) and each motor's own deviation, by a hierarchical model:
 * the levels of a factor come from one distribution whose spread is estimated, so a level of few values is drawn
 * towards the middle, by Paule and Mandel (1982), Journal of Research of the National Bureau of Standards 87, 377-385.
 * Values far off pull no more than those at 2.5 deviations (Huber), so that one odd motor does not move its batch.
 *
 * An interval says how well a value is known, and a part of that is the same error in all motors (the drive's drop, a
 * scale), which no difference between motors has in it. So where the values differ by less than their errors would
 * have them differ, the errors are scaled down alike until they fit (`errorPart`).
 *
 * @param values - one for each motor; those that are not finite take no part (their residual is not a number)
 * @param own - variance of the error of each value, from its own interval; 0 where it is not known
 * @param factors - level of each motor; a motor without a level counts as a level of its own
 */
export function levelModel(
  values: ArrayLike<number>,
  own: ArrayLike<number>,
  factors: Readonly<Record<string, readonly (string | null)[]>>,
): LevelModel {
  const n = values.length;
  const used = Array.from({ length: n }, (_, i) => i).filter((i) => Number.isFinite(values[i]));
  const coded = Object.entries(factors).map(([name, levels]) => codesOf(name, levels, used));
  const y = Float64Array.from(values);
  let middle = medianOf(used.map((i) => y[i]));
  let within = madOf(used.map((i) => y[i])) ** 2;
  const fitted = new Float64Array(n);
  const leverage = new Float64Array(n);
  const effects = coded.map(({ size }) => new Float64Array(size));
  const between = coded.map(() => 0);
  const typical = used.length === 0 ? 0 : medianOf(used.map((i) => own[i]));
  let errorPart = 1;
  const variance = (i: number) => Math.max(within + errorPart * own[i], 1e-300);
  for (let round = 0; round < 12; round++) {
    leverage.fill(0);
    coded.forEach((factor, f) => {
      const answer = drawTogether(
        factor,
        used,
        (i) => y[i] - middle - fitted[i] + effects[f][factor.codes[i]],
        variance,
        {
          effects: effects[f],
          between: between[f],
        },
      );
      between[f] = answer.between;
      middle += answer.shift;
      for (const i of used) {
        const code = factor.codes[i];
        fitted[i] += answer.effects[code] - effects[f][code];
        leverage[i] += answer.doubt[code] / variance(i);
      }
      effects[f] = answer.effects;
    });
    if (coded.length === 0)
      middle += huberStep(
        used.map((i) => y[i] - middle),
        used.map(variance),
      );
    const total = used.reduce((sum, i) => sum + 1 / variance(i), 0);
    const standard = used.map((i) => {
      const h = Math.min(0.99, leverage[i] + 1 / (variance(i) * total));
      leverage[i] = h;
      return (y[i] - middle - fitted[i]) / Math.sqrt(variance(i) * (1 - h));
    });
    const factor = scaleOf(standard) ** 2;
    const before = within + errorPart * typical;
    const whole = factor * before;
    within = Math.max(0, whole - typical);
    errorPart = typical > 0 ? Math.min(1, whole / typical) : 1;
    if (Math.abs(whole - before) < 1e-4 * before) break;
  }
  return finish({
    y,
    used,
    middle,
    within,
    own: Float64Array.from(own, (v) => errorPart * v),
    errorPart,
    typical: Math.sqrt(within + errorPart * typical),
    coded,
    effects,
    between,
    fitted,
    leverage,
  });
}

interface Coded {
  readonly name: string;
  readonly codes: Int32Array;
  readonly names: readonly string[];
  readonly size: number;
}

function codesOf(name: string, levels: readonly (string | null)[], used: readonly number[]): Coded {
  const seen = new Map<string, number>();
  const names: string[] = [];
  const codes = new Int32Array(levels.length).fill(-1);
  for (const i of used) {
    const key = levels[i] === null ? `\u0000${i}` : (levels[i] as string);
    let code = seen.get(key);
    if (code === undefined) {
      code = names.length;
      seen.set(key, code);
      names.push(levels[i] === null ? "" : (levels[i] as string));
    }
    codes[i] = code;
  }
  return { name, codes, names, size: names.length };
}

/** Means of the levels, the spread between them, and each drawn towards the middle. `doubt`: variance of each
 * effect. */
function drawTogether(
  { codes, size }: Coded,
  used: readonly number[],
  partial: (i: number) => number,
  variance: (i: number) => number,
  before: { readonly effects: Float64Array; readonly between: number },
): { effects: Float64Array<ArrayBuffer>; doubt: Float64Array; between: number; shift: number } {
  const weight = new Float64Array(size);
  const mean = new Float64Array(size);
  for (const i of used) {
    const code = codes[i];
    const [v, now] = [variance(i), before.effects[code]];
    const reach = pull * Math.sqrt(v);
    const held = now + Math.max(-reach, Math.min(reach, partial(i) - now));
    weight[code] += 1 / v;
    mean[code] += held / v;
  }
  for (let g = 0; g < size; g++) mean[g] /= weight[g];
  const between = size < 2 ? 0 : pauleMandel(mean, weight);
  let total = 0;
  let shift = 0;
  for (let g = 0; g < size; g++) {
    const w = 1 / (between + 1 / weight[g]);
    total += w;
    shift += w * mean[g];
  }
  shift /= total;
  const effects = mean.map((m, g) => ((m - shift) * between) / (between + 1 / weight[g]));
  const doubt = weight.map((w) => (between === 0 ? 0 : 1 / (1 / between + w)));
  return { effects, doubt, between, shift };
}

/**
 * Variance between means of known error variance (1 / weight): where their weighted squares come to their degrees of
 * freedom. One over these squares rises with the variance and bends downwards (Cauchy and Schwarz), so Newton's steps
 * from nothing never pass the answer.
 */
export function pauleMandel(mean: ArrayLike<number>, weight: ArrayLike<number>): number {
  const size = mean.length;
  let v = 0;
  for (let round = 0; round < 200; round++) {
    let [total, sum, least] = [0, 0, Number.POSITIVE_INFINITY];
    for (let g = 0; g < size; g++) {
      const own = v + 1 / weight[g];
      total += 1 / own;
      sum += mean[g] / own;
      least = Math.min(least, own);
    }
    const middle = sum / total;
    // With weights that are parts of the largest, means without any error are no trouble.
    let [squares, falls] = [0, 0];
    for (let g = 0; g < size; g++) {
      const w = least / (v + 1 / weight[g]);
      const pull = w * (mean[g] - middle) ** 2;
      squares += pull;
      falls += w * pull;
    }
    const excess = squares / (size - 1) - least;
    if (!(excess > 1e-12 * least)) break;
    v += (squares / falls) * excess;
  }
  return v;
}

function huberStep(residuals: readonly number[], variances: readonly number[]): number {
  let [sum, total] = [0, 0];
  residuals.forEach((r, i) => {
    const reach = pull * Math.sqrt(variances[i]);
    sum += Math.max(-reach, Math.min(reach, r)) / variances[i];
    total += 1 / variances[i];
  });
  return sum / total;
}

/** Median distance from zero, as a deviation of a normal sample. */
function scaleOf(standard: readonly number[]): number {
  return deviationPerMedian * medianOf(standard.map(Math.abs));
}

function finish(m: {
  readonly y: Float64Array;
  readonly used: readonly number[];
  readonly middle: number;
  readonly within: number;
  readonly own: ArrayLike<number>;
  readonly errorPart: number;
  readonly typical: number;
  readonly coded: readonly Coded[];
  readonly effects: readonly Float64Array[];
  readonly between: readonly number[];
  readonly fitted: Float64Array;
  readonly leverage: Float64Array;
}): LevelModel {
  const n = m.y.length;
  const nothing = () => new Float64Array(n).fill(Number.NaN);
  const [residuals, expected, scale] = [nothing(), nothing(), nothing()];
  for (const i of m.used) {
    const deviation = Math.sqrt(Math.max(m.within + m.own[i], 1e-300));
    // The motor itself has a part in what is expected of it, up to its pull: without it, expectation and scale are
    // those below.
    const lever = 1 - m.leverage[i];
    const own = m.y[i] - m.middle - m.fitted[i];
    const held = Math.min(Math.abs(own), pull * deviation);
    const apart = own + (Math.sign(own) * held * m.leverage[i]) / lever;
    scale[i] = deviation / Math.sqrt(lever);
    residuals[i] = apart / scale[i];
    expected[i] = m.y[i] - apart;
  }
  return {
    middle: m.middle,
    within: Math.sqrt(m.within),
    factors: Object.fromEntries(
      m.coded.map((factor, f) => [
        factor.name,
        { between: Math.sqrt(m.between[f]), effects: levelsOf(m, factor, f) },
      ]),
    ),
    residuals,
    expected,
    scale,
    leverage: m.used.reduce((sum, i) => sum + m.leverage[i], 0) / m.used.length,
    errorPart: m.errorPart,
    typical: m.typical,
  };
}

function levelsOf(
  m: Parameters<typeof finish>[0],
  { codes, names, size }: Coded,
  f: number,
): ReadonlyMap<string, LevelEffect> {
  const weight = new Float64Array(size);
  const partials: { value: number; variance: number }[][] = Array.from({ length: size }, () => []);
  for (const i of m.used) {
    const variance = Math.max(m.within + m.own[i], 1e-300);
    const value = m.y[i] - m.middle - m.fitted[i] + m.effects[f][codes[i]];
    weight[codes[i]] += 1 / variance;
    partials[codes[i]].push({ value, variance });
  }
  const effects = new Map<string, LevelEffect>();
  for (let g = 0; g < size; g++)
    if (names[g] !== "")
      effects.set(names[g], {
        level: names[g],
        count: partials[g].length,
        found: ownMean(
          partials[g].map((one) => one.value),
          partials[g].map((one) => one.variance),
        ),
        variance: 1 / weight[g],
        effect: m.effects[f][g],
      });
  return effects;
}

/**
 * Mean of one level's values by themselves; far ones pull no more than those at 2.5 deviations from the middle of the
 * level. Held against what all levels let expect, a level that is far off as a whole could not come out as far as it
 * lies.
 */
export function ownMean(values: ArrayLike<number>, variances: ArrayLike<number>): number {
  let mean = medianOf(values);
  for (let round = 0; round < 8; round++) {
    let [sum, total] = [0, 0];
    for (let k = 0; k < values.length; k++) {
      const reach = pull * Math.sqrt(variances[k]);
      sum += Math.max(-reach, Math.min(reach, values[k] - mean)) / variances[k];
      total += 1 / variances[k];
    }
    mean += sum / total;
    if (Math.abs(sum / total) < 1e-9 * Math.sqrt(variances[0])) break;
  }
  return mean;
}
