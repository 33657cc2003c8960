import type { Recording } from "../recording/types.js";
import { type CauseCode, causes, offsetCauses } from "./causes.js";
import type { HandResult } from "./handTrials.js";
import {
  lineCountLogs,
  mismatchCauses,
  mismatchesOf,
  offsetGrid,
  offsetPrior,
  type Weighed,
} from "./weigh.js";

const near = (x: number, sigma: number): number => Math.exp(-0.5 * (x / sigma) ** 2);

/** Chance of the measured mismatch `seen` when it is truly `n`; a hundredth is left to whatever else may have turned the shaft. */
export function mismatchChance(seen: NonNullable<HandResult["mismatch"]>, n: number): number {
  return 0.01 + near(n - seen.value, Math.hypot(seen.error, Math.max(0.05, 0.1 * n)));
}

/** What a turn by hand or an alignment sweep says of the causes: log likelihoods, and the likelihood of each offset error. */
export function weighHand(recording: Recording, hand: HandResult, swept: boolean): Weighed {
  const logs = new Map<CauseCode, number>(causes.map(({ code }) => [code, 0]));
  const offsets = new Float64Array(offsetGrid.length).fill(1);
  const parts: { finding: string; logs: ReadonlyMap<CauseCode, number> }[] = [];
  const say = (finding: string, likelihood: (code: CauseCode) => number): void => {
    const part = new Map<CauseCode, number>();
    for (const { code } of causes) {
      const log = Math.log(Math.max(1e-9, likelihood(code)));
      part.set(code, log);
      logs.set(code, (logs.get(code) as number) + log);
    }
    parts.push({ finding, logs: part });
  };
  const { mismatch, lineRatio, offset } = hand;
  if (mismatch) {
    const straight = mismatchChance(mismatch, 0);
    const other: Partial<Record<CauseCode, number>> = swept
      ? {
          jam: 0.01,
          "open-lead": 0.05,
          "current-not-following": 0.03,
          "load-or-friction": 0.3 * straight,
          "sensor-fault": 0.15,
          unexplained: 0.15,
        }
      : { "sensor-fault": 0.15, unexplained: 0.15, "open-lead": 0.3 };
    say(
      swept ? "how the shaft followed the sweep" : "the back-EMF of the turn by hand",
      (code) =>
        other[code] ??
        (mismatchCauses.includes(code)
          ? mismatchesOf(code, recording).reduce(
              (sum, m) => sum + m.weight * mismatchChance(mismatch, m.n),
              0,
            )
          : straight),
    );
  } else if (swept && hand.verdict === "blocked") {
    const still: Partial<Record<CauseCode, number>> = {
      jam: 0.95,
      "load-or-friction": 0.5,
      "open-lead": 0.7,
      "current-not-following": 0.9,
      "sensor-fault": 0.5,
      unexplained: 0.2,
    };
    say("the shaft did not follow the sweep", (code) => still[code] ?? 0.04);
  }
  if (offset) {
    const like = (e: number): number => {
      const gap = e - offset.value;
      return (
        0.03 + 0.97 * near(gap - 2 * Math.PI * Math.round(gap / (2 * Math.PI)), Math.hypot(offset.error, 0.1))
      );
    };
    for (let k = 0; k < offsets.length; k += 1) offsets[k] = like(offsetGrid[k]);
    say("the angle of the back-EMF in the turn by hand", (code) => {
      const prior = offsetPrior(code);
      if (!offsetCauses.has(code) || !prior) return 0.3;
      return prior.reduce((sum, p, k) => sum + p * offsets[k], 0);
    });
  }
  if (hand.frozen) say("no count in the turn by hand", (code) => (code === "sensor-fault" ? 0.9 : 0.03));
  else if (!swept)
    say("the shaft turned by hand", (code) =>
      code === "jam" ? 0.05 : code === "load-or-friction" ? 0.6 : 0.97,
    );
  if (hand.missed) say("the index in the turn by hand", (code) => (code === "sensor-fault" ? 0.9 : 0.01));
  else if (lineRatio) {
    const part = lineCountLogs({ ratio: lineRatio.value, spread: lineRatio.error });
    say("the index in the turn by hand", (code) => Math.exp(part(code)));
  }
  return { logs, offsets, parts };
}
