import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnFacts } from "./columnFacts.js";
import type { Relation } from "./jointTypes.js";
import { labelOf } from "./sight.js";

/**
 * A column that never changes holds what those hold that are named alike for other motors (log likelihood ratio;
 * judgement).
 */
const alikeWeight = 3;
/** Of columns that both move, the numbers of each tell too. */
const alikeMoving = 2;

/** Columns that are named alike but for what tells motors apart mean the same. */
export function stemRelations(
  stems: readonly (string | undefined)[],
  facts: readonly ColumnFacts[],
  table: SourceTable,
): Relation[] {
  const moves = (i: number): boolean =>
    facts[i].numbers !== undefined && facts[i].numbers?.shape !== "constant";
  return stems.flatMap((stem, i): Relation[] => {
    if (stem === undefined) return [];
    const like = stems.findIndex((other, k) => other === stem && k !== i && moves(k));
    if (moves(i) && like > i) return [];
    const score: Relation["score"] = moves(i)
      ? ([a, b]) => (a.role === b.role ? alikeMoving : 0)
      : ([a, b]) => (a.role === b.role && a.role !== "other" ? alikeWeight : 0);
    return like < 0
      ? []
      : [{ columns: [i, like], text: `"${labelOf(table, i)}" is named as "${labelOf(table, like)}"`, score }];
  });
}
