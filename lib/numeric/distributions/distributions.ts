import { createRequire } from "node:module";

/**
 * Distribution functions, thin over the special functions of stdlib (both tails, full double precision): probabilities
 * far out in a tail keep their digits because the upper tail is asked for directly and never formed as 1 - p.
 */

const require = createRequire(import.meta.url);

type Three = (a: number, b: number, c?: boolean, d?: boolean) => number;
type Four = (a: number, b: number, c: number, d?: boolean, e?: boolean) => number;
type One = (a: number) => number;
interface Special {
  readonly betainc: Four;
  readonly betaincinv: Four;
  readonly gammainc: Three;
  readonly gammaincinv: Three;
  readonly erfc: One;
  readonly erfcinv: One;
}

let loaded: Special | undefined;

/** Loaded at first use: some hundred small files that nobody who only reads a recording should wait for. */
function special(): Special {
  // Spelled out, so that the bundler can see the names.
  loaded ??= {
    betainc: require("@stdlib/math-base-special-betainc"),
    betaincinv: require("@stdlib/math-base-special-betaincinv"),
    gammainc: require("@stdlib/math-base-special-gammainc"),
    gammaincinv: require("@stdlib/math-base-special-gammaincinv"),
    erfc: require("@stdlib/math-base-special-erfc"),
    erfcinv: require("@stdlib/math-base-special-erfcinv"),
  };
  return loaded;
}

/** One distribution with its parameters left open. `upper` is the probability above. */
export interface Distribution<Parameters extends readonly number[]> {
  readonly cdf: (x: number, ...parameters: Parameters) => number;
  readonly upper: (x: number, ...parameters: Parameters) => number;
  readonly quantile: (p: number, ...parameters: Parameters) => number;
}

/**
 * Standard normal distribution.
 *
 * @example
 * normal.quantile(0.975); // 1.959963984540054
 */
export const normal: Distribution<[]> & { readonly density: (z: number) => number } = {
  cdf: (z) => 0.5 * special().erfc(-z / Math.SQRT2),
  upper: (z) => 0.5 * special().erfc(z / Math.SQRT2),
  quantile: (p) => -Math.SQRT2 * special().erfcinv(2 * p),
  density: (z) => Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI),
};

/** Chi-square distribution with `df` degrees of freedom. */
export const chiSquare: Distribution<[df: number]> = {
  cdf: (x, df) => (x <= 0 ? 0 : x === Infinity ? 1 : special().gammainc(x / 2, df / 2, true, false)),
  upper: (x, df) => (x <= 0 ? 1 : x === Infinity ? 0 : special().gammainc(x / 2, df / 2, true, true)),
  quantile: (p, df) => (p <= 0 ? 0 : p >= 1 ? Infinity : 2 * special().gammaincinv(p, df / 2)),
};

/** Beta distribution. */
export const beta: Distribution<[a: number, b: number]> = {
  cdf: (x, a, b) => (x <= 0 ? 0 : x >= 1 ? 1 : special().betainc(x, a, b, true, false)),
  upper: (x, a, b) => (x <= 0 ? 1 : x >= 1 ? 0 : special().betainc(x, a, b, true, true)),
  quantile: (p, a, b) => (p <= 0 ? 0 : p >= 1 ? 1 : special().betaincinv(p, a, b)),
};

/** Fisher's F distribution with `df1` and `df2` degrees of freedom. */
export const fRatio: Distribution<[df1: number, df2: number]> = {
  cdf: (x, df1, df2) => (x <= 0 ? 0 : 1 - fRatio.upper(x, df1, df2)),
  upper: (x, df1, df2) => {
    if (x <= 0) return 1;
    if (x === Infinity) return 0;
    return special().betainc(df2 / (df2 + df1 * x), df2 / 2, df1 / 2, true, false);
  },
  quantile: (p, df1, df2) => {
    if (p <= 0) return 0;
    if (p >= 1) return Infinity;
    const y = special().betaincinv(p, df2 / 2, df1 / 2, true);
    return (df2 * (1 - y)) / (df1 * y);
  },
};

/** Student's t distribution with `df` degrees of freedom. */
export const studentT: Distribution<[df: number]> = {
  cdf: (t, df) => studentT.upper(-t, df),
  upper: (t, df) => {
    if (df === Infinity) return normal.upper(t);
    const tail = 0.5 * special().betainc(df / (df + t * t), df / 2, 0.5, true, false);
    return t >= 0 ? tail : 1 - tail;
  },
  quantile: (p, df) => {
    if (df === Infinity) return normal.quantile(p);
    if (p === 0.5) return 0;
    const tail = 2 * Math.min(p, 1 - p);
    const y = special().betaincinv(tail, df / 2, 0.5);
    const t = Math.sqrt((df * (1 - y)) / y);
    return p < 0.5 ? -t : t;
  },
};
