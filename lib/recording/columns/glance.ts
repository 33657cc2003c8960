import type { SourceTable } from "../formats/sourceTable.js";
import { headingsKey, readHeadings } from "./headings.js";
import { hypothesesOf } from "./hypotheses.js";
import { Kept } from "./kept.js";
import { ordersAmong } from "./kindScore.js";
import { restrict } from "./narrowHypotheses.js";
import type { Meaning } from "./roles.js";
import { factsOf } from "./sight.js";
import type { StatedColumn } from "./statedColumns.js";

/** What a column is likely to be by its heading and kind alone. */
export interface Glance {
  readonly index: number;
  readonly role: Meaning;
  readonly probability: number;
}

/** What was seen in tables, by all that is looked at: the files of one logger look alike. */
const glances = new Kept<readonly Glance[]>(200, 20_000);

/** Looks at headings and kinds only, each column for itself: enough to know which columns are worth reading. */
export function glanceAtTable(
  table: SourceTable,
  stated: ReadonlyMap<number, StatedColumn>,
): readonly Glance[] {
  // Of numbers it only matters whether they are orders of leads.
  const cells = table.columns.map(({ kind, samples }) =>
    kind === "number" ? ordersAmong(samples) > 0 : samples,
  );
  return glances.of(headingsKey(table, stated) + JSON.stringify(cells), () => lookAt(table, stated));
}

function lookAt(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): readonly Glance[] {
  const read = readHeadings(table, stated);
  return table.columns.map((_, index) => {
    const facts = factsOf(table, read, index);
    const list = restrict(hypothesesOf(facts), facts, stated.get(index));
    const weights = new Map<Meaning, number>();
    let sum = 0;
    for (const h of list) {
      const w = Math.exp(h.score - list[0].score);
      weights.set(h.role, (weights.get(h.role) ?? 0) + w);
      sum += w;
    }
    const [role, weight] = [...weights].reduce((a, b) => (b[1] > a[1] ? b : a));
    return { index, role, probability: weight / sum };
  });
}
