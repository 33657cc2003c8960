import { chiSquare } from "../../numeric/distributions/distributions.js";
import { cholesky } from "../../numeric/linear/cholesky.js";
import { crossing, minimise } from "../../numeric/optimise/minimise.js";
import type { Estimate } from "../../units/estimate.js";
import { meanOf, squaresAbout } from "./sample.js";

/** How a spread divides into its sources. */
export interface VarianceComponents {
  /** Overall mean. */
  readonly mean: Estimate;
  /** Standard deviation of each source, in the order given, then of repeats (`repeat`). */
  readonly deviations: Readonly<Record<string, Estimate>>;
  /** Share of the total variance of each source; they add up to one. */
  readonly shares: Readonly<Record<string, number>>;
  readonly method: string;
  /** -2 log of the restricted likelihood at its best. */
  readonly criterion: number;
}

/**
 * Splits a spread into its sources by restricted maximum likelihood: each source is a factor (motor, batch, rig, date)
 * whose levels shift the value at random; factors may be nested or crossed and the counts may differ. Method: Bates, D.
 * and others (2015), Journal of Statistical Software 67(1), the profiled criterion, with the largest factor eliminated
 * level by level; intervals by profiling the criterion.
 *
 * @param values - numbers in `unit`
 * @param factors - for each source, the level of each value; a motor's level must be unique across batches
 * @returns one deviation for each factor and one for the repeats
 * @throws RangeError when a factor has fewer than two levels or there are no repeats at all
 * @example
 * varianceComponents([1, 1.1, 2, 2.1], { motor: ["a", "a", "b", "b"] }).shares.motor; // => 0.99
 */
export function varianceComponents(
  values: ArrayLike<number>,
  factors: Readonly<Record<string, readonly string[]>>,
  options: { readonly level?: number; readonly unit?: string; readonly intervals?: boolean } = {},
): VarianceComponents {
  const { level = 0.95, unit = "1", intervals = true } = options;
  const names = Object.keys(factors);
  const n = values.length;
  const coded = names.map((name) => codedFactor(name, factors[name], n));
  // The values are scaled so that the search works on numbers near one.
  const shift = meanOf(values);
  const scale = Math.sqrt(squaresAbout(values) / Math.max(1, n - 1)) || 1;
  const y = Float64Array.from({ length: n }, (_, i) => (values[i] - shift) / scale);
  const fit = new DeviationFit(restrictedCriterion(y, coded), coded.length, n);
  const { sigmas, at } = fit;
  const deviations: Record<string, Estimate> = {};
  const shares: Record<string, number> = {};
  const total = sigmas.reduce((sum, s) => sum + s * s, 0);
  const drop = chiSquare.quantile(level, 1);
  [...names, "repeat"].forEach((name, i) => {
    const [low, high] = intervals ? fit.interval(i, drop) : [Number.NaN, Number.NaN];
    deviations[name] = {
      value: sigmas[i] * scale,
      low: low * scale,
      high: high * scale,
      unit,
      level,
      samples: n,
      method: `deviation between ${name === "repeat" ? "repeats" : `levels of ${name}`}, restricted maximum likelihood, profile interval`,
    };
    shares[name] = (sigmas[i] * sigmas[i]) / total;
  });
  const meanError = fit.sigma * Math.sqrt(at.meanVariance);
  const half = 1.959963984540054 * meanError;
  const mean = shift + at.mean * scale;
  return {
    mean: {
      value: mean,
      low: mean - half * scale,
      high: mean + half * scale,
      unit,
      level: 0.95,
      samples: n,
      method: "mean of the mixed model, normal interval",
    },
    deviations,
    shares,
    method: "restricted maximum likelihood",
    criterion: at.profiled + 2 * (n - 1) * Math.log(scale),
  };
}

/** A factor with its levels numbered. */
interface CodedFactor {
  readonly codes: Int32Array;
  readonly size: number;
}

