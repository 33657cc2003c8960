import { normal } from "../../numeric/distributions/distributions.js";

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
 * @param usual scale of the positive half, V
 * @param found the log's own estimate and its standard error, V; absent where the log tells nothing
 * @example
 * inverterLoss(1).mean; // => 0.2660
 */
export function inverterLoss(
  usual: number,
  found?: { readonly size: number; readonly error: number },
): InverterLoss {
  if (!(usual > 0)) return { mean: 0, deviation: 0, reach: 0, none: 1 };
  const told = found !== undefined && Number.isFinite(found.size) && found.error > 0;
  const precision = told ? 1 / found.error ** 2 : 0;
  const spread = 1 / Math.sqrt(1 / usual ** 2 + precision);
  const middle = told ? spread ** 2 * found.size * precision : 0;
  const at = middle / spread;
  // Far below zero the normal integral and its density are taken by their ratio (Mills), which stays in range.
  const far = at < -6;
  const cut = far
    ? -at - 1 / at + 2 / at ** 3
    : Math.exp((-at * at) / 2) / Math.sqrt(2 * Math.PI) / normal.cdf(at);
  // Density of what was found with some loss, beside that with none.
  const widened = told ? 1 / Math.sqrt(1 + (usual / found.error) ** 2) : 1;
  const ratio = 2 * widened * (far ? 1 / (cut * Math.sqrt(2 * Math.PI)) : scaled(at));
  const some = 1 - madeUp / (madeUp + (1 - madeUp) * ratio);
  // Mean and variance of a normal distribution cut at zero.
  const mean = Math.max(0, middle + spread * cut);
  const variance = far ? mean ** 2 : spread ** 2 * Math.max(0, 1 - cut * (cut + at));
  const deviation = Math.sqrt(Math.max(0, some * (variance + mean ** 2) - (some * mean) ** 2));
  // The value that five in a hundred lie above, of what there is of a loss.
  const above = 0.05 / Math.max(some, 0.05);
  const end = far || above >= 1 ? 0 : middle + spread * normal.quantile(1 - above * normal.cdf(at));
  return {
    mean: some * mean,
    deviation,
    reach: Math.max(deviation, (end - some * mean) / normal.quantile(0.975)),
    none: 1 - some,
  };
}

/** The normal integral up to `at`, times exp(at^2/2), held within the range of a double. */
function scaled(at: number): number {
  return normal.cdf(at) * Math.exp(Math.min(700, (at * at) / 2));
}
