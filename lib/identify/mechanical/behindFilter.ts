import { firstOrderFilter } from "../../numeric/series/firstOrderFilter.js";
import { longestSpeedFilter } from "../motionLimits.js";
import type { Signals } from "../signals.js";
import type { MotionFit } from "./equationOfMotion.js";
import type { MechanicalRow } from "./mechanicalRows.js";

/** Time constants that are tried, as fractions of the longest. */
const ladder = [0.075, 0.15, 0.25, 0.4, 0.6, 0.8, 1, 1.5];
/** What a filter must leave less than none does before it is believed. */
const pays = 0.98;

/** The windows and their fit, with the input brought as late as the motion. */
export interface FilteredFit {
  readonly rows: readonly MechanicalRow[];
  readonly pooled: MotionFit | null;
}

/**
 * A drive filters the speed that it logs, but not the current: beside each other they do not obey the equation of
 * motion while the speed changes quickly. Both sides of the equation may be
 * filtered alike, so the input is taken through filters of several time constants, and the one that explains most is
 * kept. A position is counted, not filtered: it is left alone.
 *
 * @param rowsOf windows of the given signals
 * @param solve their fit
 */
export function behindFilter(
  signals: Signals,
  rowsOf: (signals: Signals) => readonly MechanicalRow[],
  solve: (rows: readonly MechanicalRow[]) => MotionFit | null,
): FilteredFit {
  const rows = rowsOf(signals);
  const plain = { rows, pooled: solve(rows) };
  const { input } = signals;
  if (signals.angleChannel !== "speed" || input === null || plain.pooled === null) return plain;
  let best: FilteredFit = plain;
  let least = pays * left(plain.pooled);
  for (const fraction of ladder) {
    const data = firstOrderFilter(signals.time, input.data, fraction * longestSpeedFilter);
    const filtered = rowsOf({ ...signals, input: { ...input, data } });
    const pooled = solve(filtered);
    if (pooled === null || !(left(pooled) < least)) continue;
    least = left(pooled);
    best = { rows: filtered, pooled };
  }
  return best;
}

/** What a fit leaves unexplained. */
function left(fit: MotionFit): number {
  return 1 - fit.regression.explained;
}
