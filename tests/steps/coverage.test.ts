import { expect, test } from "vitest";
import { coverage } from "./coverage.js";

// A short seeded sample of what makeCoverageTable.ts does in full (results in docs/step-coverage.md). With 100 trials a
// true coverage of 95 % gives between 88 and 100 in all but one of a thousand cases.
test.each([
  ["first-order", "white"],
  ["first-order", "correlated and quantised"],
  ["second-order-underdamped", "correlated"],
] as const)(
  "intervals of a %s response with %s noise hold the truth about as often as they claim",
  (truth, noise) => {
    const { rows, chosen } = coverage(truth, noise, 100, 5000);
    expect(chosen).toBeGreaterThan(0.93);
    for (const row of rows) {
      expect(row.trials).toBeGreaterThan(90);
      expect(row.coverage, row.quantity).toBeGreaterThanOrEqual(0.88);
      expect(Math.abs(row.bias), row.quantity).toBeLessThan(0.2);
    }
  },
);
