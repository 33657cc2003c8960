import { expect, test } from "vitest";
import { judgeScenario } from "../calibration/judgeScenario.js";
import { summarise } from "../calibration/summary.js";

test("a short sample of the calibration: verdicts right, no order with g < 0 called usable", () => {
  const summary = summarise(Array.from({ length: 10 }, (_, k) => judgeScenario(2_000_001 + k)));
  expect(summary.verdicts.judgeable).toBeGreaterThan(8);
  expect(summary.verdicts.right).toBe(summary.verdicts.judgeable);
  expect(summary.negativeGain.count).toBeGreaterThan(0);
  expect(summary.negativeGain.calledUsable).toBe(0);
});
