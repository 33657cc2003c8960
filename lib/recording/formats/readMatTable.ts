import { readFile, stat } from "node:fs/promises";
import { inflateSync } from "node:zlib";
import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { type MatValue, NotAMatFile, readMatFile } from "./matFile.js";
import { CannotRead, type SourceColumn, type SourceTable } from "./sourceTable.js";
import { unpackLimit } from "./unpackLimit.js";

/** MAT-files are read whole; larger ones than this are refused, and none may unpack to more. */
const mostBytes = 1_500_000_000;

/** A table out of a MAT-file level 5: the arrays that share the commonest length, matrices column by column. */
export async function readMatTable(path: string): Promise<SourceTable> {
  const { size } = await stat(path);
  if (size > mostBytes) {
    throw new CannotRead({
      severity: "error",
      code: "too-large",
      message: `the MAT-file has ${Math.round(size / 1e6)} MB, and it must be read whole; convert it to Parquet or HDF5`,
      file: path,
    });
  }
  let contents: ReturnType<typeof readMatFile>;
  try {
    contents = readMatFile(
      await readFile(path),
      (bytes, limit) => inflateSync(bytes, { maxOutputLength: limit }),
      Math.min(mostBytes, unpackLimit(size)),
    );
  } catch (error) {
    if (!(error instanceof NotAMatFile) && !(error instanceof RangeError)) throw error;
    throw new CannotRead({
      severity: "error",
      code: "not-a-mat-file",
      message: `the MAT-file cannot be read: ${visible(error.message, 160)}`,
      file: path,
    });
  }
  const findings: Finding[] = [];
  if (contents.broken !== undefined) {
    findings.push({
      severity: "warning",
      code: "truncated",
      message: `the MAT-file breaks off: ${visible(contents.broken, 160)}; what came before was read`,
      meaning: "variables after the break are missing",
      file: path,
    });
  }
  return arraysAsTable(path, "MAT-file level 5", flatten(contents.variables), findings);
}

/** A named array of numbers, stored by columns (or by rows, as HDF5 does). */
export interface NamedArray {
  readonly name: string;
  readonly rows: number;
  readonly columns: number;
  /** Value of a column. */
  readonly column: (k: number) => Float64Array;
  readonly unit?: string;
}

/** Scalars and texts, told so that a person can state what they mean. */
export interface NamedArrays {
  readonly arrays: readonly NamedArray[];
  readonly scalars: readonly { readonly name: string; readonly value: number }[];
}

function flatten(variables: ReadonlyMap<string, MatValue>): NamedArrays {
  const arrays: NamedArray[] = [];
  const scalars: { name: string; value: number }[] = [];
  const walk = (name: string, value: MatValue, depth: number): void => {
    if (value.kind === "numeric") {
      const [r, c] = value.size.length === 2 ? value.size : [value.data.length, 1];
      if (value.data.length === 1) scalars.push({ name, value: value.data[0] });
      else if (value.data.length > 1) {
        const lying = r === 1;
        arrays.push({
          name,
          rows: lying ? c : r,
          columns: lying ? 1 : c,
          column: (k) => (lying ? value.data : value.data.slice(k * r, k * r + r)),
        });
      }
    } else if (value.kind === "structure" && value.elements.length === 1 && depth < 6) {
      for (const [field, inner] of Object.entries(value.elements[0]))
        walk(`${name}.${field}`, inner, depth + 1);
    } else if (value.kind === "cell" && depth < 6) {
      for (const [i, inner] of value.elements.slice(0, 200).entries())
        walk(`${name}{${i + 1}}`, inner, depth + 1);
    }
  };
  for (const [name, value] of variables) walk(name, value, 0);
  return { arrays, scalars };
}

/** Makes one table of the arrays that have as many rows as the largest matrix (or as most arrays). */
export function arraysAsTable(
  path: string,
  format: string,
  found: NamedArrays,
  findings: Finding[],
): SourceTable {
  // Row counts, weighed by how many values stand behind them.
  const weight = new Map<number, number>();
  for (const a of found.arrays) {
    if (a.rows >= 2 && a.columns <= 2000) weight.set(a.rows, (weight.get(a.rows) ?? 0) + a.rows * a.columns);
  }
  if (weight.size === 0) {
    throw new CannotRead({
      severity: "error",
      code: "no-numbers",
      message: "the file holds no arrays of numbers with two rows or more",
      file: path,
    });
  }
  const [rows] = [...weight].reduce((a, b) => (b[1] > a[1] ? b : a));
  const used = found.arrays.filter((a) => a.rows === rows && a.columns <= 2000);
  // Matrices first, so that column numbers mean the matrix a person has in mind.
  used.sort((a, b) => Number(b.columns > 1) - Number(a.columns > 1));
  const left = found.arrays.filter((a) => !used.includes(a));
  if (left.length > 0) {
    findings.push({
      severity: "note",
      code: "arrays-left",
      message: `arrays of another length were left out: ${left
        .slice(0, 8)
        .map((a) => `${visible(a.name, 40)} (${a.rows} x ${a.columns})`)
        .join(", ")}${left.length > 8 ? `, and ${left.length - 8} more` : ""}`,
      file: path,
    });
  }
  if (found.scalars.length > 0) {
    findings.push({
      severity: "note",
      code: "scalars",
      message: `single numbers in the file: ${found.scalars
        .slice(0, 16)
        .map((s) => `${visible(s.name, 40)} = ${Number(s.value.toPrecision(6))}`)
        .join(", ")}`,
      meaning: "nothing is guessed from their names; state what they mean in a descriptor or by options",
      file: path,
    });
  }
  const columns: SourceColumn[] = [];
  const readers: (() => Float64Array)[] = [];
  for (const array of used) {
    for (let k = 0; k < array.columns; k += 1) {
      columns.push({
        name: array.columns === 1 ? array.name : `${array.name}:${k + 1}`,
        unit: array.unit,
        unitFrom: array.unit === undefined ? undefined : "attribute",
        kind: "number",
        samples: [],
      });
      readers.push(() => array.column(k));
    }
  }
  return {
    path,
    format,
    columns,
    findings,
    nameless: used.every((a) => a.columns > 1),
    read: async (indices) => ({
      columns: indices.map((i) => readers[i]()),
      words: new Map(),
      origins: new Map(),
      findings: [],
    }),
  };
}
