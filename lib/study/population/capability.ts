import { chiSquare, normal } from "../../numeric/distributions/distributions.js";
import type { Estimate } from "../../units/estimate.js";
import { judgeShape, type ShapeVerdict } from "./normality.js";
import { finite, meanOf, squaresAbout } from "./sample.js";

/** How a spread fits between limits. */
export interface Capability {
  /** (upper - lower) / (6 deviations); absent with one limit only. */
  readonly cp?: Estimate;
  /** Distance from the mean to the nearer limit over 3 deviations. */
  readonly cpk: Estimate;
  /** Share beyond the limits that a normal distribution would have. */
  readonly beyond: number;
  /** Values found beyond the limits. */
  readonly counted: number;
  /** The indices mean what they say for a normal shape only. */
  readonly shape: ShapeVerdict;
}

/**
 * Process capability against limits: Cp with its chi-square interval, Cpk with Bissell's (Bissell, A. F. (1990),
 * Applied Statistics 39, 331-340). Terms as in NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.
 *
 * @throws RangeError without a limit, or with limits the wrong way round, or fewer than 2 values
 * @example
 * capability([10.1, 9.9, 10.0, 10.2, 9.8], { lower: 9, upper: 11 }).cpk.value; // => 2.11
 */
export function capability(
  values: ArrayLike<number>,
  limits: { readonly lower?: number; readonly upper?: number; readonly level?: number },
): Capability {
  const x = finite(values);
  if (x.length < 2) throw new RangeError(`capability needs 2 values or more, got ${x.length}`);
  const mean = meanOf(x);
  const indices = capabilityFrom(mean, Math.sqrt(squaresAbout(x) / (x.length - 1)), x.length, limits);
  const { lower = -Infinity, upper = Infinity } = limits;
  return { ...indices, counted: x.filter((v) => v < lower || v > upper).length, shape: judgeShape(x) };
}

/**
 * The indices of `capability` from a mean, a deviation and a count that are known already.
 *
 * @param mean in the unit of the limits
 * @param deviation standard deviation, in the same unit
 * @param count values behind both
 * @param limits one or both; `level` is the coverage of the intervals, 0.95 when absent
 * @throws RangeError without a limit, with limits the wrong way round, or for a count below 2
 * @example
 * capabilityFrom(10, 0.15, 50, { lower: 9.5, upper: 10.5 }).cp?.value; // => 1.11
 */
export function capabilityFrom(
  mean: number,
  deviation: number,
  count: number,
  limits: { readonly lower?: number; readonly upper?: number; readonly level?: number },
): Pick<Capability, "cp" | "cpk" | "beyond"> {
  const { lower = -Infinity, upper = Infinity, level = 0.95 } = limits;
  if (lower === -Infinity && upper === Infinity)
    throw new RangeError("capability needs a limit, lower or upper");
  if (!(lower < upper))
    throw new RangeError(`the lower limit ${lower} is not below the upper limit ${upper}`);
  const df = count - 1;
  const tail = (1 - level) / 2;
  const common = { unit: "1", level, samples: count };
  const cp = (upper - lower) / (6 * deviation);
  const cpk = Math.min(upper - mean, mean - lower) / (3 * deviation);
  const half = normal.quantile(1 - tail) * Math.sqrt(1 / (9 * count) + cpk ** 2 / (2 * df));
  return {
    ...(Number.isFinite(cp)
      ? {
          cp: {
            value: cp,
            low: cp * Math.sqrt(chiSquare.quantile(tail, df) / df),
            high: cp * Math.sqrt(chiSquare.quantile(1 - tail, df) / df),
            method: "Cp, chi-square interval",
            ...common,
          },
        }
      : {}),
    cpk: { value: cpk, low: cpk - half, high: cpk + half, method: "Cpk, Bissell interval", ...common },
    beyond: normal.upper((upper - mean) / deviation) + normal.cdf((lower - mean) / deviation),
  };
}
