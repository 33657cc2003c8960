import { Matrix, solve } from "ml-matrix";
import { chiSquare, normal } from "../../numeric/distributions/distributions.js";
import { solvePositive } from "../../numeric/linear/solvePositive.js";
import { crossing } from "../../numeric/optimise/minimise.js";
import type { Estimate } from "../../units/estimate.js";
import { checkLives, failureCount, type Life, type Undetermined } from "./lifeData.js";

/** Distributions a life can be fitted with. */
export type LifeDistribution = "weibull" | "log-normal";

/** A life model fitted by maximum likelihood: log(life) = a + b.x + sigma * error. */
export interface LifeModel {
  readonly distribution: LifeDistribution;
  /** Location at x = 0 (logarithm of time) and one slope for each covariate. */
  readonly coefficients: readonly Estimate[];
  /** Spread of log(life). The Weibull shape is 1 / sigma. */
  readonly sigma: Estimate;
  /** Weibull without covariates: characteristic life (63.2 % failed). */
  readonly scale?: Estimate;
  /** Weibull: shape (slope of the Weibull line). Below 1 early failures, above 1 wear. */
  readonly shape?: Estimate;
  readonly logLikelihood: number;
  readonly units: number;
  readonly failures: number;
  readonly iterations: number;
  readonly level: number;
  /**
   * Time by which a share of the units has failed, with its profile-likelihood interval.
   *
   * @param share - 0.1 for B10
   * @param x - covariates at which it is asked, when the model has some
   */
  readonly life: (share: number, x?: readonly number[]) => Estimate;
  /** Share alive at a time. */
  readonly survivalAt: (time: number, x?: readonly number[]) => number;
  /** Cumulative hazard, logarithm of the hazard by z, and quantile on the scale z = (log(life) - a - b.x) / sigma. */
  readonly cumulativeHazard: (z: number) => number;
  /** Log of the hazard rate of the standard form at z. */
  readonly logHazard: (z: number) => number;
  /** Quantile of the standard form at a share failed. */
  readonly quantileOf: (share: number) => number;
}

interface Settings {
  readonly level?: number;
  /** Covariates of each life, for instance `(life) => [inverseTemperature(life.temperature)]`. */
  readonly covariates?: (life: Life) => readonly number[];
  /** Names of the covariates. */
  readonly names?: readonly string[];
  /** Intervals, the slow part: of everything, of the last coefficient only, or none (low and high are not a number
   * then). */
  readonly intervals?: "all" | "last" | "none";
  /** Unit of the times; hours (`h`) when absent. */
  readonly unit?: string;
}

interface Row {
  readonly low: number; // logarithm of `after`, -Infinity for 0
  readonly high: number; // logarithm of `by`, Infinity when still running
  readonly count: number;
  readonly x: readonly number[];
  readonly entry: number; // logarithm of the use at entry, -Infinity for 0
}

interface Fit {
  readonly parameters: Float64Array; // coefficients, then log(sigma)
  readonly logLikelihood: number;
  readonly iterations: number;
}

/** Value, first and second derivative by z of the logarithm of a term; for intervals by both ends. */
interface Shape {
  readonly density: (z: number) => number;
  /** d log(density) / dz and its derivative. */
  readonly logDensity: (z: number) => [value: number, first: number, second: number];
  readonly cdf: (z: number) => number;
  readonly upper: (z: number) => number;
  readonly logUpper: (z: number) => [value: number, first: number, second: number];
  /** d density / dz. */
  readonly slope: (z: number) => number;
  readonly quantile: (p: number) => number;
}

