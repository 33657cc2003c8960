import { expect, test } from "vitest";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { driftingMotors } from "../../lib/study/population/driftingMotors.js";
import { type Decision, leastChance } from "./falseAlarms.js";
import type { Cell } from "./madeFleets.js";

/**
 * A quick watch over the false-alarm table of docs/study.md: at a stated chance of 5 % the counts of sound fleets must
 * lie where a rate between nothing and 7.5 % has them with a chance of 99.9 % (binomial). What is measured with a
 * thousand fleets is in the table.
 */
const most = (fleets: number) => {
  let [n, chance, sum] = [0, 0.925 ** fleets, 0];
  for (; sum + chance < 0.999; n++) {
    sum += chance;
    chance *= ((fleets - n) / (n + 1)) * (0.075 / 0.925);
  }
  return n;
};

const watched: readonly (readonly [decision: Decision, cell: Cell, fleets: number])[] = [
  ["outlying", { motors: 30, batches: 10, tails: "normal" }, 300],
  ["outlying", { motors: 100, batches: 33, tails: "t(5)" }, 300],
  ["odd batch", { motors: 30, batches: 10, tails: "t(5)" }, 300],
  ["odd batch", { motors: 100, batches: 33, tails: "normal" }, 300],
  ["batches differ", { motors: 30, batches: 5, tails: "t(5)" }, 100],
  ["chart", { motors: 30, batches: 10, tails: "t(5)" }, 30],
  ["drift", { motors: 30, batches: 1, tails: "t(5)" }, 30],
  ["drift, same days", { motors: 10, batches: 1, tails: "normal" }, 30],
];

test.each(watched)("%s of sound fleets, %o: no more false alarms than stated", (decision, cell, fleets) => {
  let alarms = 0;
  for (let k = 0; k < fleets; k++) if (leastChance(decision, cell, 202, k) < 0.05) alarms++;
  expect(alarms).toBeLessThanOrEqual(most(fleets));
});

test("a fleet whose motors are watched one after the other over a long time is not said to drift", () => {
  const random = seededRandom(31);
  // Each fleet has days of its own, and so a null distribution that is drawn for it alone.
  const fleets = 20;
  const motors = Array.from({ length: 60 }, (_, m) => m);
  let alarms = 0;
  for (let fleet = 0; fleet < fleets; fleet++) {
    const runs = motors.flatMap((m) => {
      const start = 10 * Math.floor(60 * random.uniform());
      return [0, 30, 60, 90, 120, 150].map((day) => ({
        motor: `m${m}`,
        time: start + day,
        value: 100 + random.normal(),
      }));
    });
    const found = driftingMotors({ kv: { runs } }, { alpha: 0.05 });
    if (!isUndetermined(found) && found.fleet.some((f) => f.drifts)) alarms++;
  }
  expect(alarms).toBeLessThanOrEqual(most(fleets));
});
