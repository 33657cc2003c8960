import { expect, test } from "vitest";
import { kaplanMeier } from "../../lib/study/life/kaplanMeier.js";
import { turnbullBand } from "../../lib/study/life/turnbullBand.js";
import { seeded } from "./seeded.js";

test("with exact and right-censored lives the band is about Greenwood's (Kaplan and Meier 1958; Greenwood 1926)", () => {
  const random = seeded(11);
  const lives = Array.from({ length: 150 }, () => {
    const t = -100 * Math.log(1 - random.uniform());
    return t > 150 ? { after: 150, by: Infinity } : { after: t, by: t };
  });
  const steps = kaplanMeier(lives).steps;
  for (const share of [0.8, 0.6, 0.4]) {
    const point = turnbullBand(lives).find(({ survival }) => survival < share - 1e-9);
    const step = steps.find(({ survival }) => survival < share - 1e-9);
    if (!point || !step) throw new Error("the curve does not come down that far");
    expect(point.survival).toBeCloseTo(step.survival, 9);
    // Two ways to the same spread: the halves of both bands within a quarter of each other.
    const ratio = (point.high - point.low) / (step.high - step.low);
    expect(ratio).toBeGreaterThan(0.75);
    expect(ratio).toBeLessThan(1.25);
  }
});

test("impossible options are refused", () => {
  expect(() => turnbullBand([{ after: 0, by: 2 }], { level: 95 })).toThrow("between 0 and 1");
  expect(() => turnbullBand([{ after: 0, by: 2 }], { samples: 3 })).toThrow("at least 20");
  expect(() => turnbullBand([{ after: 5, by: 2 }])).toThrow(RangeError);
});