const shapes: Readonly<Record<LifeDistribution, Shape>> = {
  // Smallest extreme value: log of a Weibull life.
  weibull: {
    density: (z) => Math.exp(z - Math.exp(z)),
    logDensity: (z) => {
      const e = Math.exp(z);
      return [z - e, 1 - e, -e];
    },
    cdf: (z) => -Math.expm1(-Math.exp(z)),
    upper: (z) => Math.exp(-Math.exp(z)),
    logUpper: (z) => {
      const e = Math.exp(z);
      return [-e, -e, -e];
    },
    slope: (z) => Math.exp(z - Math.exp(z)) * (1 - Math.exp(z)),
    quantile: (p) => Math.log(-Math.log1p(-p)),
  },
  "log-normal": {
    density: (z) => normal.density(z),
    logDensity: (z) => [-0.5 * z * z - 0.5 * Math.log(2 * Math.PI), -z, -1],
    cdf: (z) => normal.cdf(z),
    upper: (z) => normal.upper(z),
    logUpper: (z) => {
      const s = normal.upper(z);
      // Far out the ratio density / upper tends to z + 1/z.
      const hazard = s > 1e-300 ? normal.density(z) / s : z + 1 / z;
      return [
        s > 1e-300 ? Math.log(s) : -0.5 * z * z - Math.log(z * Math.sqrt(2 * Math.PI)),
        -hazard,
        -hazard * (hazard - z),
      ];
    },
    slope: (z) => -z * normal.density(z),
    quantile: (p) => normal.quantile(p),
  },
};

/**
 * Fits a Weibull or log-normal life by maximum likelihood to any mix of exact, right-, left- and interval-censored
 * lives, with profile-likelihood intervals, and covariates on the logarithm of life where asked (accelerated life).
 * Method: Meeker, W. Q. and Escobar, L. A. (1998), Statistical Methods for Reliability Data, chapters 8 and 17.
 *
 * @returns `Undetermined` when the failures are too few to fit (the zero-failure case: see `demonstration`)
 * @throws RangeError for impossible times
 * @example
 * const model = fitLife("weibull", [{ after: 54, by: 54 }, { after: 187, by: 187 }, { after: 500, by: Infinity }]);
 * if (!isUndetermined(model)) model.life(0.1); // B10 with its interval
 */
