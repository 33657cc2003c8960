import { quantisationStep } from "../../numeric/series/quantisationStep.js";

/** A whole turn in the units a position is logged in that says none. */
const turn: Readonly<Record<string, number>> = { rad: 2 * Math.PI, deg: 360, "{rev}": 1 };

/** Log likelihoods of a unit by the counts that a turn has in it (judgement, no source). */
const gridScores = { usual: 1.5, whole: 0, odd: -0.5, broken: -1.5 } as const;
/** Counts beyond which a step is not known well enough to tell whole numbers of them. */
const mostCounts = 70_000;

/**
 * Smallest step of a position, in the unit it is logged in; undefined when it has none, or one that is only the last
 * digit that was written.
 */
export function gridOf(values: Float64Array): number | undefined {
  const step = quantisationStep(values);
  if (!(step > 0)) return undefined;
  const leading = step / 10 ** Math.floor(Math.log10(step) + 1e-9);
  const digit = [1, 2, 5, 10].some((d) => Math.abs(leading - d) < 2e-3 * d);
  return digit ? undefined : step;
}

/**
 * How much a step speaks for a unit: an encoder has a whole number of counts in a turn, four for each of its lines, and
 * mostly a usual one (common practice, no source).
 */
export function gridScore(step: number | undefined, unit: string | undefined): number {
  if (step === undefined || unit === undefined || !Object.hasOwn(turn, unit)) return 0;
  const exact = turn[unit] / step;
  if (exact > mostCounts || exact < 8) return 0;
  const counts = Math.round(exact);
  if (Math.abs(exact - counts) > Math.max(0.02, 2e-5 * exact)) return gridScores.broken;
  if (Number.isInteger(Math.log2(counts)) || counts % 100 === 0 || counts % 360 === 0 || counts % 384 === 0)
    return gridScores.usual;
  return counts % 4 === 0 ? gridScores.whole : gridScores.odd;
}
