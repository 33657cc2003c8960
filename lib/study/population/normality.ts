import { normal } from "../../numeric/distributions/distributions.js";
import { finite, meanOf, squaresAbout } from "./sample.js";

/** A test statistic with its p-value. */
export interface TestResult {
  readonly name: string;
  readonly statistic: number;
  readonly p: number;
  /** Degrees of freedom, where the test has them. */
  readonly df?: readonly number[];
}

const polynomial = (c: readonly number[], x: number) => c.reduceRight((sum, ci) => sum * x + ci, 0);

/**
 * Shapiro-Wilk test of normality for 3 to 5000 values. Algorithm AS R94: Royston, P. (1995), Applied Statistics 44(4),
 * 547-551. A small p speaks against normality.
 *
 * @throws RangeError for fewer than 3 or more than 5000 values, or when all are equal.
 * @example
 * shapiroWilk([148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236]).statistic; // => 0.79
 */
export function shapiroWilk(values: ArrayLike<number>): TestResult {
  const x = finite(values).sort();
  const n = x.length;
  if (n < 3 || n > 5000) throw new RangeError(`Shapiro-Wilk takes 3 to 5000 values, got ${n}`);
  if (x[0] === x[n - 1]) throw new RangeError("Shapiro-Wilk needs values that differ");
  const half = Math.floor(n / 2);
  const a = new Float64Array(half);
  if (n === 3) a[0] = Math.SQRT1_2;
  else {
    const m = Float64Array.from({ length: half }, (_, i) => normal.quantile((i + 0.625) / (n + 0.25)));
    const sum2 = 2 * m.reduce((sum, mi) => sum + mi * mi, 0);
    const root = Math.sqrt(sum2);
    const r = 1 / Math.sqrt(n);
    const a1 = polynomial([0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056], r) - m[0] / root;
    let first = 1;
    let scale: number;
    if (n > 5) {
      first = 2;
      const a2 = polynomial([0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633], r) - m[1] / root;
      scale = Math.sqrt((sum2 - 2 * m[0] ** 2 - 2 * m[1] ** 2) / (1 - 2 * a1 ** 2 - 2 * a2 ** 2));
      a[1] = a2;
    } else scale = Math.sqrt((sum2 - 2 * m[0] ** 2) / (1 - 2 * a1 ** 2));
    a[0] = a1;
    for (let i = first; i < half; i++) a[i] = -m[i] / scale;
  }
  const spread = squaresAbout(x);
  let weighted = 0;
  for (let i = 0; i < half; i++) weighted += a[i] * (x[n - 1 - i] - x[i]);
  const w = Math.min(1, weighted ** 2 / spread);
  let p: number;
  if (n === 3) p = Math.max(0, (6 / Math.PI) * (Math.asin(Math.sqrt(w)) - Math.asin(Math.sqrt(0.75))));
  else {
    let y = Math.log(1 - w);
    let mean: number;
    let sd: number;
    if (n <= 11) {
      const gamma = polynomial([-2.273, 0.459], n);
      if (y >= gamma) return { name: "Shapiro-Wilk", statistic: w, p: 0 };
      y = -Math.log(gamma - y);
      mean = polynomial([0.544, -0.39978, 0.025054, -6.714e-4], n);
      sd = Math.exp(polynomial([1.3822, -0.77857, 0.062767, -0.0020322], n));
    } else {
      const logN = Math.log(n);
      mean = polynomial([-1.5861, -0.31082, -0.083751, 0.0038915], logN);
      sd = Math.exp(polynomial([-0.4803, -0.082676, 0.0030302], logN));
    }
    p = normal.upper((y - mean) / sd);
  }
  return { name: "Shapiro-Wilk", statistic: w, p };
}

/**
 * Anderson-Darling test of normality with mean and deviation estimated from the values (8 or more). p by the
 * approximation in D'Agostino and Stephens (1986), Goodness-of-Fit Techniques, table 4.9.
 *
 * @throws RangeError for fewer than 8 values or when all are equal.
 * @example
 * andersonDarling([148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236]).statistic; // => 0.947
 */
