import type { SourceData, SourceTable } from "../formats/sourceTable.js";
import { glanceAtTable } from "./glance.js";
import type { StatedColumn } from "./statedColumns.js";

/**
 * The table with its columns that are blank where the source was looked at taken for numbers: a drive writes the
 * reference of a mode only while the mode is on, so a column may begin thousands of rows late.
 */
function lateTaken(table: SourceTable): SourceTable {
  if (table.columns.every(({ kind }) => kind !== "empty")) return table;
  return {
    ...table,
    columns: table.columns.map((column) =>
      column.kind === "empty" ? { ...column, kind: "number" as const } : column,
    ),
  };
}

/** Places of such columns whose headings tell what they would hold: those are worth reading to see whether they are
 * blank throughout. */
export function lateColumns(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): number[] {
  const taken = lateTaken(table);
  if (taken === table) return [];
  return glanceAtTable(taken, stated)
    .filter(({ index, role }) => table.columns[index].kind === "empty" && role !== "other")
    .map(({ index }) => index);
}

/** The table as reading it showed it: what holds a number somewhere is a column of numbers. */
export function asRead(table: SourceTable, indices: readonly number[], data: SourceData): SourceTable {
  const held = new Set(indices.filter((_, k) => data.columns[k]?.some((v) => v - v === 0)));
  if (table.columns.every(({ kind }, k) => kind !== "empty" || !held.has(k))) return table;
  const columns = table.columns.map((column, k) =>
    column.kind === "empty" && held.has(k) ? { ...column, kind: "number" as const } : column,
  );
  return { ...table, columns };
}