/** @throws RangeError when the levels are not one for each of `n` values, all alike, or all different */
function codedFactor(name: string, texts: readonly string[], n: number): CodedFactor {
  const levels = new Map<string, number>();
  const codes = Int32Array.from(texts, (text) => {
    const code = levels.get(text) ?? levels.size;
    levels.set(text, code);
    return code;
  });
  if (codes.length !== n) throw new RangeError(`factor "${name}" has ${codes.length} levels for ${n} values`);
  if (levels.size < 2) throw new RangeError(`factor "${name}" has one level only: nothing to compare`);
  if (levels.size >= n)
    throw new RangeError(`factor "${name}" has a level of its own for every value: no repeats`);
  return { codes, size: levels.size };
}

/** The deviations at which the restricted likelihood is largest, and their intervals by its profile. */
class DeviationFit {
  /** Deviation ratios sigma_k / sigma. */
  private readonly theta: readonly number[];
  readonly at: Criterion;
  /** Deviation of the repeats, then of all sources with the repeats last. */
  readonly sigma: number;
  readonly sigmas: readonly number[];

  /** @param k number of factors */
  constructor(
    private readonly criterion: (theta: readonly number[]) => Criterion,
    private readonly k: number,
    n: number,
  ) {
    // Search over the ratios, with sigma profiled out.
    const start = new Array<number>(k).fill(1);
    const best = minimise((t) => criterion(t.map(Math.abs)).profiled, start, new Array(k).fill(0.5));
    this.theta = best.at.map(Math.abs).map((t, i, all) => {
      // A ratio that gains nothing over zero is zero.
      const without = all.map((v, j) => (i === j ? 0 : v));
      return t < 1e-3 && criterion(without).profiled <= best.value + 1e-9 ? 0 : t;
    });
    this.at = criterion(this.theta);
    this.sigma = Math.sqrt(this.at.residual / (n - 1));
    this.sigmas = [...this.theta.map((t) => t * this.sigma), this.sigma];
  }

  /** Best criterion with one deviation held at a value. */
  private held(index: number, value: number): number {
    const { criterion, k, theta, sigma } = this;
    if (index === k) {
      // The other deviations hardly change with that of the repeats: their ratios to it start where they keep their
      // size.
      const start = theta.map((t) => (t * sigma) / value);
      const step = start.map((t) => Math.max(0.2, 0.1 * t));
      return minimise((t) => criterion(t.map(Math.abs)).full(value), start, step, { tolerance: 1e-8 }).value;
    }
    const others = [...theta.filter((_, i) => i !== index), Math.log(sigma)];
    return minimise(
      (x) => {
        const s = Math.exp(x[k - 1]);
        const rest = x.slice(0, k - 1).map(Math.abs);
        return criterion([...rest.slice(0, index), value / s, ...rest.slice(index)]).full(s);
      },
      others,
      new Array(k).fill(0.2),
      { tolerance: 1e-8 },
    ).value;
  }

  /** Where the criterion has risen by `drop` on either side of a deviation. */
  interval(i: number, drop: number): [number, number] {
    const { sigmas, k, at } = this;
    const gap = (s: number) => this.held(i, Math.abs(s)) - at.profiled - drop;
    const step = Math.max(0.1 * sigmas[i], 0.02);
    // Without repeats there is no fit at all, so the repeats have a lower end; the other deviations may be nothing.
    const least = i === k ? 1e-3 * sigmas[i] : 1e-9;
    const low =
      sigmas[i] > 0 && (i === k || gap(1e-9) > 0) ? (crossing(gap, sigmas[i], -step, least, 1e-6) ?? 0) : 0;
    return [low, crossing(gap, sigmas[i], step, Infinity, 1e-6) ?? Infinity];
  }
}

interface Criterion {
  /** -2 log restricted likelihood with sigma at its best. */
  readonly profiled: number;
  /** The same at a given sigma. */
  readonly full: (sigma: number) => number;
  readonly residual: number;
  readonly mean: number;
  readonly meanVariance: number;
}

