import type { ColumnFacts } from "./columnFacts.js";
import { wordsOf } from "./foldedWords.js";
import { kindScore } from "./kindScore.js";
import { type Meaning, meanings, roleFacts } from "./roles.js";
import { shapeScore } from "./shapeScore.js";
import { sizeScore } from "./sizeScore.js";
import { sizeHabits, unitOfWords } from "./tables/unitsByRole.js";
import { unitsFor } from "./unitChoices.js";

/** One thing a column may be, with what speaks for it before its neighbours are asked (log likelihoods). */
export interface Hypothesis {
  readonly role: Meaning;
  /** UCUM code; undefined for `other` and for what has no unit. */
  readonly unit: string | undefined;
  /** Factor to SI, where the unit alone tells it. */
  readonly factor: number | undefined;
  readonly name: number;
  readonly units: number;
  readonly numbers: number;
  /** Log of how common the unit is, as it stands in `score`: zero where the heading says the unit. Columns of one
   * quantity share their unit, and it counts once. */
  readonly habit: number;
  /** How plausible the size is in this unit, as it stands in `score`: the columns of one quantity tell it together. */
  readonly size: number;
  /** The numbers alone tell the role: what they show beside others is in that already. */
  readonly byNumbers?: boolean;
  /** Prior and all of the above. */
  readonly score: number;
}

/** A meaning that nothing was weighed for, since it is stated or the only one. */
export const unweighed = {
  factor: undefined,
  name: 0,
  units: 0,
  numbers: 0,
  habit: 0,
  size: 0,
  score: 0,
} as const;

const mostKept = 14;
const farBehind = 13;

/** Everything a column may be, best first, with what is hopeless left out. */
export function hypothesesOf(column: ColumnFacts): Hypothesis[] {
  const out: Hypothesis[] = [];
  const words = wordsOf(column.heading.words);
  const mine = column.byNumbers === undefined ? undefined : rolesByNumbers(column, column.byNumbers);
  const named = column.name.namesQuantity;
  for (const role of meanings) {
    const name = column.name.score.get(role) ?? 0;
    const shape = shapeScore(column, role);
    const common = mine?.get(role) ?? plainScore(column, role, shape);
    const unknown = unknownScore(column, role);
    for (const { unit, factor, units, habit } of unitsFor(column, role)) {
      const size = sizeScore(column, role, unit, factor);
      const custom = habit === undefined || !named ? 0 : unitOfWords(words, roleFacts[role].quantity, unit);
      const hypothesis = {
        role,
        unit,
        factor,
        name,
        units: units + custom,
        numbers: shape + size,
        habit: habit ?? 0,
        size: roleFacts[role].quantity in sizeHabits ? size + custom : 0,
        score: common + unknown + name + units + custom + size,
      };
      out.push(mine === undefined ? hypothesis : { ...hypothesis, byNumbers: true });
    }
  }
  out.sort((a, b) => b.score - a.score);
  return out.filter((h, i) => i === 0 || (i < mostKept && h.score > out[0].score - farBehind));
}

/** How common a role is, and how such columns run, by judgement. */
function plainScore(column: ColumnFacts, role: Meaning, shape = shapeScore(column, role)): number {
  return Math.log(roleFacts[role].prior) + kindScore(column, role) + shape;
}

/**
 * Score of each role by the fitted model of the numbers. Sizes tell the unit within a role, and no more: the model has
 * seen them. What is too rare to be fitted is as much less likely than no channel as by judgement.
 */
function rolesByNumbers(column: ColumnFacts, fitted: ReadonlyMap<Meaning, number>): Map<Meaning, number> {
  // A unit that stands alone in a heading speaks for the role itself.
  const unsaid = { ...column, heading: { words: column.heading.words, plain: true } };
  const sized = (role: Meaning): number =>
    Math.log(
      Math.max(
        1e-9,
        unitsFor(unsaid, role).reduce(
          (sum, { unit, factor, units }) => sum + Math.exp(units + sizeScore(unsaid, role, unit, factor)),
          0,
        ),
      ),
    );
  const other = fitted.get("other") ?? 0;
  const plainOther = plainScore(column, "other");
  return new Map(
    meanings.map((role) => {
      const known = fitted.get(role);
      return [
        role,
        known === undefined ? other + plainScore(column, role) - plainOther : known - sized(role),
      ] as const;
    }),
  );
}

/**
 * How much rarer a channel is behind words of no table and without a unit (log likelihood ratio). Of 105 such columns
 * in six collections of logs by other authors 70 % were no channel; chosen on all six together.
 */
const unknownWithoutUnit = -1.4;

function unknownScore({ name, heading }: ColumnFacts, role: Meaning): number {
  const bare = heading.unit === undefined && heading.otherUnit === undefined;
  return name.unknown && bare && role !== "other" ? unknownWithoutUnit : 0;
}
