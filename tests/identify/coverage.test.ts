import { expect, test } from "vitest";
import { reportedOf, sources } from "./study/cases.js";
import { study } from "./study/coverageStudy.js";

// A short seeded sample of the study whose full results stand in docs/constants.md: each constant by itself.

/** Chance of so few hits or fewer where 92 % are due. */
function chanceOf(held: number, count: number): number {
  let [term, sum] = [0.08 ** count, 0];
  for (let k = 0; k <= held; k++) {
    sum += term;
    term *= ((count - k) / (k + 1)) * (0.92 / 0.08);
  }
  return sum;
}

test("the chance of few hits is that of a binomial law", () => {
  expect(chanceOf(2, 2)).toBeCloseTo(1, 12);
  expect(chanceOf(1, 2)).toBeCloseTo(1 - 0.92 ** 2, 12);
});

test.each([
  ["dc", 40],
  ["joint", 24],
  ["second", 16],
] as const)(
  "%s bench: each constant's interval holds the truth about as often as it says",
  (source, count) => {
    const tallies = study(source, 32_000_001, count);
    const seen = [...tallies].filter(([, t]) => t.half.length > 0);
    expect(seen.length).toBeGreaterThanOrEqual(3);
    // With about thirty constants a chance of one in ten thousand fails the test falsely once in three hundred changes.
    for (const [name, t] of seen) expect(chanceOf(t.held, t.half.length), name).toBeGreaterThan(1e-4);
  },
);

test("no breakaway is read off a shaft that turns back under a steady current", () => {
  // A torque trial of steps: its slow reversal was reported as a breakaway at three times the static friction.
  expect(reportedOf(sources.second(45_000_318)).breakawayCurrent).toBeUndefined();
});
