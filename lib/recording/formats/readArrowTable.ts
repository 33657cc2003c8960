import { readFile, stat } from "node:fs/promises";
import type { fromArrow } from "arquero";
import { zeroed } from "../columns/dayOrder.js";
import { stampMoment } from "../columns/stampMoment.js";
import { type StampForm, stampForm } from "../columns/stamps.js";
import type { Finding } from "../types.js";
import { checkArrowLists } from "./arrowLists.js";
import { reasonOf } from "./reasonOf.js";
import {
  CannotRead,
  type ColumnKind,
  type SourceColumn,
  type SourceData,
  type SourceTable,
} from "./sourceTable.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";

type ArrowTable = ReturnType<typeof fromArrow>;

/** A column of the file, and how its stamps are written where it holds some as text. */
interface ArrowColumn {
  readonly column: SourceColumn;
  readonly form: StampForm | undefined;
}

/** Opens an Arrow IPC file or stream. It is held in memory as it is; only the columns asked for are turned into
 * doubles. */
export async function readArrowTable(path: string): Promise<SourceTable> {
  const { size } = await stat(path);
  const table = await openArrow(path, size);
  const names = table.columnNames();
  if (names.length > 2000)
    throw cannot(
      path,
      "too-many-columns",
      `${names.length} columns were found, more than the 2000 that are read`,
    );
  const rows = table.numRows();
  if (8 * rows > unpackLimit(size)) throw unpacksTooFar(path, size, "each column of the file unpacks");
  const columns = names.map((name) => describe(table, name));
  return {
    path,
    format: "Arrow IPC",
    columns: columns.map(({ column }) => column),
    findings: [],
    read: async (indices) =>
      readColumns(
        path,
        table,
        indices.map((k) => [k, columns[k]] as const),
      ),
  };
}

function cannot(file: string, code: string, message: string, meaning?: string): CannotRead {
  return new CannotRead({ severity: "error", code, message, ...(meaning ? { meaning } : {}), file });
}

async function openArrow(path: string, size: number): Promise<ArrowTable> {
  if (size > 1_000_000_000) {
    const megabytes = Math.round(size / 1e6);
    const message = `the Arrow file has ${megabytes} MB, and it must be held whole; write it as Parquet`;
    throw cannot(path, "too-large", message);
  }
  const [{ fromArrow }, { registerArrowCodecs, unpackingAtMost }] = await Promise.all([
    import("arquero"),
    import("./arrowCodecs.js"),
  ]);
  await registerArrowCodecs();
  try {
    const bytes = new Uint8Array(await readFile(path));
    checkArrowLists(bytes, unpackLimit(size) / 8);
    return unpackingAtMost(unpackLimit(size), () => fromArrow(bytes, { useBigInt: false, useDate: false }));
  } catch (error) {
    const message = `the Arrow file cannot be read: ${reasonOf(error)}`;
    throw cannot(path, "not-arrow", message, "it is cut short or damaged; write it again, or as Parquet");
  }
}

/** What a column holds, by its first values. */
function describe(table: ArrowTable, name: string): ArrowColumn {
  const some: unknown[] = [];
  for (let i = 0; i < Math.min(table.numRows(), 50); i += 1) some.push(table.get(name, i));
  const kept = some.filter((v) => v !== null && v !== undefined);
  const all = (is: (v: unknown) => boolean): boolean => kept.length > 0 && kept.every(is);
  const form = all((v) => typeof v === "string") ? stampForm(kept as string[]) : undefined;
  const stamps = form !== undefined || all((v) => v instanceof Date);
  const numbers = all((v) => ["number", "bigint", "boolean"].includes(typeof v));
  const kind: ColumnKind = kept.length === 0 ? "empty" : stamps ? "stamp" : numbers ? "number" : "text";
  return { column: { name, kind, samples: kept.slice(0, 20).map(String) }, form };
}

/** Values of columns, each with its place. */
function readColumns(
  path: string,
  table: ArrowTable,
  wanted: readonly (readonly [number, ArrowColumn])[],
): SourceData {
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  const findings: Finding[] = [];
  const columns = wanted.map(([k, { column, form }]) => {
    const cells = table.column(column.name) as { at(i: number): unknown };
    if (column.kind === "text") {
      const read = wordsOf(cells, table.numRows());
      words.set(k, read.words);
      return read.codes;
    }
    const data = numbersOf(cells, table.numRows(), column.kind === "stamp");
    if (column.kind === "stamp") {
      const zero = zeroed(data, form, column.name, path);
      origins.set(k, zero.origin);
      findings.push(...zero.findings);
    }
    return data;
  });
  return { columns, words, origins, findings };
}

function numbersOf(cells: { at(i: number): unknown }, rows: number, stamps: boolean): Float64Array {
  const data = new Float64Array(rows);
  for (let i = 0; i < rows; i += 1) {
    const v = cells.at(i);
    if (v === null || v === undefined) data[i] = Number.NaN;
    else if (!stamps) data[i] = Number(v);
    else data[i] = v instanceof Date ? 1000 * v.getTime() : stampMoment(String(v).trim());
  }
  return data;
}

/** Words as places in the list of those that occur; NaN where there is none. */
function wordsOf(
  cells: { at(i: number): unknown },
  rows: number,
): { readonly codes: Float64Array; readonly words: readonly string[] } {
  const codes = new Float64Array(rows);
  const map = new Map<string, number>();
  for (let i = 0; i < rows; i += 1) {
    const v = cells.at(i);
    const text = v === null || v === undefined ? "" : String(v).trim();
    if (text === "") codes[i] = Number.NaN;
    else {
      const code = map.get(text) ?? map.size;
      map.set(text, code);
      codes[i] = code;
    }
  }
  return { codes, words: [...map.keys()] };
}
