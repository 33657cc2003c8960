import type { Regression } from "../numeric/linear/linearRegression.js";
import type { Finding } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import { intervalText, quantityText } from "../units/forPeople.js";
import { holdsLoad, isFriction, isSigned, notBelowZero } from "./bounds.js";
import { type ConstantName, constantNames, type MissingConstant, type Route } from "./constants.js";

/** Collects routes and findings while a recording is worked through. */
export class Book {
  readonly routes: Route[] = [];
  readonly findings: Finding[] = [];
  readonly missing: MissingConstant[] = [];

  /** Adds a route, within its physical bounds; numbers that are not finite are left out. */
  add(quantity: ConstantName, estimate: Omit<Estimate, "unit" | "level"> | null): void {
    if (estimate === null) return;
    const { value, low, high } = estimate;
    if (![value, low, high].every(Number.isFinite) || !(low <= high)) return;
    const { unit, words } = constantNames[quantity];
    const friction = isFriction(quantity);
    const signed = isSigned(quantity) || (holdsLoad(quantity) && high < 0);
    const within = signed ? estimate : notBelowZero(estimate, friction);
    if (!signed && !(high > 0) && value < 0)
      this.find(
        "warning",
        "below-zero",
        `${words}: ${quantityText(value, unit, 2)} (${intervalText({ ...estimate, unit })}) by ${estimate.method}, but it cannot be below zero.`,
        {
          value,
          unit,
          meaning: friction
            ? "the motion does not follow the law it was taken from; it is given as no larger than that law is wrong by"
            : "the motion does not follow the law it was taken from; it is left out",
        },
      );
    if (within !== null) this.routes.push({ quantity, estimate: { ...within, unit, level: 0.95 } });
  }

  /** The reported route to a quantity: the first of `all`. */
  get(quantity: ConstantName): Estimate | undefined {
    return this.all(quantity)[0];
  }

  /**
   * All routes to a quantity, in the order they were found, but the narrowest first when it is less than half as wide
   * as the first. Taking the narrowest every time would pick the intervals that came out too narrow by chance.
   */
  all(quantity: ConstantName): Estimate[] {
    const routes = this.routes.filter((r) => r.quantity === quantity).map((r) => r.estimate);
    const width = (e: Estimate): number => e.high - e.low;
    const narrowest = routes.reduce((best, e, k) => (width(e) < width(routes[best]) ? k : best), 0);
    if (narrowest > 0 && width(routes[narrowest]) < 0.5 * width(routes[0]))
      routes.unshift(...routes.splice(narrowest, 1));
    return routes;
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
