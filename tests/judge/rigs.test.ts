import { describe, expect, it } from "vitest";
import { judgeRig } from "./rigBench.js";
import { isWrong, rigSums } from "./rigTable.js";

/**
 * A small part of the judging bench. Limits: no wrong verdict above 80 %, at most one wrong in a hundred, and nine in
 * ten of the decidable trials decided rightly (judgement; the whole bench is run by `rigConfusion.ts`).
 */
describe("verdicts on rigs of strangers", () => {
  it("are hardly ever wrong and mostly decided", () => {
    const outcomes = Array.from({ length: 100 }, (_, k) => judgeRig(43000001 + k));
    const sums = rigSums(outcomes);
    expect(outcomes.filter((o) => isWrong(o) && o.confidence > 0.8).map((o) => o.seed)).toEqual([]);
    expect(sums.wrong).toBeLessThanOrEqual(1);
    expect(sums.decidable).toBeGreaterThan(35);
    expect(sums.right / sums.decidable).toBeGreaterThan(0.9);
  });

  it("name a trial that turns or runs away against its command", () => {
    const bad = Array.from({ length: 80 }, (_, k) => judgeRig(43000101 + k)).filter(
      (o) => o.wiring === "against" && o.truth.length === 1,
    );
    expect(bad.length).toBeGreaterThan(4);
    for (const o of bad) expect(o.said, `seed ${o.seed}`).not.toBe("tracking");
  });
});
