import type { SeededRandom } from "../../numeric/distributions/seededRandom.js";
import { medianOf } from "../population/sample.js";
import { kaplanMeier } from "./kaplanMeier.js";
import type { Life } from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";

/** A drawn table. */
export interface DrawnLives {
  readonly lives: readonly Life[];
  /** For each unit whether it has failed, less the cumulative hazard that the model gives it until its failure or the
   * end of its watching: its mean is 0, and the mean of a sum's square is that of the failures. */
  readonly excess: Float64Array;
}

/** What is drawn anew of one line of a table, and what stays. */
interface DrawnLine {
  readonly life: Life;
  readonly x: readonly number[];
  /** Survival at entry. */
  readonly entered: number;
  readonly location: number;
  /** Ends of the watching that are possible after what was seen of the unit, with their chances; the rest goes on. */
  readonly ends: readonly { readonly time: number; readonly chance: number }[];
  /** Time between looks at the unit; 0: its failure is seen when it happens. */
  readonly looks: number;
}

/**
 * Draws tables like one that was seen, whose lives are as a model says (Davison, A. C. and Hinkley, D. V. (1997),
 * Bootstrap Methods and their Application, section 3.5: conditional on the watching). A unit that still runs is watched
 * as long as it was; for one that has failed the end of its watching is drawn from those of its group that came later,
 * or, where nothing of its group still runs, of all groups. Entries stay. Where most failures are known to an interval,
 * units are looked at as often as they were.
 *
 * @param covariates - of a life, as the model has them
 * @returns draws one table after the other, a line for each unit
 */
export function drawnLives(
  lives: readonly Life[],
  model: LifeModel,
  covariates: (life: Life) => readonly number[],
  random: SeededRandom,
): () => DrawnLives {
  const units = lives.flatMap((life) => {
    const { count = 1, ...one } = life;
    return Array.from({ length: Math.max(1, Math.round(count)) }, (): Life => one);
  });
  const groups = new Map<string | undefined, Life[]>();
  for (const life of units) groups.set(life.group, [...(groups.get(life.group) ?? []), life]);
  const everyone = endsOfWatching(units);
  const ends = new Map(
    [...groups].map(([group, own]) => {
      const found = endsOfWatching(own);
      return [group, found.length > 0 ? found : everyone];
    }),
  );
  const failed = units.filter((life) => life.by !== Infinity);
  const widths = failed.map((life) => life.by - life.after).filter((width) => width > 0);
  const usual = 2 * widths.length > failed.length ? medianOf(widths) : 0;
  const { sigma } = model;
  const [first, ...slopes] = model.coefficients;
  const lines = units.map((life): DrawnLine => {
    const x = covariates(life);
    const location = x.reduce((sum, one, j) => sum + one * slopes[j].value, first.value);
    const from = life.from ?? 0;
    const later = (ends.get(life.group) ?? []).filter(({ time }) => time >= life.by);
    const before = later.length === 0 ? 1 : later[0].before;
    return {
      life,
      x,
      entered: from > 0 ? model.survivalAt(from, x) : 1,
      location,
      ends:
        life.by === Infinity
          ? [{ time: life.after, chance: 1 }]
          : later.map(({ time, part }) => ({ time, chance: part / before })),
      looks: life.by === Infinity ? usual : life.by === life.after ? 0 : life.by - life.after,
    };
  });
  return () => {
    const excess = new Float64Array(lines.length);
    const table = lines.map((line, i) => {
      const hazard = -Math.log(1 - random.uniform());
      const alive = line.entered * Math.exp(-hazard);
      const time = Math.exp(line.location + sigma.value * model.quantileOf(1 - alive));
      const end = endOf(line, random.uniform());
      excess[i] =
        time > end ? Math.log(Math.max(1e-300, model.survivalAt(end, line.x)) / line.entered) : 1 - hazard;
      return seenLife(line, time, end);
    });
    return { lives: table, excess };
  };
}

/** Ends of watching by Kaplan and Meier's curve with failures as what hides them: time, its part of all units, and the
 * part that is watched until then. */
function endsOfWatching(lives: readonly Life[]): { time: number; part: number; before: number }[] {
  const turned = lives.map((life): Life => {
    const { from } = life;
    const entry = from === undefined ? {} : { from };
    return life.by === Infinity
      ? { after: life.after, by: life.after, ...entry }
      : { after: life.by, by: Infinity, ...entry };
  });
  let before = 1;
  // A unit that ran at its very start says nothing.
  return kaplanMeier(turned.filter((life) => life.after > 0)).steps.flatMap(({ time, failed, survival }) => {
    const part = before - survival;
    const one = { time, part, before };
    before = survival;
    return failed > 0 && part > 0 ? [one] : [];
  });
}

function endOf({ ends }: DrawnLine, uniform: number): number {
  let sum = 0;
  for (const { time, chance } of ends) {
    sum += chance;
    if (uniform < sum) return time;
  }
  return Infinity;
}

/** What is seen of a unit that fails at a time and is watched to an end. */
function seenLife({ life, looks }: DrawnLine, time: number, end: number): Life {
  if (time > end) return { ...life, after: end, by: Infinity };
  if (looks === 0) return { ...life, after: time, by: time };
  // The looks at this unit: those between which it was seen, and as far apart before and after.
  const start = life.after - Math.floor(life.after / looks) * looks;
  const after = start + Math.floor((time - start) / looks) * looks;
  const entry = Math.max(after, life.from ?? 0);
  return { ...life, after: Math.max(0, entry), by: after + looks };
}
