import { expect, test } from "vitest";
import { turnbullBand } from "../../lib/study/life/turnbullBand.js";
import { seeded } from "./seeded.js";

test("lives seen at looks every 20 h: the 95 % band at a look holds the truth in about 95 % of 120 seeded samples", () => {
  // Between looks nothing is known, at a look the number failed is binomial: the band must come out near its level
  // there.
  let held = 0;
  let asked = 0;
  for (let trial = 0; trial < 120; trial += 1) {
    const random = seeded(500 + trial);
    const lives = Array.from({ length: 80 }, () => {
      const look = Math.floor((-100 * Math.log(1 - random.uniform())) / 20);
      return look >= 8 ? { after: 160, by: Infinity } : { after: 20 * look, by: 20 * (look + 1) };
    });
    for (const { time, low, high } of turnbullBand(lives, { samples: 200, seed: trial + 1 })) {
      if (time !== 60 && time !== 120) continue;
      const truth = Math.exp(-time / 100);
      asked += 1;
      if (low <= truth && truth <= high) held += 1;
    }
  }
  expect(asked).toBe(240);
  // Binomial: 240 at 95 % lies between 90.5 % and 98.5 % with probability 0.999; the looks of one sample go together,
  // so wider.
  expect(held / asked).toBeGreaterThan(0.89);
  expect(held / asked).toBeLessThan(0.99);
});
