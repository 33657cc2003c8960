import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { HandResult } from "./handResult.js";
import { short } from "./observe.js";
import type { Evidence } from "./types.js";

/** Spacings of the index pulses along one way of turning, in turns of the drive's scale, and how far each may be
 * misread. */
function indexSpacings(angle: Float64Array, index: Float64Array): { turns: number; reach: number }[] {
  const high = 0.5 * largest(index);
  if (!(high > 0)) return [];
  const at: { angle: number; sign: number; reach: number }[] = [];
  for (let i = 1; i < index.length; i += 1)
    if (index[i] > high && index[i - 1] <= high) {
      const step = angle[i] - angle[i - 1];
      const around = angle[Math.min(angle.length - 1, i + 2)] - angle[Math.max(0, i - 3)];
      at.push({ angle: angle[i], sign: Math.sign(around), reach: Math.abs(step) });
    }
  const out: { turns: number; reach: number }[] = [];
  for (let i = 1; i < at.length; i += 1) {
    // A hand that went back over the mark: no turn lies between the two.
    if (at[i].sign === 0 || at[i].sign !== at[i - 1].sign) continue;
    const turns = Math.abs(at[i].angle - at[i - 1].angle) / (2 * Math.PI);
    if (turns > 0.02) out.push({ turns, reach: (at[i].reach + at[i - 1].reach) / (2 * Math.PI) });
  }
  return out;
}

/** What the index pulses of a turn by hand show of the line count. */
export interface IndexSeen {
  readonly said: string;
  readonly evidence: readonly Evidence[];
  readonly lineRatio?: HandResult["lineRatio"];
  readonly missed: boolean;
}

/**
 * Holds the index pulses of a turn by hand against the one that a turn should have.
 *
 * @param turns net turns of the shaft, on the drive's scale
 * @param lines encoder lines set, where known
 */
export function judgeIndex(
  angle: Float64Array,
  index: Float64Array,
  turns: number,
  lines: number | undefined,
): IndexSeen {
  const spacings = indexSpacings(angle, index);
  if (spacings.length === 0)
    return {
      said:
        turns > 1.3
          ? "No two index pulses were seen in more than a turn: the index is not connected, or its pulses fall between the samples."
          : "Fewer than two index pulses were seen: turn further, by two turns or more, to check the line count.",
      evidence: [],
      missed: false,
    };
  const ratio = median(spacings.map((s) => s.turns));
  const reach = Math.max(...spacings.map((s) => s.reach)) + 4 / Math.max(1, 4 * (lines ?? 250));
  // A log slower than the pulses skips some: a spacing of two or three turns is two or three spacings.
  const single = spacings.map((s) => s.turns / Math.max(1, Math.round(s.turns / ratio)));
  const drift = single.length > 1 ? Math.max(...single) - Math.min(...single) : 0;
  const missed = drift > Math.max(2 * reach, 0.003 * ratio);
  const tolerance = Math.max(0.002, reach);
  const right = Math.abs(ratio - 1) < tolerance;
  const wrong = lines
    ? `set (${lines}) should be about ${Math.round(lines * ratio)}`
    : "is wrong by that factor";
  return {
    said: missed
      ? `The index should come at one spacing; it came between ${short(Math.min(...single))} and ${short(Math.max(...single))} turns of the scale: counts are being missed (cable, supply, a dirty disc, or counting too slow).`
      : right
        ? "The index comes once a turn of the scale: the line count is right."
        : `The index comes every ${short(ratio)} turns of the scale: the line count ${wrong}, unless the same share of counts is missed on every turn.`,
    evidence: [
      {
        quantity: "index pulses: turns of the drive's scale between two of them",
        value: ratio,
        unit: "1",
        limit: 1,
        limitSource: "physics: one index pulse a turn",
        meaning: missed
          ? "the spacing changes: counts are being missed"
          : right
            ? "the line count is right"
            : "the line count set is wrong, or counts are missed",
      },
    ],
    lineRatio: { value: ratio, error: Math.max(tolerance / 2, drift / 2) },
    missed,
  };
}
