import type { Finding } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import { type ConstantName, constantNames, type MissingConstant, type Route } from "./constants.js";
import type { Regression } from "./linearRegression.js";

/** Collects routes and findings while a recording is worked through. */
export class Book {
  readonly routes: Route[] = [];
  readonly findings: Finding[] = [];
  readonly missing: MissingConstant[] = [];

  /** Adds a route; numbers that are not finite are left out. */
  add(quantity: ConstantName, estimate: Omit<Estimate, "unit" | "level"> | null): void {
    if (estimate === null) return;
    const { value, low, high } = estimate;
    if (![value, low, high].every(Number.isFinite) || !(low <= high)) return;
    this.routes.push({
      quantity,
      estimate: { ...estimate, unit: constantNames[quantity].unit, level: 0.95 },
    });
  }

  /** The route to a quantity with the narrowest interval. */
  get(quantity: ConstantName): Estimate | undefined {
    return this.all(quantity)[0];
  }

  /** All routes to a quantity, the narrowest interval first. */
  all(quantity: ConstantName): Estimate[] {
    return this.routes
      .filter((r) => r.quantity === quantity)
      .map((r) => r.estimate)
      .sort((a, b) => a.high - a.low - (b.high - b.low));
  }

  find(severity: Finding["severity"], code: string, message: string, more: Partial<Finding> = {}): void {
    this.findings.push({ severity, code, message, ...more });
  }
}

/** Interval of one coefficient of a regression. */
export function intervalOf(r: Regression, j: number): { value: number; low: number; high: number } {
  const half = r.critical[j] * r.standardErrors[j];
  return { value: r.coefficients[j], low: r.coefficients[j] - half, high: r.coefficients[j] + half };
}

/** Interval with its ends taken as magnitudes, for a value whose sign is told elsewhere. */
export function magnitude(e: { value: number; low: number; high: number }): {
  value: number;
  low: number;
  high: number;
} {
  return e.value >= 0 ? e : { value: -e.value, low: -e.high, high: -e.low };
}
