import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { CannotRead, type SourceColumn, type SourceTable } from "./sourceTable.js";

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
  /** Lists of words, which may name the columns of a matrix. */
  readonly labels?: readonly (readonly string[])[];
  /** Values of kinds that are not read, with their kind. */
  readonly left?: readonly string[];
}

const mostColumns = 2000;
/** Names of arrays that hold the time of the others. */
const clockName = /(^|[._ ])(t|ts|time|times|timestamps?|time_?s|zeit|temps|tiempo|tempo|tout|x)$/i;

/**
 * Makes tables of arrays: those of one length stand together. Structures with the same fields, each with a time of its
 * own, are runs, and become a table each; structures of a time and its values are signals.
 *
 * @throws CannotRead when there is no array with two rows
 */
export function arraysAsTables(
  path: string,
  format: string,
  found: NamedArrays,
  findings: Finding[],
): SourceTable[] {
  found = { ...found, arrays: upright(found.arrays) };
  const runs = runsOf(found.arrays) ?? matricesApart(found.arrays);
  if (runs === undefined)
    return [arraysAsTable(path, format, { ...found, arrays: ofOneLength(found.arrays) }, findings)];
  const inRuns = new Set(runs.flatMap(([, arrays]) => arrays));
  const beside = found.arrays.filter((a) => !inRuns.has(a));
  if (beside.length > 0) findings.push(arraysLeft(path, beside));
  return runs.map(([name, arrays], k) => ({
    ...arraysAsTable(
      `${path}#${visible(name.replace(/[#,]/g, " "), 60)}`,
      format,
      { arrays, scalars: k === 0 ? found.scalars : [], labels: found.labels },
      k === 0 ? findings : [],
    ),
    label: name,
    files: [path],
  }));
}

/** More signals than this are not stored as the rows of one matrix. */
const mostLying = 64;

/**
 * Matrices with a signal in each row are turned, so that a row is a moment: those with few rows and many columns, as
 * many as the longest side that most of the numbers have.
 */
function upright(arrays: readonly NamedArray[]): readonly NamedArray[] {
  const weight = new Map<number, number>();
  for (const { rows, columns } of arrays) {
    const side = Math.max(rows, columns);
    weight.set(side, (weight.get(side) ?? 0) + rows * columns);
  }
  if (weight.size === 0) return arrays;
  const [length] = [...weight].reduce((a, b) => (b[1] > a[1] ? b : a));
  return arrays.map((a) => {
    if (a.columns !== length || a.rows > mostLying || length < 5 * a.rows || length < 20) return a;
    let turned: Float64Array[] | undefined;
    const turn = (): Float64Array[] => {
      const rows = Array.from({ length: a.rows }, () => new Float64Array(length));
      for (let k = 0; k < length; k += 1) {
        const column = a.column(k);
        for (let row = 0; row < a.rows; row += 1) rows[row][k] = column[row];
      }
      return rows;
    };
    return {
      ...a,
      rows: length,
      columns: a.rows,
      column: (k) => {
        turned ??= turn();
        return turned[k];
      },
    };
  });
}

/** Parents with the same fields below them, at least a time and two more: undefined when there are not several. */
function runsOf(arrays: readonly NamedArray[]): [string, NamedArray[]][] | undefined {
  const byParent = new Map<string, NamedArray[]>();
  for (const a of arrays) {
    const at = a.name.lastIndexOf(".");
    if (at > 0 && a.rows >= 2) {
      const parent = a.name.slice(0, at);
      byParent.set(parent, [...(byParent.get(parent) ?? []), a]);
    }
  }
  const bySet = new Map<string, [string, NamedArray[]][]>();
  for (const [parent, own] of byParent) {
    const leaves = own.map((a) => a.name.slice(parent.length + 1)).sort();
    if (own.length < 3 || !leaves.some((l) => clockName.test(l))) continue;
    const key = leaves.join("\u0000");
    bySet.set(key, [
      ...(bySet.get(key) ?? []),
      [parent, own.map((a) => ({ ...a, name: a.name.slice(parent.length + 1) }))],
    ]);
  }
  const most = [...bySet.values()].sort((a, b) => b.length - a.length)[0];
  return most !== undefined && most.length > 1 ? most : undefined;
}

