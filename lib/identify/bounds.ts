import type { Estimate } from "../units/estimate.js";
import type { ConstantName } from "./constants.js";

/** Constants that may have either sign; all others are zero or more by nature. */
const signed: ReadonlySet<ConstantName> = new Set<ConstantName>(["offsetError", "torqueGain"]);

/** Whether a constant may have either sign. */
export function isSigned(quantity: ConstantName): boolean {
  return signed.has(quantity);
}

/**
 * Constants for which an interval below zero means that the law is wrong by at least as much: an upper limit can still
 * be given.
 */
const frictions = /[fF]riction|^coulomb|^viscous|[dD]eadBand|^drag|voltageDrop/;

/**
 * Coulomb friction of one direction holds a constant load that pulls that way or the other: where the load outweighs it
 * the whole of it is below zero.
 */
export function holdsLoad(quantity: ConstantName): boolean {
  return /^coulomb.*(Positive|Negative)$/.test(quantity);
}

/** Whether a constant is a friction, or what friction takes. */
export function isFriction(quantity: ConstantName): boolean {
  return frictions.test(quantity);
}

/**
 * An estimate of something that cannot be negative, cut at zero: a value below zero becomes an upper limit. Where the
 * whole interval lies below zero the law it was taken from
 * is wrong by as much: a friction is then given as no larger than that, anything else is null.
 *
 * @example
 * notBelowZero({ value: -1, low: -3, high: 2, method: "..." }, false); // { value: 0, low: 0, high: 2, limit: "upper", ... }
 */
export function notBelowZero<E extends Omit<Estimate, "unit" | "level">>(
  estimate: E,
  friction: boolean,
): E | null {
  const { value, low, high } = estimate;
  if (value > 0) return low >= 0 ? estimate : { ...estimate, low: 0 };
  if (value === 0 && low === 0) return estimate;
  if (high > 0) return { ...estimate, value: 0, low: 0, high, limit: "upper" };
  return friction ? { ...estimate, value: 0, low: 0, high: -low, limit: "upper" } : null;
}
