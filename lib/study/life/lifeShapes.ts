import { normal } from "../../numeric/distributions/distributions.js";

/** Distributions a life can be fitted with. */
export type LifeDistribution = "weibull" | "log-normal";

/** Value, first and second derivative by z of the logarithm of a term; for intervals by both ends. */
export interface LifeShape {
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

export const lifeShapes: Readonly<Record<LifeDistribution, LifeShape>> = {
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