/** Matrices of as many columns, each with a clock of its own in the first: a run or a motor each. */
function matricesApart(arrays: readonly NamedArray[]): [string, NamedArray[]][] | undefined {
  const own = arrays.filter((a) => a.rows >= 20 && a.columns >= 3 && a.columns <= mostColumns);
  const alike = own.filter((a) => a.columns === own[0].columns);
  if (alike.length < 2 || alike.length > 500 || !alike.every((a) => rises(a.column(0)))) return undefined;
  return alike.map((a) => [a.name, [a]]);
}

function rises(clock: Float64Array): boolean {
  for (let i = 1; i < clock.length; i += 1) if (!(clock[i] > clock[i - 1])) return false;
  return true;
}

/** Signals that each have a time and values of a length of their own are filled up to the longest; everything else
 * stays as it is. */
function ofOneLength(arrays: readonly NamedArray[]): readonly NamedArray[] {
  const byParent = new Map<string, NamedArray[]>();
  for (const a of arrays) {
    const at = a.name.lastIndexOf(".");
    if (at > 0 && a.rows >= 2 && a.columns === 1)
      byParent.set(a.name.slice(0, at), [...(byParent.get(a.name.slice(0, at)) ?? []), a]);
  }
  const signals = [...byParent.values()].filter(
    (own) =>
      own.length >= 2 &&
      own.every((a) => a.rows === own[0].rows) &&
      own.filter((a) => clockName.test(a.name)).length === 1,
  );
  const rows = Math.max(0, ...signals.map(([a]) => a.rows));
  if (signals.length < 2 || signals.every(([a]) => a.rows === rows)) return arrays;
  const members = new Set(signals.flat());
  const filled = signals.flatMap((own) =>
    [...own]
      .sort((a, b) => Number(clockName.test(b.name)) - Number(clockName.test(a.name)))
      .map(
        (a): NamedArray => ({
          ...a,
          rows,
          column: (k) => {
            const longer = new Float64Array(rows).fill(Number.NaN);
            longer.set(a.column(k));
            return longer;
          },
        }),
      ),
  );
  return [...filled, ...arrays.filter((a) => !members.has(a))];
}

function arraysLeft(path: string, left: readonly NamedArray[]): Finding {
  return {
    severity: "note",
    code: "arrays-left",
    message: `arrays of another length were left out: ${left
      .slice(0, 8)
      .map((a) => `${visible(a.name, 40)} (${a.rows} x ${a.columns})`)
      .join(", ")}${left.length > 8 ? `, and ${left.length - 8} more` : ""}`,
    file: path,
  };
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
    if (a.rows >= 2 && a.columns <= mostColumns)
      weight.set(a.rows, (weight.get(a.rows) ?? 0) + a.rows * a.columns);
  }
  const left = (found.left ?? []).slice(0, 8).map((l) => visible(l, 60));
  if (left.length > 0) {
    findings.push({
      severity: "warning",
      code: "values-left",
      message: `values of a kind that is not read were left out: ${left.join(", ")}`,
      meaning:
        "tables and time series that are stored as objects are to be saved as structures, or as text tables",
      file: path,
    });
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
  const used = found.arrays.filter((a) => a.rows === rows && a.columns <= mostColumns);
  // Matrices first, so that column numbers mean the matrix a person has in mind.
  used.sort((a, b) => Number(b.columns > 1) - Number(a.columns > 1));
  const others = found.arrays.filter((a) => !used.includes(a));
  if (others.length > 0) {
    findings.push(arraysLeft(path, others));
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
  const matrices = used.filter((a) => a.columns > 1);
  const lists = (found.labels ?? []).filter((l) => matrices.some((a) => a.columns === l.length));
  // One list of words as long as the only matrix is wide names its columns.
  const labels = lists.length === 1 && matrices.length === 1 ? lists[0] : undefined;
  for (const array of used) {
    for (let k = 0; k < array.columns; k += 1) {
      const label = array.columns > 1 ? labels?.[k] : undefined;
      columns.push({
        name: label ?? (array.columns === 1 ? array.name : `${array.name}:${k + 1}`),
        ...(array.unit === undefined ? {} : { unit: array.unit, unitFrom: "attribute" }),
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
    nameless: labels === undefined && used.every((a) => a.columns > 1),
    read: async (indices) => ({
      columns: indices.map((i) => readers[i]()),
      words: new Map(),
      origins: new Map(),
      findings: [],
    }),
  };
}
