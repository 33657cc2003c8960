import { visible } from "../../units/text.js";
import type { DescribedField } from "../descriptor.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import type { ReadOptions } from "./readOptions.js";
import { type ColumnRole, isColumnRole, meanings } from "./roles.js";

/** What a person or a descriptor states about one column; it is not questioned. */
export interface StatedColumn {
  readonly role?: ColumnRole;
  readonly unit?: string;
  /** The column is to be left out. */
  readonly ignored?: boolean;
  /** Who stated the role: `--map`, `descriptor`, `--ignore`; empty for nobody. */
  readonly by: string;
  /** Who stated the unit: `--unit`, `descriptor`. */
  readonly unitBy?: string;
}

/** Place of a column by its name (as it stands, then without case and blanks) or its number (`#3`); -1 when there is
 * none. */
export function placeOf(table: SourceTable, wanted: string): number {
  const exact = table.columns.findIndex((c) => c.name === wanted);
  if (exact >= 0) return exact;
  const number = /^#(\d+)$/.exec(wanted);
  if (number !== null && Number(number[1]) >= 1 && Number(number[1]) <= table.columns.length)
    return Number(number[1]) - 1;
  const folded = wanted.trim().toLowerCase();
  return table.columns.findIndex((c) => c.name.trim().toLowerCase() === folded);
}

/**
 * What is stated about the columns of a table: `--map`, `--unit`, `--ignore` first, then the fields of a descriptor. A
 * unit stated for a role goes to the column mapped to it, or to `roleNow`: the column that would be taken for it.
 */
export function statedColumns(
  table: SourceTable,
  fields: readonly DescribedField[],
  options: ReadOptions,
  roleNow: (role: string) => number | undefined = () => undefined,
): { readonly stated: Map<number, StatedColumn>; readonly findings: readonly Finding[] } {
  const findings: Finding[] = [];
  const stated = new Map<number, StatedColumn>();
  for (const [index, column] of table.columns.entries()) {
    const field =
      fields.find((f) => f.name === column.name) ?? fields.find((f) => f.name.trim() === column.name.trim());
    if (field === undefined) continue;
    const role = field.role !== undefined && isColumnRole(field.role) ? field.role : undefined;
    if (role === undefined && field.unit === undefined) continue;
    stated.set(index, {
      role,
      unit: field.unit,
      by: role === undefined ? "" : "descriptor",
      unitBy: field.unit === undefined ? undefined : "descriptor",
    });
  }
  const problem = (message: string): void => {
    findings.push({ severity: "error", code: "map", message, file: table.path });
  };
  const unknown = (column: string, what: string): string =>
    `there is no column "${visible(column, 60)}" ${what}; the columns are ${table.columns
      .slice(0, 12)
      .map((c) => visible(c.name, 30))
      .join(", ")}`;
  for (const [role, column] of Object.entries(options.map ?? {})) {
    const index = placeOf(table, column);
    if (!isColumnRole(role)) {
      problem(
        `"${visible(role, 40)}" is no role; the roles are ${meanings.filter((m) => m !== "other").join(", ")}`,
      );
    } else if (index < 0) problem(unknown(column, `for ${role}`));
    else stated.set(index, { ...stated.get(index), role, by: "--map" });
  }
  for (const [key, unit] of Object.entries(options.unit ?? {})) {
    const named = placeOf(table, key);
    const mapped = [...stated].find(([, s]) => s.role === key)?.[0];
    const index = named >= 0 ? named : (mapped ?? roleNow(key));
    if (index === undefined) continue;
    stated.set(index, { by: "", ...stated.get(index), unit, unitBy: "--unit" });
  }
  for (const column of options.ignore ?? []) {
    const index = placeOf(table, column);
    if (index < 0) problem(unknown(column, "to ignore"));
    else stated.set(index, { ignored: true, by: "--ignore" });
  }
  return { stated, findings };
}
