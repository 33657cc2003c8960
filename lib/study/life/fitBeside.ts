import type { Life, Undetermined } from "./lifeData.js";
import { fitLife, type LifeModel } from "./lifeModel.js";
import type { LifeDistribution } from "./lifeShapes.js";

/**
 * Fits lives in which some groups have a life of their own beside what is always taken into account.
 *
 * @param always - unit and coverage; covariates that every fit has, with their names
 * @returns the fit of some lives with some groups; `coverage`: of the intervals, where it is another
 */
export function fitBeside(always: {
  readonly unit?: string;
  readonly level?: number;
  readonly covariates: (life: Life) => readonly number[];
  readonly names: readonly string[];
}) {
  const { unit, level, covariates, names } = always;
  return (
    distribution: LifeDistribution,
    lives: readonly Life[],
    groups: readonly string[],
    intervals: "all" | "last" | "none" = "none",
    coverage = level,
  ): LifeModel | Undetermined =>
    fitLife(distribution, lives, {
      unit,
      level: coverage,
      intervals,
      covariates: (life) => [...covariates(life), ...groups.map((g) => (life.group === g ? 1 : 0))],
      names: [...names, ...groups.map((g) => `group ${g}`)],
    });
}
