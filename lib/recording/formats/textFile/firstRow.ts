import { visible } from "../../../units/text.js";
import { CannotRead } from "../sourceTable.js";
import { isNumberText } from "../textDialect.js";
import type { TextTable } from "./textColumns.js";

/**
 * The first row as the dialect was found against the first row as it was read: a difference would mean that
 * lines were counted differently, and that rows are missing or shifted.
 *
 * @param numbers places of the columns of numbers
 * @param read their values, in the same order
 * @throws CannotRead when they differ
 */
export function checkFirstRow(
  { path, dialect, columns }: Pick<TextTable, "path" | "dialect" | "columns">,
  numbers: readonly number[],
  read: readonly Float64Array[],
): void {
  const row = dialect.rows[0];
  if (row === undefined) return;
  for (const [i, k] of numbers.entries()) {
    if (columns[k].column.kind !== "number") continue;
    let text = row[k] ?? "";
    if (dialect.thousands !== undefined) text = text.split(dialect.thousands).join("");
    if (!isNumberText(text, dialect.decimal)) continue;
    const expected = Number(text.replace(",", "."));
    const got = read[i][0];
    if (Math.abs(got - expected) <= 1e-9 * Math.abs(expected)) continue;
    throw new CannotRead({
      severity: "error",
      code: "rows-shifted",
      message: `the first row of numbers (line ${dialect.linesBefore + 1}) holds ${visible(text, 30)} in "${visible(columns[k].column.name, 40)}", but ${got === undefined ? "no row" : got} was read there`,
      meaning: "the lines above the table are written in a way that is not understood; remove them",
      file: path,
      row: dialect.linesBefore + 1,
      column: columns[k].column.name,
    });
  }
}
