import erfcinv from "@stdlib/math-base-special-erfcinv";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import type { Estimate } from "../../units/estimate.js";
import { type FixedLoop, fixLoop, type Quantity, type SpeedLoop, type ValueWithin } from "./speedLoop.js";

/** Names of quantities that must stay above zero whatever the interval says. */
const positive = new Set(["inertia", "torqueConstant", "currentBandwidth", "speedFilter"]);
/** Names of quantities that must not fall below zero. */
const notNegative = new Set(["viscousFriction", "coulombFriction", "staticFriction"]);

const keep = (name: string, x: number, value: number): number =>
  positive.has(name) ? Math.max(x, 1e-3 * value) : notNegative.has(name) ? Math.max(x, 0) : x;

/** True when any quantity of the loop has an interval. */
export function hasSpread(loop: SpeedLoop): boolean {
  let found = false;
  fixLoop(loop, (q) => {
    if (typeof q !== "number" && (q.low < q.value || q.high > q.value)) found = true;
    return typeof q === "number" ? q : q.value;
  });
  return found;
}

/**
 * Loops drawn from the intervals of a loop's quantities, each taken as independent and normal with its own width on
 * either side of the best value (the interval's stated coverage sets the width). The same seed draws the same loops.
 */
export function drawLoops(loop: SpeedLoop, count: number, seed: number): FixedLoop[] {
  const random = seededRandom(seed);
  const drawnValue: ValueWithin = (quantity: Quantity, name: string) => {
    if (typeof quantity === "number") return quantity;
    const z = random.normal();
    const reach = Math.SQRT2 * erfcinv(1 - (quantity.level ?? 0.95));
    const width = z < 0 ? quantity.value - quantity.low : quantity.high - quantity.value;
    return keep(name, quantity.value + (z * (Number.isFinite(width) ? width : 0)) / reach, quantity.value);
  };
  return Array.from({ length: count }, () => fixLoop(loop, drawnValue));
}

/** Every combination of interval ends; more than `most` quantities with an interval are cut to the first `most`. */
export function cornerLoops(loop: SpeedLoop, most = 8): FixedLoop[] {
  const names: string[] = [];
  fixLoop(loop, (q, name) => {
    if (typeof q !== "number" && (q.low < q.value || q.high > q.value) && names.length < most)
      names.push(name);
    return typeof q === "number" ? q : q.value;
  });
  return Array.from({ length: 2 ** names.length }, (_, code) =>
    fixLoop(loop, (q, name) => {
      if (typeof q === "number") return q;
      const bit = names.indexOf(name);
      if (bit === -1) return q.value;
      return keep(name, (code >> bit) & 1 ? q.high : q.low, q.value);
    }),
  );
}

/** The interval that holds the middle 95 % of the drawn values, about a best value. */
export function interval(value: number, drawn: readonly number[], unit: string, method: string): Estimate {
  const usable = drawn.filter((x) => !Number.isNaN(x)).sort((a, b) => a - b);
  if (usable.length === 0) return { value, low: value, high: value, unit, method };
  const at = (share: number): number => {
    const place = share * (usable.length - 1);
    const below = usable[Math.floor(place)];
    const above = usable[Math.ceil(place)];
    return below === above ? below : below + (above - below) * (place - Math.floor(place));
  };
  return {
    value,
    low: Math.min(at(0.025), value),
    high: Math.max(at(0.975), value),
    unit,
    method,
    level: 0.95,
  };
}