export function fitLife(
  distribution: LifeDistribution,
  lives: readonly Life[],
  settings: Settings = {},
): LifeModel | Undetermined {
  const { level = 0.95, covariates, names = [], unit = "h", intervals = "all" } = settings;
  checkLives(lives);
  const failures = failureCount(lives);
  const rows: Row[] = lives.map((life) => ({
    low: Math.log(Math.max(life.after, life.from ?? 0)),
    entry: Math.log(life.from ?? 0),
    high: Math.log(life.by),
    count: life.count ?? 1,
    x: [1, ...(covariates?.(life) ?? [])],
  }));
  const width = rows[0]?.x.length ?? 1;
  if (failures < width + 1)
    return {
      undetermined: `${failures} ${failures === 1 ? "failure" : "failures"} among ${lives.length} lives: a fit of ${width + 1} parameters needs at least ${width + 1} failures`,
    };
  for (const [i, row] of rows.entries())
    if (!row.x.every(Number.isFinite) || row.x.length !== width)
      throw new RangeError(`life ${i + 1}: a covariate is missing or not a number`);
  const shape = shapes[distribution];
  const best = maximise(shape, rows, startOf(rows), 0, -1);
  if (best === undefined)
    return {
      undetermined:
        "the likelihood has no maximum: the failures do not fix a spread (are they all at one time?)",
    };
  const drop = chiSquare.quantile(level, 1) / 2;
  const common = { level, samples: rows.reduce((sum, row) => sum + row.count, 0) };
  const method = `${distribution === "weibull" ? "Weibull" : "log-normal"} maximum likelihood, profile interval`;

  /** Interval of parameter `index` when the rows are those given and z is shifted by `shift`. */
  const profile = (data: readonly Row[], from: Fit, index: number, shift: number): [number, number] => {
    if (intervals === "none" || (intervals === "last" && index !== width - 1))
      return [Number.NaN, Number.NaN];
    const value = from.parameters[index];
    const scale = Math.max(1e-6, standardError(shape, data, from.parameters, shift, index));
    const side = (direction: 1 | -1) => {
      let warm = from.parameters;
      const found = crossing(
        (at) => {
          const start = Float64Array.from(warm);
          start[index] = at;
          const fit = maximise(shape, data, start, shift, index);
          if (fit === undefined) return 1;
          warm = fit.parameters;
          return from.logLikelihood - fit.logLikelihood - drop;
        },
        value,
        direction * scale,
      );
      return found ?? direction * Infinity;
    };
    return [side(-1), side(1)];
  };

  const p = best.parameters;
  const [sigmaLow, sigmaHigh] = profile(rows, best, width, 0);
  const sigma: Estimate = {
    value: Math.exp(p[width]),
    low: Math.exp(sigmaLow),
    high: Math.exp(sigmaHigh),
    unit: "1",
    method,
    ...common,
  };
  const coefficients = Array.from({ length: width }, (_, j): Estimate => {
    const [low, high] = profile(rows, best, j, 0);
    const name = j === 0 ? "location of log(life)" : `slope of log(life) on ${names[j - 1] ?? `x${j}`}`;
    return { value: p[j], low, high, unit: "1", method: `${name}, ${method}`, ...common };
  });
  const linear = (x: readonly number[] | undefined) => {
    const given = x ?? [];
    if (given.length !== width - 1)
      throw new RangeError(`the model has ${width - 1} covariates, got ${given.length}`);
    return given.reduce((sum, xj, j) => sum + p[j + 1] * xj, p[0]);
  };
  const life = (share: number, x?: readonly number[]): Estimate => {
    const value = Math.exp(linear(x) + sigma.value * shape.quantile(share));
    // The model again with its location replaced by the wanted quantile: log(life) = q + b.(x - x*) + sigma*(error -
    // w).
    const w = shape.quantile(share);
    const moved = rows.map((row) => ({
      ...row,
      x: row.x.map((v, j) => (j === 0 ? 1 : v - (x ?? [])[j - 1])),
    }));
    const start = Float64Array.from(p);
    start[0] = Math.log(value);
    const fit: Fit = { parameters: start, logLikelihood: best.logLikelihood, iterations: 0 };
    const [low, high] = profile(moved, fit, 0, w);
    return {
      value,
      low: Math.exp(low),
      high: Math.exp(high),
      unit,
      method: `time of ${share * 100} % failed, ${method}`,
      ...common,
    };
  };
  return {
    distribution,
    coefficients,
    sigma,
    ...(distribution === "weibull"
      ? {
          shape: { ...sigma, value: 1 / sigma.value, low: 1 / sigma.high, high: 1 / sigma.low },
          ...(width === 1
            ? {
                scale: {
                  ...coefficients[0],
                  method,
                  unit,
                  value: Math.exp(p[0]),
                  low: Math.exp(coefficients[0].low),
                  high: Math.exp(coefficients[0].high),
                },
              }
            : {}),
        }
      : {}),
    logLikelihood: best.logLikelihood,
    units: common.samples,
    failures,
    iterations: best.iterations,
    level,
    life,
    survivalAt: (time, x) => shape.upper((Math.log(time) - linear(x)) / sigma.value),
    cumulativeHazard: (z) => -shape.logUpper(z)[0],
    logHazard: (z) => shape.logDensity(z)[0] - shape.logUpper(z)[0],
    quantileOf: (share) => shape.quantile(share),
  };
}

