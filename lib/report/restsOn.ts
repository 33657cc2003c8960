import type { Assumption } from "../recording/assumptions.js";
import { unitText } from "../units/forPeople.js";
import { visible } from "../units/text.js";

/**
 * What figures rest on that nobody stated, as one clause a column with the option that answers it; undefined where
 * there is nothing to say.
 *
 * @example
 * restsOnText(assumptions); // '"u" as duty (assumed 52 %; --map duty=u), in % (assumed 55 %; --unit u=<unit>)'
 */
export function restsOnText(assumptions: readonly Assumption[]): string | undefined {
  if (assumptions.length === 0) return undefined;
  const byColumn = new Map<string, string[]>();
  for (const a of assumptions) byColumn.set(a.column, [...(byColumn.get(a.column) ?? []), clauseOf(a)]);
  const shown = [...byColumn].slice(0, mostColumns);
  const rest = byColumn.size - shown.length;
  const clauses = shown.map(([column, parts]) => `"${visible(column, 30)}" ${parts.join(", ")}`);
  return `${clauses.join("; ")}${rest > 0 ? `; and ${rest} more columns` : ""}`;
}

const mostColumns = 6;

function clauseOf({ of, taken, probability, option }: Assumption): string {
  const sure = `(assumed ${Math.round(100 * probability)} %; ${visible(option, 60)})`;
  if (of === "role") return `as ${taken} ${sure}`;
  return `${taken === "1" ? "as a plain number" : `in ${unitText(taken)}`} ${sure}`;
}

/** What an open unit means for the figures, as a sentence; empty where only a role, or the clock, is open. */
export function openUnitsText(assumptions: readonly Assumption[]): string {
  return assumptions.some(({ of, role }) => of === "unit" && role !== "time")
    ? "What depends on such a unit is given in the numbers of the file, by the headings of the columns."
    : "";
}

/** Of all that was assumed, what figures rest on. */
export function usedBy(
  figures: readonly { readonly restsOn?: readonly string[] }[],
  assumptions: readonly Assumption[],
): readonly Assumption[] {
  const columns = new Set(figures.flatMap(({ restsOn = [] }) => restsOn));
  return assumptions.filter(({ column }) => columns.has(column));
}
