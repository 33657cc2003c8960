import { expect, test } from "vitest";
import { judgeSet } from "../calibration/judgeSet.js";
import { setScenario } from "../calibration/setScenario.js";
import { summariseSets } from "../calibration/setSummary.js";

// A short sample of the calibration of whole sets (docs/calibration.md), on seeds of their own; the truth comes from
// commutation() in closed form.
const outcomes = [7700001, 7700002, 7700003, 7700004, 7700005].map((seed) => judgeSet(seed));
const { all, sets } = summariseSets(outcomes);

test("no order with g < 0, with little torque or with a mismatch is called usable", () => {
  expect(sets).toBe(5);
  expect(all.negativeKept).toBe(0);
  expect(all.badKept).toBe(0);
});

test("most orders that need rework get the right one, and hardly any a wrong one", () => {
  const needed = all.reworkRight + all.reworkNone + all.reworkWrong;
  expect(needed).toBeGreaterThan(5);
  expect(all.reworkRight / needed).toBeGreaterThan(0.6);
});

test("a sound order gives the others their torque gain", () => {
  // An offset kept from one order: that order is sound, the other two of its three stand at g = -0.5 (theory,
  // section 1).
  const seed = [7700011, 7700012, 7700013, 7700014].find((s) => {
    const { truth, fault } = setScenario(s, "offset kept from one order");
    return (
      fault.startsWith("offset kept") && truth.some((t) => t.gain > 0.9) && truth.some((t) => t.gain < 0)
    );
  }) as number;
  const made = setScenario(seed, "offset kept from one order");
  const outcome = judgeSet(seed, made);
  // Whether the sound order may be kept is another matter: here its drive tripped before the command was reversed.
  expect(outcome.gainInside).toBe(outcome.gains);
  expect(outcome.gainError / outcome.gains).toBeLessThan(0.1);
  expect(outcome.gainError).toBeLessThanOrEqual(outcome.gainErrorAlone + 1e-9);
});