/** A first guess: mean and spread of the logarithms of what is known of each life. */
function startOf(rows: readonly Row[]): Float64Array {
  const width = rows[0].x.length;
  let sum = 0;
  let squares = 0;
  let n = 0;
  const xx = new Matrix(width, width);
  const xy = new Matrix(width, 1);
  for (const { low, high, count, x } of rows) {
    const y = high === Infinity ? low : low === -Infinity ? high - 0.7 : (low + high) / 2;
    if (!Number.isFinite(y)) continue;
    sum += count * y;
    squares += count * y * y;
    n += count;
    for (let i = 0; i < width; i++) {
      xy.set(i, 0, xy.get(i, 0) + count * x[i] * y);
      for (let j = 0; j < width; j++) xx.set(i, j, xx.get(i, j) + count * x[i] * x[j]);
    }
  }
  const mean = sum / n;
  const spread = Math.sqrt(Math.max(1e-4, squares / n - mean * mean));
  for (let i = 0; i < width; i++) xx.set(i, i, xx.get(i, i) * (1 + 1e-10));
  const start = new Float64Array(width + 1);
  const b = width > 1 ? solve(xx, xy, true).to1DArray() : [mean + 0.5 * spread];
  for (let i = 0; i < width; i++) start[i] = b[i];
  start[width] = Math.log(spread);
  return start;
}

/** Log-likelihood with gradient and Hessian, at parameters (coefficients, log sigma). */
function likelihood(
  shape: Shape,
  rows: readonly Row[],
  parameters: Float64Array,
  shift: number,
): { value: number; gradient: Float64Array; hessian: Float64Array } {
  const width = parameters.length - 1;
  const size = width + 1;
  const logSigma = parameters[width];
  const sigma = Math.exp(logSigma);
  let value = 0;
  const gradient = new Float64Array(size);
  const hessian = new Float64Array(size * size);
  const dz = new Float64Array(size);
  /** Adds first (g) and second (h) derivative by z of one end; the upper triangle only. */
  const add = (z: number, x: readonly number[], count: number, g: number, h: number) => {
    const plain = z - shift;
    for (let j = 0; j < width; j++) dz[j] = -x[j] / sigma;
    dz[width] = -plain;
    for (let i = 0; i < size; i++) {
      const di = dz[i];
      gradient[i] += count * g * di;
      for (let j = i; j < size; j++) hessian[i * size + j] += count * h * di * dz[j];
    }
    const mixed = (count * g) / sigma;
    for (let i = 0; i < width; i++) hessian[i * size + width] += mixed * x[i];
    hessian[size * size - 1] += count * g * plain;
  };
  for (const { low, high, count, x, entry } of rows) {
    let eta = 0;
    for (let j = 0; j < width; j++) eta += x[j] * parameters[j];
    const zOf = (y: number) => (y - eta) / sigma + shift;
    // Late entry: given that the unit was alive then.
    if (entry !== -Infinity) {
      const z = zOf(entry);
      const [v, g, h] = shape.logUpper(z);
      value -= count * v;
      add(z, x, -count, g, h);
    }
    if (low === high) {
      const z = zOf(low);
      const [v, g, h] = shape.logDensity(z);
      value += count * (v - logSigma - low);
      add(z, x, count, g, h);
      gradient[width] -= count;
    } else if (high === Infinity) {
      if (low === -Infinity) continue; // censored at time 0: says nothing
      const z = zOf(low);
      const [v, g, h] = shape.logUpper(z);
      value += count * v;
      add(z, x, count, g, h);
    } else if (low === -Infinity) {
      const z = zOf(high);
      const f = Math.max(1e-300, shape.cdf(z));
      const g = shape.density(z) / f;
      value += count * Math.log(f);
      add(z, x, count, g, shape.slope(z) / f - g * g);
    } else {
      const [a, b] = [zOf(low), zOf(high)];
      const d = Math.max(1e-300, a > 0 ? shape.upper(a) - shape.upper(b) : shape.cdf(b) - shape.cdf(a));
      const gb = shape.density(b) / d;
      const ga = -shape.density(a) / d;
      value += count * Math.log(d);
      add(b, x, count, gb, shape.slope(b) / d - gb * gb);
      add(a, x, count, ga, -shape.slope(a) / d - ga * ga);
      // Mixed term: -ga*gb for each pairing of the two ends.
      const [pa, pb] = [a - shift, b - shift];
      const da = (i: number) => (i === width ? -pa : -x[i] / sigma);
      const db = (i: number) => (i === width ? -pb : -x[i] / sigma);
      for (let i = 0; i < size; i++)
        for (let j = i; j < size; j++)
          hessian[i * size + j] -= count * ga * gb * (da(i) * db(j) + db(i) * da(j));
    }
  }
  for (let i = 0; i < size; i++) for (let j = 0; j < i; j++) hessian[i * size + j] = hessian[j * size + i];
  return { value, gradient, hessian };
}

