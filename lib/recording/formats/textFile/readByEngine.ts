import { stat } from "node:fs/promises";
import { zeroed } from "../../columns/dayOrder.js";
import { every, wordColumns } from "../../columns/wordsAndStamps.js";
import { mayUseEngineHere } from "../../limits/engineHere.js";
import type { Finding } from "../../types.js";
import { connectEngine, type DoubleColumns } from "../columnEngine.js";
import { type SourceData, thinned } from "../sourceTable.js";
import { filledLines } from "./filledLines.js";
import { checkFirstRow } from "./firstRow.js";
import { breaksOffIn, mergeRejects, notInRows, type Reject, rejectFindings } from "./rejects.js";
import { TableQuery, type WayToRead } from "./tableQuery.js";
import type { TextTable } from "./textColumns.js";

/** Reads columns line by line, of whatever is written otherwise than the others. */
export type CloserLook = (indices: readonly number[]) => Promise<SourceData>;

/** Rows as the engine read them. */
interface RowsRead {
  readonly data: DoubleColumns;
  /** How they were read. */
  readonly way: WayToRead;
  /** What did not fit. */
  readonly bad: readonly Reject[];
}

/** Rows that do not fit are left out at first and counted afterwards. */
const fast: WayToRead = { typed: true, listed: false };

/**
 * Columns of a text table, read by the column engine.
 *
 * @param indices places of the columns
 * @param closer taken instead as soon as anything does not fit, where the text is small enough for it
 */
export async function readByEngine(
  table: TextTable,
  indices: readonly number[],
  closer: CloserLook | undefined,
): Promise<SourceData> {
  mayUseEngineHere((await stat(table.path)).size);
  const connection = await connectEngine();
  try {
    const query = new TableQuery(connection, table, indices);
    let data: DoubleColumns;
    try {
      data = await query.run(fast);
    } catch (error) {
      if (closer === undefined) throw error;
      return await closer(indices);
    }
    const left = (await filledLines(table.plain, table.dialect)) - data.rows;
    // Perhaps these lines are headings, titles, or rows of another table, or a stray quote has taken rows for one text.
    if (left > 0 && closer !== undefined) return await closer(indices);
    const findings: Finding[] = [];
    const read = left > 0 ? await readListing(table, query, left, findings) : { data, way: fast, bad: [] };
    checkFirstRow(table, query.numbers, read.data.columns);
    const last = table.cut ? read.bad.at(-1) : undefined;
    if (last !== undefined) findings.push(breaksOffIn(table, last));
    findings.push(
      ...rejectFindings(
        table,
        read.bad.filter((r) => r.line !== last?.line),
      ),
    );
    const source = query.source({ typed: read.way.typed, listed: false });
    const names = query.texts.map((k) => `c${k}`);
    const words = await wordColumns(connection, source, names, read.data.rows);
    return dataOf(table, indices, { query, read, words, drop: last === undefined ? 0 : 1 }, findings);
  } finally {
    connection.closeSync();
  }
}

/** Reads rows of which some do not fit, and lists those: a bad cell costs one value and not its row. */
async function readListing(
  { path }: TextTable,
  query: TableQuery,
  left: number,
  findings: Finding[],
): Promise<RowsRead> {
  const way = { typed: true, listed: true };
  const data = await query.run(way);
  const first = await query.rejects(data.rows);
  if (first.length === 0) {
    // A row of several lines, or lines that a stray quote has made one cell.
    findings.push(notInRows(path, left));
    return { data, way, bad: first };
  }
  await query.forgetRejects();
  const cells = { typed: false, listed: true };
  const again = await query.run(cells);
  return { data: again, way: cells, bad: mergeRejects(first, await query.rejects(again.rows)) };
}

/** What was read of a table, beside its findings. */
interface ColumnsRead {
  readonly query: TableQuery;
  readonly read: RowsRead;
  /** The columns of words, in the order of the query. */
  readonly words: Awaited<ReturnType<typeof wordColumns>>;
  /** Rows to leave out at the end. */
  readonly drop: number;
}

function dataOf(
  { path, columns, dialect }: TextTable,
  indices: readonly number[],
  { query, read, words: lists, drop }: ColumnsRead,
  findings: Finding[],
): SourceData {
  const { data } = read;
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  const ordered = indices.map((k) => {
    const c = columns[k];
    const i = query.numbers.indexOf(k);
    if (i < 0) {
      const own = lists[query.texts.indexOf(k)];
      words.set(k, own.words);
      return every(own.codes, data.kept);
    }
    if (c.stamp !== undefined) {
      const zero = zeroed(data.columns[i], c.stamp, c.column.name, path);
      origins.set(k, zero.origin);
      findings.push(...zero.findings);
    }
    return data.columns[i];
  });
  findings.push(...thinned(path, data.kept, data.rows));
  return {
    columns: drop === 0 ? ordered : ordered.map((c) => c.subarray(0, c.length - drop)),
    words,
    origins,
    findings,
    owned: true,
    kept: data.kept,
    firstLine: dialect.linesBefore + 1,
  };
}
