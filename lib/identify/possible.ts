import { largestSpeed } from "../motor/largestSpeed.js";
import { type ConstantName, constantNames } from "./constants.js";

/**
 * Sizes in SI that no electric machine passes, by the unit of a constant: several decades beyond what is built, from
 * the motor of a watch to that of a ship (judgement, no source). They tell a figure whose unit was mistaken by a large
 * factor, and are no prior of what is usual.
 */
const sizes: Readonly<Record<string, readonly [least: number, largest: number]>> = {
  "{rev}/min/V": [1e-4, 1e6],
  "V.s/rad": [1e-6, 1e4],
  Wb: [1e-7, 1e3],
  "N.m/A": [1e-6, 1e4],
  Ohm: [1e-6, 1e6],
  H: [1e-9, 1e3],
  A: [0, 1e5],
  V: [0, 1e5],
  "rad/s/V": [1e-5, 1e5],
  "rad/s": [0, largestSpeed],
  "rad/s2": [0, 1e8],
  "kg.m2": [1e-13, 1e8],
  "N.m": [0, 1e8],
  "A.s2/rad": [1e-12, 1e8],
};

/**
 * Whether an interval of a constant holds any size that an electric machine can have.
 *
 * @example
 * isPossible("speedPerDuty", { low: 120074, high: 122682 }); // => false
 */
export function isPossible(
  quantity: ConstantName,
  { low, high }: { readonly low: number; readonly high: number },
): boolean {
  const [least, largest] = sizes[constantNames[quantity].unit] ?? [0, Number.POSITIVE_INFINITY];
  const [near, far] = low > 0 ? [low, high] : high < 0 ? [-high, -low] : [0, Math.max(-low, high)];
  return near <= largest && far >= least;
}