/** Newton's method with halved steps; parameter `fixed` (or none, -1) is held. */
function maximise(
  shape: Shape,
  rows: readonly Row[],
  start: Float64Array,
  shift: number,
  fixed: number,
): Fit | undefined {
  const free = Array.from(start.keys()).filter((i) => i !== fixed);
  let parameters = Float64Array.from(start);
  let now = likelihood(shape, rows, parameters, shift);
  for (let iteration = 1; iteration <= 200; iteration++) {
    if (!Number.isFinite(now.value)) return undefined;
    const gradient = new Matrix(free.map((i) => [now.gradient[i]]));
    const minus = new Matrix(free.map((i) => free.map((j) => -now.hessian[i * parameters.length + j])));
    let step = raisedSolve(minus, gradient);
    let next = now;
    let moved = parameters;
    let accepted = false;
    for (let halving = 0; halving < 40; halving++) {
      moved = Float64Array.from(parameters);
      free.forEach((i, k) => {
        moved[i] += step[k];
      });
      next = likelihood(shape, rows, moved, shift);
      if (Number.isFinite(next.value) && next.value >= now.value - 1e-12 * Math.abs(now.value)) {
        accepted = true;
        break;
      }
      step = step.map((s) => s / 2);
    }
    const gain = next.value - now.value;
    if (accepted) {
      parameters = moved;
      now = next;
    }
    if (parameters[parameters.length - 1] < -14 || parameters[parameters.length - 1] > 25) return undefined;
    const small = step.every((s, k) => Math.abs(s) <= 1e-9 * (Math.abs(parameters[free[k]]) + 1e-3));
    if (!accepted || small || (Math.abs(gain) < 1e-13 * Math.abs(now.value) && iteration > 3))
      return { parameters, logLikelihood: now.value, iterations: iteration };
  }
  return undefined;
}

/** Newton step; a matrix that is not positive gets a growing diagonal until it is. */
function raisedSolve(minus: Matrix, gradient: Matrix): number[] {
  const size = minus.rows;
  const scale = Math.max(...minus.diagonal().map(Math.abs), 1e-12);
  for (let ridge = 0; ridge < 1e8; ridge = ridge === 0 ? 1e-6 : ridge * 10) {
    const m = minus.clone();
    for (let i = 0; i < size; i++) m.set(i, i, m.get(i, i) + ridge * scale);
    const step = solvePositive(m.to2DArray(), gradient.to1DArray());
    if (step !== undefined) return step;
  }
  return gradient.to1DArray().map((g) => g / scale);
}

/** Standard error of one parameter from the curvature, 0.1 when the curvature says nothing. */
function standardError(
  shape: Shape,
  rows: readonly Row[],
  parameters: Float64Array,
  shift: number,
  index: number,
): number {
  const { hessian } = likelihood(shape, rows, parameters, shift);
  const size = parameters.length;
  const unit = new Matrix(size, 1);
  unit.set(index, 0, 1);
  const minus = new Matrix(
    Array.from({ length: size }, (_, i) => Array.from({ length: size }, (_, j) => -hessian[i * size + j])),
  );
  const column = solvePositive(minus.to2DArray(), unit.to1DArray());
  const variance = column?.[index] ?? Number.NaN;
  return variance > 0 ? Math.sqrt(variance) : 0.1;
}
