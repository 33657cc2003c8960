import { expect, test } from "vitest";
import { runStudy, studies } from "./coverage.js";

// A short seeded sample of the study whose full results stand in docs/constants.md.
test.each([
  [0, 20],
  [1, 6],
  [3, 6],
])("study %d: intervals hold the truth in most of %d seeded recordings, without bias", (k, trials) => {
  const tallies = runStudy(studies[k], trials, 5001);
  let held = 0;
  let count = 0;
  let bias = 0;
  for (const tally of tallies.values()) {
    held += tally.held;
    count += tally.count;
    bias += tally.bias;
  }
  expect(count).toBeGreaterThan(10 * trials);
  expect(held / count).toBeGreaterThan(0.88);
  expect(Math.abs(bias / count)).toBeLessThan(0.2);
});
