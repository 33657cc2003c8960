import type { HandResult } from "./handResult.js";
import { type FindingLogs, findingOf, indexRow, type TrialLikelihood } from "./likelihood.js";
import { offsetGrid } from "./offsetGrid.js";
import { type CauseCode, causes, mismatchCauses, offsetCauses } from "./tables/causes.js";
import {
  frozenRow,
  measuredMismatch,
  measuredOffset,
  mismatchRows,
  missedRow,
  sweepStillRow,
  turnedRow,
} from "./tables/hand.js";

const near = (x: number, sigma: number): number => Math.exp(-0.5 * (x / sigma) ** 2);

/** Chance of the measured mismatch `seen` when it is truly `n`; a part is left to whatever else may have turned the
 * shaft. */
export function mismatchChance(seen: NonNullable<HandResult["mismatch"]>, n: number): number {
  const { misread, spread, relativeSpread } = measuredMismatch;
  return misread + near(n - seen.value, Math.hypot(seen.error, Math.max(spread, relativeSpread * n)));
}

/** What a turn by hand or an alignment sweep says of the causes, and of the offset error. Mismatches are weighed by
 * `mismatchChance`. */
export function handLikelihood(hand: HandResult, swept: boolean): TrialLikelihood {
  const findings: FindingLogs[] = [];
  const { mismatch, lineRatio, offset } = hand;
  if (mismatch) findings.push(measuredFinding(mismatch, swept));
  else if (swept && hand.verdict === "blocked") findings.push(findingOf(sweepStillRow));
  const offsets = new Float64Array(offsetGrid.length).fill(1);
  if (offset) {
    const { misread, spread } = measuredOffset;
    for (let k = 0; k < offsets.length; k += 1) {
      const gap = offsetGrid[k] - offset.value;
      const wrapped = gap - 2 * Math.PI * Math.round(gap / (2 * Math.PI));
      offsets[k] = misread + (1 - misread) * near(wrapped, Math.hypot(offset.error, spread));
    }
    findings.push({
      finding: "the back-EMF stood still in the drive's coordinates",
      logs: logsBy((code) => (offsetCauses.has(code) ? 1 : measuredOffset.withoutOffset)),
    });
  }
  if (hand.frozen) findings.push(findingOf(frozenRow));
  else if (!swept) findings.push(findingOf(turnedRow));
  if (hand.missed) findings.push(findingOf(missedRow));
  else if (lineRatio) findings.push(findingOf(indexRow({ ratio: lineRatio.value, spread: lineRatio.error })));
  return { findings, offsets, motion: false };
}

const logsBy = (likelihood: (code: CauseCode) => number): Map<CauseCode, number> =>
  new Map(causes.map(({ code }) => [code, Math.log(likelihood(code))]));

/** A measured mismatch under causes that have none of their own; those that have are weighed variant by variant. */
function measuredFinding(mismatch: NonNullable<HandResult["mismatch"]>, swept: boolean): FindingLogs {
  const straight = mismatchChance(mismatch, 0);
  const row = mismatchRows[swept ? "swept" : "turned"];
  return {
    finding: row.finding,
    logs: logsBy((code) => {
      if (mismatchCauses.includes(code)) return 1;
      if (code === "load-or-friction" && row.loadFraction !== undefined) return row.loadFraction * straight;
      return row.likelihood[code] ?? straight;
    }),
  };
}
