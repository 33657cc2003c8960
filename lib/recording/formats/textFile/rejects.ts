import type { DuckDBConnection } from "@duckdb/node-api";
import { visible } from "../../../units/text.js";
import type { Finding } from "../../types.js";
import type { TextTable } from "./textColumns.js";

/** A cell or a row that the column engine could not read. */
export interface Reject {
  readonly line: number;
  /** The engine's name of the column: `c` and its place. */
  readonly column: string | null;
  /** `CAST` where a cell is no number; else what is wrong with the row. */
  readonly type: string;
  /** The line. */
  readonly text: string;
  readonly message: string;
}

/** Rows that could not be read that are listed one by one. */
const mostListed = 20;

/** What the engine listed in a table of rejects, by lines; undefined where there is no such table: it appears when the
 * whole file has been read. */
export async function rejectsIn(connection: DuckDBConnection, name: string): Promise<Reject[] | undefined> {
  const done = await connection.runAndReadAll(
    `SELECT count(*) FROM duckdb_tables() WHERE table_name = '${name}'`,
  );
  if (Number(done.getRows()[0][0]) === 0) return undefined;
  const rows = await connection.runAndReadAll(
    `SELECT line, column_name, error_type, csv_line, error_message FROM ${name} ORDER BY line, column_idx`,
  );
  return rows.getRows().map((r) => ({
    line: Number(r[0]),
    column: r[1] === null ? null : String(r[1]),
    type: String(r[2]),
    text: String(r[3] ?? ""),
    message: String(r[4] ?? ""),
  }));
}

/** One entry per line: a cell that did not parse, or a row of the wrong shape. */
export function mergeRejects(first: readonly Reject[], second: readonly Reject[]): Reject[] {
  const lost = new Set(second.map((r) => r.line));
  const seen = new Map<string, Reject>();
  for (const r of first) {
    if (r.type === "CAST" && lost.has(r.line)) continue;
    const key = r.type === "CAST" ? `${r.line}:${r.column}` : `${r.line}`;
    if (!seen.has(key)) seen.set(key, r);
  }
  for (const r of second) if (!seen.has(`${r.line}`)) seen.set(`${r.line}`, r);
  return [...seen.values()].sort((a, b) => a.line - b.line);
}

/** What is told of cells that are no numbers, of rows that are too short and of those that could not be read. */
export function rejectFindings(table: TextTable, bad: readonly Reject[]): Finding[] {
  const cells = bad.filter((r) => r.type === "CAST");
  const short = bad.filter((r) => r.type === "MISSING COLUMNS");
  const rows = bad.filter((r) => r.type !== "CAST" && r.type !== "MISSING COLUMNS");
  return [
    ...(cells.length > 0 ? [noNumbers(table, cells)] : []),
    ...(short.length > 0 ? [tooShort(table, short)] : []),
    ...(rows.length > 0 ? [notRead(table, rows)] : []),
  ];
}

/** Lines that lie between quotes, as many. */
export function notInRows(file: string, lines: number): Finding {
  return {
    severity: "warning",
    code: "rows-not-read",
    message: `${lines} lines lie between quotes and were taken for text within a cell`,
    value: lines,
    meaning: "rows among them are lost; look for a stray quote",
    file,
  };
}

/** The last row, in the middle of which the file ends. */
export function breaksOffIn({ path }: TextTable, last: Reject): Finding {
  return {
    severity: "warning",
    code: "truncated",
    message: `the file breaks off in the middle of its last row (line ${last.line}): "${visible(last.text, 60)}"`,
    meaning: "that row is left out; what the logger wrote after it is lost",
    file: path,
    row: last.line,
  };
}

function noNumbers({ path, columns, dialect }: TextTable, cells: readonly Reject[]): Finding {
  const k = cells[0].column === null ? -1 : Number(cells[0].column.slice(1));
  const cell = cells[0].text.split(dialect.delimiter)[k] ?? cells[0].text;
  return {
    severity: "warning",
    code: "cells-not-numbers",
    message: `${cells.length} ${cells.length === 1 ? "cell is no number" : "cells are no numbers"} (lines ${listOf(cells)}); the first is "${visible(cell, 40)}"`,
    value: cells.length,
    meaning: "these values are taken as missing; fix or remove them",
    file: path,
    row: cells[0].line,
    column: columns[k]?.column.name,
  };
}

function tooShort({ path, dialect }: TextTable, short: readonly Reject[]): Finding {
  const found = /Found: (\d+)/.exec(short[0].message)?.[1];
  return {
    severity: "warning",
    code: "rows-too-short",
    message: `${short.length} ${short.length === 1 ? "row has" : "rows have"} fewer fields than the ${dialect.fields} of the others (lines ${listOf(short)})`,
    value: short.length,
    meaning: `missing fields are taken as missing values${found === undefined ? "" : `; the first such row has ${found}`}`,
    file: path,
    row: short[0].line,
  };
}

function notRead({ path }: TextTable, rows: readonly Reject[]): Finding {
  return {
    severity: "warning",
    code: "rows-not-read",
    message: `${rows.length} ${rows.length === 1 ? "row" : "rows"} could not be read (lines ${listOf(rows)}): ${visible(rows[0].message, 120)}`,
    value: rows.length,
    meaning: "these rows are left out; look for a stray delimiter or quote",
    file: path,
    row: rows[0].line,
  };
}

function listOf(all: readonly Reject[]): string {
  const lines = [...new Set(all.map((r) => r.line))];
  const more = lines.length > mostListed ? `, and ${lines.length - mostListed} more` : "";
  return lines.slice(0, mostListed).join(", ") + more;
}
