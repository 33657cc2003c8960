import type { Estimate } from "../units/estimate.js";
import type { ConstantName } from "./constants.js";

/** Constants that may have either sign; all others are zero or more by nature. */
const signed: ReadonlySet<ConstantName> = new Set<ConstantName>(["offsetError", "torqueGain"]);

/** Whether a constant may have either sign. */
export function isSigned(quantity: ConstantName): boolean {
  return signed.has(quantity);
}

/**
 * An estimate of something that cannot be negative, cut at zero: a value below zero becomes an upper limit. Null where the whole interval lies below
 * zero: then the law it was taken from does not hold.
 *
 * @example
 * notBelowZero({ value: -1, low: -3, high: 2, method: "..." }); // { value: 0, low: 0, high: 2, limit: "upper", ... }
 */
export function notBelowZero<E extends Omit<Estimate, "unit" | "level">>(estimate: E): E | null {
  const { value, low, high } = estimate;
  if (!(high > 0) && value < 0) return null;
  if (value > 0) return low >= 0 ? estimate : { ...estimate, low: 0 };
  if (value === 0 && low === 0) return estimate;
  return { ...estimate, value: 0, low: 0, high: Math.max(0, high), limit: "upper" };
}
