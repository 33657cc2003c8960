import { chiSquare } from "../../numeric/distributions/distributions.js";
import { crossing } from "../../numeric/optimise/minimise.js";
import type { Estimate } from "../../units/estimate.js";
import { checkLives, failureCount, type Life, type Undetermined, unitCount } from "./lifeData.js";
import type { LifeRow } from "./lifeLikelihood.js";
import { type LifeDistribution, lifeShapes } from "./lifeShapes.js";
import { type LifeFit, type LifeProblem, maximise, standardError, startOf } from "./maximiseLife.js";

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
  checkLives(lives);
  const failures = failureCount(lives);
  const rows = rowsOf(lives, settings.covariates);
  const width = rows[0]?.x.length ?? 1;
  const units = unitCount(lives);
  if (failures < width + 1)
    return {
      undetermined: `${failures} ${failures === 1 ? "failure" : "failures"} among ${units} ${units === 1 ? "unit" : "units"}: a fit of ${width + 1} parameters needs at least ${width + 1} failures`,
    };
  for (const [i, row] of rows.entries())
    if (!row.x.every(Number.isFinite) || row.x.length !== width)
      throw new RangeError(`life ${i + 1}: a covariate is missing or not a number`);
  const problem = { shape: lifeShapes[distribution], rows, shift: 0 };
  const best = maximise(problem, startOf(rows), -1);
  if (best === undefined)
    return {
      undetermined:
        "the likelihood has no maximum: the failures do not fix a spread (are they all at one time?)",
    };
  return new FittedLife(distribution, problem, best, settings).model(failures);
}

function rowsOf(lives: readonly Life[], covariates: Settings["covariates"]): LifeRow[] {
  return lives.map((life) => ({
    low: Math.log(Math.max(life.after, life.from ?? 0)),
    entry: Math.log(life.from ?? 0),
    high: Math.log(life.by),
    count: life.count ?? 1,
    x: [1, ...(covariates?.(life) ?? [])],
  }));
}

/** A fit with its profile-likelihood intervals. */
class FittedLife {
  /** Number of coefficients; log(sigma) is the parameter after them. */
  private readonly width: number;
  private readonly method: string;
  private readonly common: { readonly level: number; readonly samples: number };
  /** By how much the log-likelihood falls at the ends of an interval. */
  private readonly drop: number;
  private readonly sigma: Estimate;

  constructor(
    private readonly distribution: LifeDistribution,
    private readonly problem: LifeProblem,
    private readonly best: LifeFit,
    private readonly settings: Settings,
  ) {
    const { level = 0.95 } = settings;
    this.width = best.parameters.length - 1;
    this.method = `${distribution === "weibull" ? "Weibull" : "log-normal"} maximum likelihood, profile interval`;
    this.common = { level, samples: problem.rows.reduce((sum, row) => sum + row.count, 0) };
    this.drop = chiSquare.quantile(level, 1) / 2;
    const [low, high] = this.profile(problem, best, this.width);
    this.sigma = {
      value: Math.exp(best.parameters[this.width]),
      low: Math.exp(low),
      high: Math.exp(high),
      unit: "1",
      method: this.method,
      ...this.common,
    };
  }

  model(failures: number): LifeModel {
    const { distribution, sigma, best, common } = this;
    const { shape } = this.problem;
    const coefficients = Array.from({ length: this.width }, (_, j) => this.coefficient(j));
    return {
      distribution,
      coefficients,
      sigma,
      ...(distribution === "weibull" ? this.weibull(coefficients[0]) : {}),
      logLikelihood: best.logLikelihood,
      units: common.samples,
      failures,
      iterations: best.iterations,
      level: this.settings.level ?? 0.95,
      life: (share, x) => this.life(share, x),
      survivalAt: (time, x) => shape.upper((Math.log(time) - this.location(x)) / sigma.value),
      cumulativeHazard: (z) => -shape.logUpper(z)[0],
      logHazard: (z) => shape.logDensity(z)[0] - shape.logUpper(z)[0],
      quantileOf: (share) => shape.quantile(share),
    };
  }

  /** Interval of one parameter of a fit. */
  private profile(problem: LifeProblem, from: LifeFit, index: number): [number, number] {
    const { intervals = "all" } = this.settings;
    if (intervals === "none" || (intervals === "last" && index !== this.width - 1))
      return [Number.NaN, Number.NaN];
    const value = from.parameters[index];
    const scale = Math.max(1e-6, standardError(problem, from.parameters, index));
    const side = (direction: 1 | -1) => {
      let warm = from.parameters;
      const found = crossing(
        (at) => {
          const start = Float64Array.from(warm);
          start[index] = at;
          const fit = maximise(problem, start, index);
          if (fit === undefined) return 1;
          warm = fit.parameters;
          return from.logLikelihood - fit.logLikelihood - this.drop;
        },
        value,
        direction * scale,
      );
      return found ?? direction * Infinity;
    };
    return [side(-1), side(1)];
  }

  private coefficient(j: number): Estimate {
    const [low, high] = this.profile(this.problem, this.best, j);
    const { names = [] } = this.settings;
    const name = j === 0 ? "location of log(life)" : `slope of log(life) on ${names[j - 1] ?? `x${j}`}`;
    const method = `${name}, ${this.method}`;
    return { value: this.best.parameters[j], low, high, unit: "1", method, ...this.common };
  }

  /** Shape, and without covariates the characteristic life. */
  private weibull(location: Estimate): Pick<LifeModel, "shape" | "scale"> {
    const { sigma } = this;
    const shape = { ...sigma, value: 1 / sigma.value, low: 1 / sigma.high, high: 1 / sigma.low };
    if (this.width > 1) return { shape };
    return {
      shape,
      scale: {
        ...location,
        method: this.method,
        unit: this.settings.unit ?? "h",
        value: Math.exp(location.value),
        low: Math.exp(location.low),
        high: Math.exp(location.high),
      },
    };
  }

  /** Location of log(life) at some covariates. */
  private location(x: readonly number[] = []): number {
    const { parameters } = this.best;
    if (x.length !== this.width - 1)
      throw new RangeError(`the model has ${this.width - 1} covariates, got ${x.length}`);
    return x.reduce((sum, xj, j) => sum + parameters[j + 1] * xj, parameters[0]);
  }

  private life(share: number, x: readonly number[] | undefined): Estimate {
    const { shape, rows } = this.problem;
    // The model again with its location replaced by the wanted quantile: log(life) = q + b.(x - x*) + sigma*(error -
    // w).
    const w = shape.quantile(share);
    const value = Math.exp(this.location(x) + this.sigma.value * w);
    const moved = rows.map((row) => ({
      ...row,
      x: row.x.map((v, j) => (j === 0 ? 1 : v - (x ?? [])[j - 1])),
    }));
    const start = Float64Array.from(this.best.parameters);
    start[0] = Math.log(value);
    const fit = { parameters: start, logLikelihood: this.best.logLikelihood, iterations: 0 };
    const [low, high] = this.profile({ shape, rows: moved, shift: w }, fit, 0);
    return {
      value,
      low: Math.exp(low),
      high: Math.exp(high),
      unit: this.settings.unit ?? "h",
      method: `time of ${share * 100} % failed, ${this.method}`,
      ...this.common,
    };
  }
}