/** The restricted likelihood as a function of the deviation ratios. */
function restrictedCriterion(
  y: Float64Array,
  factors: readonly CodedFactor[],
): (theta: readonly number[]) => Criterion {
  const n = y.length;
  const big = factors.reduce((most, f, i) => (f.size > factors[most].size ? i : most), 0);
  const bigFactor = factors[big];
  const rest = factors.map((f, i) => ({ ...f, i })).filter((f) => f.i !== big);
  // Columns of the dense part: levels of the other factors, then the mean, then y.
  const starts: number[] = [];
  let q = 0;
  for (const f of rest) {
    starts.push(q);
    q += f.size;
  }
  const width = q + 2;
  const counts = new Float64Array(bigFactor.size);
  // Sparse cross counts: for each level of the big factor, what it meets in the dense columns.
  const meets = Array.from({ length: bigFactor.size }, () => new Map<number, number>());
  const cross = new Float64Array(width * width);
  const add = (map: Map<number, number>, column: number, v: number) =>
    map.set(column, (map.get(column) ?? 0) + v);
  const columns = new Int32Array(rest.length);
  for (let i = 0; i < n; i++) {
    const b = bigFactor.codes[i];
    counts[b]++;
    rest.forEach((f, r) => {
      columns[r] = starts[r] + f.codes[i];
      add(meets[b], columns[r], 1);
    });
    add(meets[b], q, 1);
    add(meets[b], q + 1, y[i]);
    const vector: [number, number][] = [...columns].map((c) => [c, 1]);
    vector.push([q, 1], [q + 1, y[i]]);
    for (const [c, u] of vector) for (const [d, v] of vector) cross[c * width + d] += u * v;
  }
  // What eliminating a level takes from the dense part depends on its count alone, so levels of one count go together.
  const byCount = new Map<number, { levels: number; products: Float64Array }>();
  meets.forEach((map, b) => {
    const group = byCount.get(counts[b]) ?? { levels: 0, products: new Float64Array(width * width) };
    byCount.set(counts[b], group);
    group.levels++;
    for (const [c, u] of map) for (const [d, v] of map) group.products[c * width + d] += u * v;
  });
  const owner = new Int32Array(width).fill(-1);
  rest.forEach((f, r) => {
    owner.fill(f.i, starts[r], starts[r] + f.size);
  });
  return (theta) => {
    const weight = Float64Array.from(owner, (o) => (o < 0 ? 1 : theta[o]));
    const m = new Float64Array(width * width);
    for (let c = 0; c < width; c++)
      for (let d = 0; d < width; d++) m[c * width + d] = weight[c] * weight[d] * cross[c * width + d];
    for (let c = 0; c < q; c++) m[c * width + c] += 1;
    let logDeterminant = 0;
    const t = theta[big];
    for (const [count, { levels, products }] of byCount) {
      const pivot = 1 + t * t * count;
      logDeterminant += levels * Math.log(pivot);
      if (t === 0) continue;
      for (let c = 0; c < width; c++)
        for (let d = 0; d <= c; d++)
          m[c * width + d] -= (t * t * weight[c] * weight[d] * products[c * width + d]) / pivot;
    }
    // Of the dense part; the last two rows give the mean and the residual.
    cholesky(m, width, 1e-300);
    for (let c = 0; c < q; c++) logDeterminant += 2 * Math.log(m[c * width + c]);
    const meanPivot = m[q * width + q];
    const logMean = 2 * Math.log(meanPivot);
    const residual = m[(q + 1) * width + q + 1] ** 2;
    const df = n - 1;
    return {
      profiled: logDeterminant + logMean + df * (1 + Math.log((2 * Math.PI * residual) / df)),
      full: (sigma) =>
        logDeterminant + logMean + df * Math.log(2 * Math.PI * sigma * sigma) + residual / (sigma * sigma),
      residual,
      mean: m[(q + 1) * width + q] / meanPivot,
      meanVariance: 1 / (meanPivot * meanPivot),
    };
  };
}
