import { visible } from "../../units/text.js";
import type { SourceData, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { mayBeTime, resampled } from "./timeBases.js";

/** A column with more values than this part of the rows has one in every row, but for some that are missing. */
const nearlyAll = 0.9;
/** Two columns are logged in turns when so few of their values stand in the same row. */
const together = 0.1;
const fewest = 8;

/**
 * Brings a table in which several sources were merged row by row (each row holds the values of one of them, the other
 * cells are empty) onto the rows of the source that was logged most often: values of the others are interpolated, or
 * held where they stay constant. Any other table is given back as it is.
 */
export function mergedRows(table: SourceTable): SourceTable {
  return { ...table, read: async (indices) => onRowsOfFinest(table, indices, await table.read(indices)) };
}

function onRowsOfFinest(table: SourceTable, indices: readonly number[], data: SourceData): SourceData {
  const rows = data.columns[0]?.length ?? 0;
  const numbers = indices
    .map((index, k) => ({ index, k, column: data.columns[k] }))
    .filter(({ index }) => table.columns[index].kind === "number" && !mayBeTime(table.columns[index]));
  // A column with values in nearly all rows shows that the rows are not of several sources.
  if (
    numbers.some(({ column }) => filledRows(column, nearlyAll * rows) >= Math.max(fewest, nearlyAll * rows))
  )
    return data;
  const sparse = numbers
    .map((v) => ({ ...v, filled: filledRows(v.column) }))
    .filter(({ filled }) => filled >= fewest);
  if (sparse.length < 2 || !inTurns(sparse)) return data;
  const finest = sparse.reduce((a, b) => (b.filled > a.filled ? b : a));
  const own = sparse.filter(({ column }) => alike(column, finest.column) > 1 - together);
  const kept: number[] = [];
  for (let i = 0; i < rows; i += 1) if (own.some(({ column }) => !Number.isNaN(column[i]))) kept.push(i);
  const pick = (from: Float64Array): Float64Array => Float64Array.from(kept, (i) => from[i]);
  const at = indices.findIndex((index) => mayBeTime(table.columns[index]));
  const clock = at < 0 ? Float64Array.from({ length: rows }, (_, i) => i) : data.columns[at];
  const to = pick(clock);
  const columns = indices.map((index, k) => {
    const column = data.columns[k];
    if (k === at || own.some((o) => o.k === k) || table.columns[index].kind === "stamp") return pick(column);
    return resampled(clock, column, to, data.words.has(index));
  });
  const back = new Map(kept.map((row, n) => [row, n] as const));
  const marks = (data.marks ?? []).map((m) => ({
    ...m,
    row: back.get(m.row) ?? kept.filter((r) => r < m.row).length,
  }));
  return {
    ...data,
    columns,
    marks,
    firstLine: undefined,
    owned: false,
    findings: [...data.findings, told(table, sparse, finest.index)],
  };
}

/** Rows with a value, counted up to `enough`. */
function filledRows(column: Float64Array, enough = column.length): number {
  let n = 0;
  for (let i = 0; i < column.length && n < enough; i += 1) if (!Number.isNaN(column[i])) n += 1;
  return n;
}

/** Part of the values of the rarer column that stand beside one of the other. */
function alike(a: Float64Array, b: Float64Array): number {
  let both = 0;
  let first = 0;
  let second = 0;
  for (let i = 0; i < a.length; i += 1) {
    const [x, y] = [!Number.isNaN(a[i]), !Number.isNaN(b[i])];
    if (x) first += 1;
    if (y) second += 1;
    if (x && y) both += 1;
  }
  return both / Math.max(1, Math.min(first, second));
}

/** Some of the columns are never logged together, and all over the table. */
function inTurns(sparse: readonly { readonly column: Float64Array }[]): boolean {
  const [first] = sparse;
  return sparse.some(
    ({ column }) => alike(first.column, column) < together && overlap(first.column, column) > 0.5,
  );
}

/** Part of the shorter span of two columns that both cover. */
function overlap(a: Float64Array, b: Float64Array): number {
  const [from, to] = [a, b].map((c) => [
    c.findIndex((v) => !Number.isNaN(v)),
    c.findLastIndex((v) => !Number.isNaN(v)),
  ]);
  const shared = Math.min(from[1], to[1]) - Math.max(from[0], to[0]);
  return shared / Math.max(1, Math.min(from[1] - from[0], to[1] - to[0]));
}

function told(
  table: SourceTable,
  sparse: readonly { readonly index: number; readonly filled: number }[],
  finest: number,
): Finding {
  const counts = sparse
    .slice(0, 8)
    .map(({ index, filled }) => `"${visible(table.columns[index].name, 40)}" ${filled}`);
  return {
    severity: "note",
    code: "rows-merged",
    message: `the rows hold the values of several sources in turns (values: ${counts.join(", ")}); they were brought onto the rows of "${visible(table.columns[finest].name, 40)}"`,
    value: sparse.length,
    meaning: "between their values the other signals are interpolated, or held where they stay constant",
    file: table.path,
  };
}
