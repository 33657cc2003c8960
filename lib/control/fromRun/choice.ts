import type { Estimate } from "../../units/estimate.js";
import type { Quantity } from "../models/speedLoop.js";

/** Quantities whose estimate may come out below zero by noise, where only zero makes sense. */
const notBelowZero = new Set(["viscousFriction", "coulombFriction", "staticFriction", "stribeckSpeed"]);

/** Takes the first offer that is there, and notes where it came from. */
export class Choice {
  /** Where each number came from, by name. */
  readonly sources: Record<string, string> = {};

  quantity(
    name: string,
    ...offers: readonly (readonly [Quantity | undefined, string])[]
  ): Quantity | undefined {
    for (const [quantity, source] of offers)
      if (quantity !== undefined && (typeof quantity === "number" ? Number.isFinite(quantity) : true)) {
        this.sources[name] = source;
        return notBelowZero.has(name) ? atLeastZero(quantity) : quantity;
      }
    return undefined;
  }

  number(name: string, ...offers: readonly (readonly [number | undefined, string])[]): number | undefined {
    return this.quantity(name, ...offers) as number | undefined;
  }
}

function atLeastZero(quantity: Quantity): Quantity {
  if (typeof quantity === "number") return Math.max(0, quantity);
  const { value, low, high } = quantity;
  return { ...quantity, value: Math.max(0, value), low: Math.max(0, low), high: Math.max(0, high) };
}

/** Words for where an estimate came from. */
export const estimatedBy = (e: Estimate | undefined): string => `estimated: ${e?.method ?? ""}`;

/** A field with its value, or no field where there is none. */
export function given<K extends string, V>(name: K, value: V | undefined): { [k in K]?: V } {
  return (value === undefined ? {} : { [name]: value }) as { [k in K]?: V };
}

/** Words for a time. */
export const milliseconds = (t: number): string => `${Number((1e3 * t).toPrecision(2))} ms`;
