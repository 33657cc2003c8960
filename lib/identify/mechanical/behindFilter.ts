import { integratedAutocorrelation } from "../../numeric/series/autocorrelation.js";
import { firstOrderFilter } from "../../numeric/series/firstOrderFilter.js";
import { meanOfFits } from "../modelError.js";
import { longestSpeedFilter } from "../motionLimits.js";
import type { Signals } from "../signals.js";
import type { MotionFit } from "./equationOfMotion.js";
import type { MechanicalRow } from "./mechanicalRows.js";

/** Time constants that are tried, as fractions of the longest. */
const ladder = [0, 0.075, 0.15, 0.25, 0.4, 0.6, 0.8, 1, 1.5];
/** Probability, before the log, that the speed is logged as it is (common practice, no source). */
const unfiltered = 0.5;
/** Least part of the motion that is left unexplained: rounding. */
const leastLeft = 1e-15;
/** What weighs less is left out. */
const leastWeight = 0.005;

/** Windows with the input brought as late as the motion by one filter, and its probability. */
export interface FilteredRows {
  readonly rows: readonly MechanicalRow[];
  readonly weight: number;
}

type Solve = (rows: readonly MechanicalRow[]) => MotionFit | null;

/**
 * A drive filters the speed that it logs, but not the current: beside each other they do not obey the equation of
 * motion while the speed changes quickly. Both sides of the equation may be
 * filtered alike, so the input is taken through filters of several time constants. Each counts by how well it explains
 * the log and by how usual it is (none with a probability of one half, else an exponential law): on an exponential
 * approach a filter and a larger inertia look alike, so that the log often cannot choose. A position is counted, not
 * filtered: it is left alone.
 *
 * @param rowsOf windows of the given signals
 * @param solve their fit
 */
export function behindFilter(
  signals: Signals,
  rowsOf: (signals: Signals) => readonly MechanicalRow[],
  solve: Solve,
): readonly FilteredRows[] {
  const rows = rowsOf(signals);
  const { input } = signals;
  if (signals.angleChannel !== "speed" || input === null) return [{ rows, weight: 1 }];
  const tried = ladder.flatMap((fraction) => {
    const data =
      fraction === 0 ? input.data : firstOrderFilter(signals.time, input.data, fraction * longestSpeedFilter);
    const filtered = fraction === 0 ? rows : rowsOf({ ...signals, input: { ...input, data } });
    const fit = solve(filtered)?.regression;
    return fit === undefined
      ? []
      : [{ fraction, rows: filtered, left: Math.max(leastLeft, 1 - fit.explained), fit }];
  });
  if (tried[0]?.fraction !== 0) return [{ rows, weight: 1 }];
  const best = tried.reduce((a, b) => (b.left < a.left ? b : a));
  // Windows overlap by half.
  const independent = best.fit.samples / 2 / integratedAutocorrelation(best.fit.residuals);
  const weights = tried.map(({ fraction, left }, k) => {
    const likelihood = (best.left / left) ** (independent / 2);
    const [before, after] = [tried[k - 1]?.fraction ?? fraction, tried[k + 1]?.fraction ?? fraction];
    const filtered = ((1 - unfiltered) * 2 * Math.exp(-2 * fraction) * (after - before)) / 2;
    return likelihood * (filtered + (fraction === 0 ? unfiltered : 0));
  });
  const most = Math.max(...weights);
  // Residuals that are all zero tell nothing of filters.
  if (!(most > 0 && most < Number.POSITIVE_INFINITY)) return [{ rows, weight: 1 }];
  const kept = tried
    .map(({ rows: r }, k) => ({ rows: r, weight: weights[k] }))
    .filter((f) => f.weight > leastWeight * most);
  const total = kept.reduce((sum, f) => sum + f.weight, 0);
  return kept.map((f) => ({ ...f, weight: f.weight / total })).sort((a, b) => b.weight - a.weight);
}

/** One fit over all filters, by their probabilities; null where the likeliest has none. */
export function overFilters(parts: readonly FilteredRows[], solve: Solve): MotionFit | null {
  const fits = parts.map(({ rows, weight }) => ({ solved: solve(rows), weight }));
  const first = fits[0]?.solved ?? null;
  if (first === null || fits.length === 1) return first;
  const sound = fits.flatMap(({ solved, weight }) =>
    solved === null ? [] : [{ fit: solved.regression, weight }],
  );
  const total = sound.reduce((sum, f) => sum + f.weight, 0);
  return { ...first, regression: meanOfFits(sound.map((f) => ({ ...f, weight: f.weight / total }))) };
}