export function andersonDarling(values: ArrayLike<number>): TestResult {
  const x = finite(values).sort();
  const n = x.length;
  if (n < 8) throw new RangeError(`Anderson-Darling takes 8 values or more, got ${n}`);
  if (x[0] === x[n - 1]) throw new RangeError("Anderson-Darling needs values that differ");
  const middle = meanOf(x);
  const sd = Math.sqrt(squaresAbout(x) / (n - 1));
  const tiny = 1e-300;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    const below = Math.log(Math.max(tiny, normal.cdf((x[i] - middle) / sd)));
    const above = Math.log(Math.max(tiny, normal.upper((x[n - 1 - i] - middle) / sd)));
    sum += (2 * i + 1) * (below + above);
  }
  const statistic = -n - sum / n;
  const s = (1 + 0.75 / n + 2.25 / n ** 2) * statistic;
  let p: number;
  if (s < 0.2) p = 1 - Math.exp(-13.436 + 101.14 * s - 223.73 * s * s);
  else if (s < 0.34) p = 1 - Math.exp(-8.318 + 42.796 * s - 59.938 * s * s);
  else if (s < 0.6) p = Math.exp(0.9177 - 4.279 * s - 1.38 * s * s);
  else if (s < 10) p = Math.exp(1.2937 - 5.709 * s + 0.0186 * s * s);
  else p = 3.7e-24;
  return { name: "Anderson-Darling", statistic, p };
}

/** What the values look like: decided by test, never assumed. */
export interface ShapeVerdict {
  /**
   * `normal` or `log-normal`: the other is rejected or fits worse; `either`: neither is rejected and the values cannot tell
   * them apart; `neither`: both are rejected; `undetermined`: too few values or no spread.
   */
  readonly shape: "normal" | "log-normal" | "either" | "neither" | "undetermined";
  readonly tests: readonly (TestResult & { readonly of: "values" | "logarithms" })[];
  readonly text: string;
}

/**
 * Judges whether values follow a normal or a log-normal distribution, by Shapiro-Wilk (Anderson-Darling above 5000
 * values) on the values and on their logarithms.
 *
 * @param alpha - chance of rejecting a true normal; 0.05 when absent
 * @example
 * judgeShape([1, 1, 1]).shape; // => "undetermined"
 */
export function judgeShape(values: ArrayLike<number>, alpha = 0.05): ShapeVerdict {
  const x = finite(values);
  if (x.length < 8)
    return {
      shape: "undetermined",
      tests: [],
      text: `${x.length} values: at least 8 are needed to judge a shape`,
    };
  if (x.every((xi) => xi === x[0])) return { shape: "undetermined", tests: [], text: "all values are equal" };
  const test = x.length <= 5000 ? shapiroWilk : andersonDarling;
  const straight = { ...test(x), of: "values" as const };
  const tests: (TestResult & { of: "values" | "logarithms" })[] = [straight];
  const positive = x.every((xi) => xi > 0);
  const show = (p: number) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`);
  const words = (name: string) => `${name} (${straight.name}, n = ${x.length})`;
  if (!positive) {
    const fits = straight.p >= alpha;
    return {
      shape: fits ? "normal" : "neither",
      tests,
      text: fits
        ? words(`a normal distribution is not contradicted, ${show(straight.p)}`)
        : words(`not normal, ${show(straight.p)}; not log-normal, since not all values are positive`),
    };
  }
  const logs = { ...test(x.map(Math.log)), of: "logarithms" as const };
  tests.push(logs);
  const [n, l] = [straight.p >= alpha, logs.p >= alpha];
  const shape = n && l ? "either" : n ? "normal" : l ? "log-normal" : "neither";
  const both = `normal ${show(straight.p)}, log-normal ${show(logs.p)}`;
  const text = {
    either: `normal and log-normal both fit and the values cannot tell them apart: ${both}`,
    normal: `normal fits, log-normal is rejected: ${both}`,
    "log-normal": `log-normal fits, normal is rejected: ${both}`,
    neither: `neither normal nor log-normal: ${both}`,
  }[shape];
  return { shape, tests, text: words(text) };
}
