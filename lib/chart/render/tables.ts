import { unitText } from "../../units/forPeople.js";
import { escapeHtml } from "../../units/text.js";

/** A cell of a table. */
export type Cell = string | number | boolean | null | undefined;

/** One row of a table, by column. */
export type Row = Readonly<Record<string, Cell>>;

/** Rows as an HTML table: numbers to the right, everything escaped. */
export function tableHtml(rows: readonly Row[], caption?: string): string {
  const columns = columnsOf(rows);
  const numeric = new Set(columns.filter((column) => rows.every((row) => isNumeric(row[column]))));
  const align = (column: string) => ` style="text-align:${numeric.has(column) ? "right" : "left"}"`;
  const head = columns.map((column) => `<th${align(column)}>${escapeHtml(column)}</th>`).join("");
  const body = rows.map(
    (row) =>
      `<tr>${columns.map((column) => `<td${align(column)}>${escapeHtml(shown(row[column], column))}</td>`).join("")}</tr>`,
  );
  const title = caption ? `<caption>${escapeHtml(caption)}</caption>` : "";
  return `<table>${title}<thead><tr>${head}</tr></thead>\n<tbody>${body.join("\n")}</tbody></table>`;
}

/** Rows as aligned plain text. */
export function tableText(rows: readonly Row[]): string {
  const columns = columnsOf(rows);
  const lines = [columns, ...rows.map((row) => columns.map((column) => shown(row[column], column)))];
  const widths = columns.map((_, i) => Math.max(...lines.map((line) => line[i].length)));
  return lines
    .map((line) =>
      line
        .map((cell, i) => cell.padEnd(widths[i]))
        .join("  ")
        .trimEnd(),
    )
    .join("\n");
}

function columnsOf(rows: readonly Row[]): string[] {
  return rows.length === 0 ? [] : Object.keys(rows[0]);
}

function isNumeric(cell: Cell): boolean {
  return typeof cell === "number" || cell === null || cell === undefined;
}

/** A cell as text; a column named "unit" holds codes, which are written for people. */
function shown(cell: Cell, column: string): string {
  if (cell === null || cell === undefined) return "";
  if (typeof cell === "string" && /^unit\b/.test(column)) return unitText(cell);
  if (typeof cell !== "number") return String(cell);
  return Number.isInteger(cell) ? String(cell) : String(Number(cell.toPrecision(4)));
}
