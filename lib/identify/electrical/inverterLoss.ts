import { normal } from "../../numeric/distributions/distributions.js";
import { halving } from "../../numeric/optimise/halving.js";

/** Voltage that an inverter loses along the current: mean and standard deviation of what is known of it, V. */
export interface InverterLoss {
  readonly mean: number;
  readonly deviation: number;
  /**
   * Standard deviation of a normal error about the mean that reaches as far as 95 % of what the loss may be. It is none
   * or it adds: its distribution leans to one side, and its own deviation would leave out too much there.
   */
  readonly reach: number;
  /** Probability that there is none. */
  readonly none: number;
}

/**
 * Probability, before the log, that it shows no loss: of three habits (the voltage asked for before the loss is made up
 * for, the voltage measured at the terminals, the voltage asked for without making up) only the last shows it (common
 * practice, no source).
 */
const madeUp = 2 / 3;

/**
 * What is known of the loss of an inverter from a log and from what is usual. It cannot be below zero: none at all with
 * a probability of two thirds, else the positive half of a normal distribution (common practice, no source). The log's
 * own estimate counts as normal about the truth. A loss entered as an error about zero would make the resistance too
 * large, since it only ever adds to the voltage.
 *
 * @param usual scale of the positive half, V, or several of the same probability where it is not known
 * @param found the log's own estimate and its standard error, V; absent where the log tells nothing
 * @example
 * inverterLoss(1).mean; // => 0.2660
 */
export function inverterLoss(
  usual: number | readonly number[],
  found?: { readonly size: number; readonly error: number },
): InverterLoss {
  const scales = (typeof usual === "number" ? [usual] : usual).filter((one) => one > 0);
  if (scales.length === 0) return { mean: 0, deviation: 0, reach: 0, none: 1 };
  const told = found !== undefined && Number.isFinite(found.size) && found.error > 0 ? found : undefined;
  const parts = scales.map((scale) => partOf(scale, told));
  // Of each scale by what it made of the log; no loss is as likely at all of them.
  const all = madeUp + (1 - madeUp) * (parts.reduce((sum, { ratio }) => sum + ratio, 0) / parts.length);
  const weights = parts.map(({ ratio }) => ((1 - madeUp) * ratio) / parts.length / all);
  const sum = (of: (part: LossPart) => number): number =>
    parts.reduce((total, part, k) => total + weights[k] * of(part), 0);
  const some = sum(() => 1);
  const mean = sum((part) => part.mean);
  const deviation = Math.sqrt(Math.max(0, sum((part) => part.variance + part.mean ** 2) - mean ** 2));
  // The value that five in a hundred lie above.
  const above = (x: number): number => sum((part) => part.above(x));
  let end = 0;
  if (some > 0.05) {
    let most = Math.max(...parts.map((part) => part.mean + 9 * Math.sqrt(part.variance)));
    while (above(most) > 0.05) most *= 2;
    const [low, high] = halving(0, most, (x) => above(x) > 0.05);
    end = (low + high) / 2;
  }
  return {
    mean,
    deviation,
    reach: Math.max(deviation, (end - mean) / normal.quantile(0.975)),
    none: 1 - some,
  };
}

/** A loss of one usual size, where there is some. */
interface LossPart {
  readonly mean: number;
  readonly variance: number;
  /** Density of what was found with some loss, beside that with none. */
  readonly ratio: number;
  /** Probability that it is larger. */
  readonly above: (x: number) => number;
}

function partOf(
  usual: number,
  found: { readonly size: number; readonly error: number } | undefined,
): LossPart {
  const precision = found === undefined ? 0 : 1 / found.error ** 2;
  const spread = 1 / Math.sqrt(1 / usual ** 2 + precision);
  const middle = found === undefined ? 0 : spread ** 2 * found.size * precision;
  const at = middle / spread;
  // Far below zero the normal integral and its density are taken by their ratio (Mills), which stays in range.
  const far = at < -6;
  const cut = far
    ? -at - 1 / at + 2 / at ** 3
    : Math.exp((-at * at) / 2) / Math.sqrt(2 * Math.PI) / normal.cdf(at);
  const widened = found === undefined ? 1 : 1 / Math.sqrt(1 + (usual / found.error) ** 2);
  // Mean and variance of a normal distribution cut at zero.
  const mean = Math.max(0, middle + spread * cut);
  return {
    mean,
    variance: far ? mean ** 2 : spread ** 2 * Math.max(0, 1 - cut * (cut + at)),
    ratio: 2 * widened * (far ? 1 / (cut * Math.sqrt(2 * Math.PI)) : scaled(at)),
    above: (x) =>
      far
        ? Math.exp(-x / Math.max(mean, Number.MIN_VALUE))
        : normal.cdf((middle - x) / spread) / normal.cdf(at),
  };
}

/** The normal integral up to `at`, times exp(at^2/2), held within the range of a double. */
function scaled(at: number): number {
  return normal.cdf(at) * Math.exp(Math.min(700, (at * at) / 2));
}
