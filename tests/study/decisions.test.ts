import { expect, test } from "vitest";
import { type Decision, leastChance } from "./falseAlarms.js";
import type { Cell } from "./madeFleets.js";

/**
 * A quick watch over the false-alarm table of docs/study.md: at a stated chance of 5 % the counts of sound fleets must lie where a rate
 * between nothing and 7.5 % has them with a chance of 99.9 % (binomial). What is measured with a thousand fleets is in the table.
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
