import type { LifeShape } from "./lifeShapes.js";

/** What is known of a life, on the logarithm of time. */
export interface LifeRow {
  readonly low: number; // logarithm of `after`, -Infinity for 0
  readonly high: number; // logarithm of `by`, Infinity when still running
  readonly count: number;
  readonly x: readonly number[];
  readonly entry: number; // logarithm of the use at entry, -Infinity for 0
}

/** Log-likelihood with gradient and Hessian, at parameters (coefficients, log sigma). */
export interface Likelihood {
  readonly value: number;
  readonly gradient: Float64Array;
  readonly hessian: Float64Array;
}

/**
 * Adds up the log-likelihood of lives; z = (log(life) - x.b) / sigma + shift.
 */
class LikelihoodSum {
  value = 0;
  readonly gradient: Float64Array;
  /** The upper triangle only. */
  readonly hessian: Float64Array;
  private readonly width: number;
  private readonly size: number;
  private readonly logSigma: number;
  private readonly sigma: number;
  private readonly dz: Float64Array;

  constructor(
    private readonly shape: LifeShape,
    private readonly parameters: Float64Array,
    private readonly shift: number,
  ) {
    this.size = parameters.length;
    this.width = this.size - 1;
    this.logSigma = parameters[this.width];
    this.sigma = Math.exp(this.logSigma);
    this.gradient = new Float64Array(this.size);
    this.hessian = new Float64Array(this.size * this.size);
    this.dz = new Float64Array(this.size);
  }

  /** Adds one life, or so many alike. */
  add({ low, high, count, x, entry }: LifeRow): void {
    const { shape, parameters, width } = this;
    let eta = 0;
    for (let j = 0; j < width; j++) eta += x[j] * parameters[j];
    // Late entry: given that the unit was alive then.
    if (entry !== -Infinity) {
      const z = this.zOf(entry, eta);
      const [v, g, h] = shape.logUpper(z);
      this.value -= count * v;
      this.addEnd(z, x, -count, g, h);
    }
    if (low === high) {
      const z = this.zOf(low, eta);
      const [v, g, h] = shape.logDensity(z);
      this.value += count * (v - this.logSigma - low);
      this.addEnd(z, x, count, g, h);
      this.gradient[width] -= count;
    } else if (high === Infinity) {
      if (low === -Infinity) return; // censored at time 0: says nothing
      const z = this.zOf(low, eta);
      const [v, g, h] = shape.logUpper(z);
      this.value += count * v;
      this.addEnd(z, x, count, g, h);
    } else if (low === -Infinity) {
      const z = this.zOf(high, eta);
      const f = Math.max(1e-300, shape.cdf(z));
      const g = shape.density(z) / f;
      this.value += count * Math.log(f);
      this.addEnd(z, x, count, g, shape.slope(z) / f - g * g);
    } else this.addInterval(this.zOf(low, eta), this.zOf(high, eta), x, count);
  }

  private zOf(y: number, eta: number): number {
    return (y - eta) / this.sigma + this.shift;
  }

  /** Adds first (g) and second (h) derivative by z of one end. */
  private addEnd(z: number, x: readonly number[], count: number, g: number, h: number): void {
    const { width, size, sigma, gradient, hessian, dz } = this;
    const plain = z - this.shift;
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
  }

  /** Adds a life that ended between two times. */
  private addInterval(a: number, b: number, x: readonly number[], count: number): void {
    const { shape, shift, sigma, width, size, hessian } = this;
    const d = Math.max(1e-300, a > 0 ? shape.upper(a) - shape.upper(b) : shape.cdf(b) - shape.cdf(a));
    const gb = shape.density(b) / d;
    const ga = -shape.density(a) / d;
    this.value += count * Math.log(d);
    this.addEnd(b, x, count, gb, shape.slope(b) / d - gb * gb);
    this.addEnd(a, x, count, ga, -shape.slope(a) / d - ga * ga);
    // Mixed term: -ga*gb for each pairing of the two ends.
    const [pa, pb] = [a - shift, b - shift];
    const da = (i: number) => (i === width ? -pa : -x[i] / sigma);
    const db = (i: number) => (i === width ? -pb : -x[i] / sigma);
    for (let i = 0; i < size; i++)
      for (let j = i; j < size; j++)
        hessian[i * size + j] -= count * ga * gb * (da(i) * db(j) + db(i) * da(j));
  }
}

export function lifeLikelihood(
  shape: LifeShape,
  rows: readonly LifeRow[],
  parameters: Float64Array,
  shift: number,
): Likelihood {
  const sum = new LikelihoodSum(shape, parameters, shift);
  for (const row of rows) sum.add(row);
  const { value, gradient, hessian } = sum;
  const size = parameters.length;
  for (let i = 0; i < size; i++) for (let j = 0; j < i; j++) hessian[i * size + j] = hessian[j * size + i];
  return { value, gradient, hessian };
}
