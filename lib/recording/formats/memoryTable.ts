import { conversion } from "../../units/convert.js";
import { visible } from "../../units/text.js";
import { zeroed } from "../columns/dayOrder.js";
import { areObjects } from "../columns/objectNumbers.js";
import { stampMoment } from "../columns/stampMoment.js";
import { type StampForm, stampForm } from "../columns/stamps.js";
import { unitInHeading } from "../columns/unitText.js";
import type { Finding } from "../types.js";
import type { Block } from "./blocks.js";
import { cellKind } from "./cells.js";
import { bareUnit } from "./heading.js";
import type { Lines } from "./lines.js";
import { type ColumnForm, type NumberForm, numberForms, numberIn, type StatedForm } from "./numberForms.js";
import { numberWithUnit } from "./numberWithUnit.js";
import type { ColumnKind, SourceColumn, SourceData, SourceTable } from "./sourceTable.js";

/** One column of a block, as its cells show it. */
interface BlockColumn {
  readonly column: SourceColumn;
  readonly form: NumberForm;
  readonly stamp?: StampForm;
  /** Unit that stands in the cells. */
  readonly inCells?: string;
}

/** Rows at the beginning that are looked at, and as many spread over the rest. */
const looked = 1000;
const mostListed = 20;

/** What is the same for all tables of a file. */
export interface TableOrigin {
  readonly path: string;
  readonly label?: string;
  readonly title?: string;
  readonly files?: readonly string[];
  readonly format: string;
  readonly dialect?: string;
  readonly facts?: SourceTable["facts"];
  readonly rate?: SourceTable["rate"];
  readonly findings?: readonly Finding[];
  /** Names, units and labels that come from elsewhere (settings of an oscilloscope), by column. */
  readonly told?: ReadonlyMap<
    number,
    { readonly unit?: string; readonly label?: string; readonly name?: string }
  >;
  /** Columns that hold settings or notes, and no values. */
  readonly notValues?: ReadonlySet<number>;
}

/** A table of the rows of a block, its columns read from the cells when they are asked for. */
export function tableOfBlock(
  lines: Lines,
  block: Block,
  origin: TableOrigin,
  stated: StatedForm = {},
): SourceTable {
  const findings: Finding[] = [...(origin.findings ?? []), ...rowFindings(lines, block, origin.path)];
  const columns = describe(lines, block, origin, stated, findings);
  return {
    path: origin.path,
    label: origin.label,
    ...(origin.title === undefined ? {} : { title: origin.title }),
    files: origin.files,
    format: origin.format,
    dialect: withDecimal(origin.dialect, columns),
    rate: origin.rate,
    facts: origin.facts,
    columns: columns.map(({ column }) => column),
    findings,
    nameless:
      block.heading === undefined && ![...(origin.told?.values() ?? [])].some((t) => t.name !== undefined),
    read: (indices) => readBlock(lines, block, columns, indices, origin.path),
  };
}

/** The dialect with the decimal sign that its numbers use, when it is the comma. */
function withDecimal(dialect: string | undefined, columns: readonly BlockColumn[]): string | undefined {
  const comma = columns.some(({ form }) => form.decimal === ",");
  return comma ? dialect?.replace(/fields by [^,]*/, "$&, decimal comma") : dialect;
}

function sampleRows(block: Block): number[] {
  const { rows } = block;
  if (rows.length <= 2 * looked) return rows;
  const stride = (rows.length - looked) / looked;
  return [
    ...rows.slice(0, looked),
    ...Array.from({ length: looked }, (_, k) => rows[looked + Math.floor(k * stride)]),
  ];
}

function describe(
  lines: Lines,
  block: Block,
  origin: TableOrigin,
  stated: StatedForm,
  findings: Finding[],
): BlockColumn[] {
  const cells: string[][] = Array.from({ length: block.fields }, () => []);
  const some: string[][] = cells.map(() => []);
  const numbers = new Array<number>(block.fields).fill(0);
  for (const i of sampleRows(block)) {
    const row = lines.cells(i);
    for (let k = 0; k < block.fields; k += 1) {
      const cell = row[k] ?? "";
      cells[k].push(cell);
      const kind = cellKind(cell);
      if (kind !== "missing") some[k].push(cell);
      if (kind === "number") numbers[k] += 1;
    }
  }
  const forms = numberForms(some, stated);
  const columns = some.map((own, k) =>
    describeColumn(block, { some: own, numbers: numbers[k], given: forms[k] }, k, origin, findings),
  );
  tellGroups(columns, cells, origin.path, findings);
  return columns;
}

/** Cells of a column with something in them, how many are numbers, and how these are written. */
interface SomeCells {
  readonly some: readonly string[];
  readonly numbers: number;
  readonly given: ColumnForm;
}

function describeColumn(
  block: Block,
  { some, numbers, given }: SomeCells,
  k: number,
  origin: TableOrigin,
  findings: Finding[],
): BlockColumn {
  const heading = block.heading?.names[k] ?? origin.told?.get(k)?.name ?? "";
  const name = heading === "" ? `column ${k + 1}` : heading;
  const unitCell = bareUnit(block.heading?.units?.[k] ?? "");
  const stamp = stampForm(some.slice(0, 200));
  const inCells = commonUnit(some);
  let kind: ColumnKind =
    some.length === 0
      ? "empty"
      : stamp !== undefined
        ? "stamp"
        : numbers > some.length / 2
          ? "number"
          : "text";
  if ((origin.notValues?.has(k) || (kind === "number" && areObjects(some))) && some.length > 0) kind = "text";
  let form: NumberForm = { decimal: ".", thousands: "" };
  if ("mixed" in given) {
    if (kind === "number") {
      kind = "text";
      findings.push(mixedForms(name, given.mixed, origin.path));
    }
  } else form = given;
  const told = origin.told?.get(k);
  const [unit, unitFrom] =
    inCells !== undefined
      ? [inCells, "cells"]
      : unitCell !== ""
        ? [unitCell, "units row"]
        : told?.name === undefined && unitInHeading(heading) !== undefined
          ? []
          : [told?.unit, told?.unit === undefined ? undefined : "preamble"];
  return {
    form,
    stamp: kind === "stamp" ? stamp : undefined,
    inCells,
    column: {
      name,
      unit,
      unitFrom,
      kind,
      samples: some.slice(0, 20),
      ...(told?.label === undefined ? {} : { label: told.label }),
    },
  };
}

function mixedForms(name: string, [usual, other]: readonly [string, string], file: string): Finding {
  return {
    severity: "warning",
    code: "mixed-numbers",
    message: `the numbers of "${visible(name, 60)}" are written in forms that contradict each other: "${visible(usual, 30)}" and "${visible(other, 30)}"`,
    meaning:
      "the column is left out, since half of it would be wrong; say how to read it: --decimal , --thousands . or the other way round",
    file,
    column: name,
  };
}

/** The unit that most cells of a column bring along. */
function commonUnit(some: readonly string[]): string | undefined {
  const seen = new Map<string, number>();
  for (const c of some.slice(0, 400)) {
    if (/^[+-]?[\d.,]+$/.test(c)) continue;
    const unit = numberWithUnit(c)?.unit;
    if (unit !== undefined) seen.set(unit, (seen.get(unit) ?? 0) + 1);
  }
  if (seen.size === 0) return undefined;
  const [unit, n] = [...seen].reduce((a, b) => (b[1] > a[1] ? b : a));
  return n > Math.min(some.length, 400) / 3 ? unit : undefined;
}

function tellGroups(
  columns: readonly BlockColumn[],
  cells: readonly (readonly string[])[],
  file: string,
  findings: Finding[],
): void {
  const grouped = columns.filter(
    ({ form, column }, k) =>
      column.kind === "number" && form.thousands !== "" && cells[k].some((c) => c.includes(form.thousands)),
  );
  if (grouped.length === 0) return;
  const [{ form }] = grouped;
  findings.push({
    severity: "note",
    code: "thousands",
    message: `numbers are grouped in thousands by "${form.thousands}" in ${grouped.map(({ column }) => `"${visible(column.name, 40)}"`).join(", ")}, decimals follow "${form.decimal}"`,
    meaning: `if it is not so, say --decimal ${form.thousands}`,
    file,
  });
}

async function readBlock(
  lines: Lines,
  block: Block,
  columns: readonly BlockColumn[],
  indices: readonly number[],
  file: string,
): Promise<SourceData> {
  const n = block.rows.length;
  const data = indices.map(() => new Float64Array(n).fill(Number.NaN));
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  const dates: Finding[] = [];
  const codes = indices.map(() => new Map<string, number>());
  const bad: { row: number; column: number; text: string }[] = [];
  const factors = new Map<string, { factor: number; offset: number } | undefined>();
  for (let r = 0; r < n; r += 1) {
    const cells = lines.cells(block.rows[r]);
    for (let j = 0; j < indices.length; j += 1) {
      const k = indices[j];
      const { column, form, stamp, inCells } = columns[k];
      const text = cells[k] ?? "";
      if (text === "") continue;
      if (column.kind === "text") {
        let code = codes[j].get(text);
        if (code === undefined) {
          code = codes[j].size;
          codes[j].set(text, code);
        }
        data[j][r] = code;
        continue;
      }
      let value = stamp === undefined ? numberIn(text, form) : stampMoment(text);
      if (Number.isNaN(value) && inCells !== undefined) {
        const parts = numberWithUnit(text);
        if (parts !== undefined) {
          const line = parts.unit === inCells ? same : await factorOf(parts.unit, inCells, factors);
          if (line !== undefined) value = numberIn(parts.number, form) * line.factor + line.offset;
        }
      }
      data[j][r] = value;
      if (Number.isNaN(value) && cellKind(text) !== "missing")
        bad.push({ row: block.rows[r], column: k, text });
    }
  }
  for (const [j, k] of indices.entries()) {
    if (columns[k].column.kind === "text") words.set(k, [...codes[j].keys()]);
    const { stamp } = columns[k];
    if (stamp === undefined) continue;
    const zero = zeroed(data[j], stamp, columns[k].column.name, file);
    origins.set(k, zero.origin);
    dates.push(...zero.findings);
  }
  return {
    columns: data,
    words,
    origins,
    findings: [...badCells(lines, bad, columns, file), ...dates],
    owned: true,
    kept: 1,
    firstLine: n === 0 ? undefined : lines.line(block.rows[0]),
    marks: block.marks,
  };
}

const same = { factor: 1, offset: 0 };

async function factorOf(
  from: string,
  to: string,
  known: Map<string, { factor: number; offset: number } | undefined>,
): Promise<{ factor: number; offset: number } | undefined> {
  if (!known.has(from)) {
    const { unitCode } = await import("../../units/unitCode.js");
    const [a, b] = [unitCode(from), unitCode(to)];
    known.set(from, a === undefined || b === undefined ? undefined : await conversion(a, b));
  }
  return known.get(from);
}

function badCells(
  lines: Lines,
  bad: readonly { row: number; column: number; text: string }[],
  columns: readonly BlockColumn[],
  file: string,
): Finding[] {
  if (bad.length === 0) return [];
  const [first] = bad;
  return [
    {
      severity: "warning",
      code: "cells-not-numbers",
      message: `${bad.length} ${bad.length === 1 ? "cell is no number" : "cells are no numbers"} (lines ${listed(bad.map((b) => lines.line(b.row)))}); the first is "${visible(first.text, 40)}"`,
      value: bad.length,
      meaning: "these values are taken as missing; correct or remove them",
      file,
      row: lines.line(first.row),
      column: columns[first.column].column.name,
    },
  ];
}

/** What became of the lines that are no whole rows. */
function rowFindings(lines: Lines, block: Block, file: string): Finding[] {
  const out: Finding[] = [];
  const add = (
    code: string,
    severity: Finding["severity"],
    all: readonly number[],
    message: string,
    meaning: string,
  ): void => {
    if (all.length === 0) return;
    const at = all.map((i) => lines.line(i));
    out.push({
      severity,
      code,
      message: `${message} (${all.length === 1 ? "line" : "lines"} ${listed(at)})`,
      value: all.length,
      meaning,
      file,
      row: at[0],
    });
  };
  const count = (all: readonly number[], one: string, many: string): string =>
    `${all.length} ${all.length === 1 ? one : many}`;
  add(
    "rows-too-short",
    "warning",
    block.short,
    `${count(block.short, "row has", "rows have")} fewer fields than the ${block.fields} of the others`,
    "missing fields are taken as missing values",
  );
  add(
    "rows-not-read",
    "warning",
    block.long,
    `${count(block.long, "row", "rows")} could not be read: more than the ${block.fields} fields of the others, or words among them`,
    "these rows are left out; look for a stray delimiter or quote",
  );
  add(
    "summary-rows",
    "note",
    block.summary,
    `${count(block.summary, "row", "rows")} under the table ${block.summary.length === 1 ? "holds" : "hold"} means, sums or remarks`,
    "they are no samples and were left out",
  );
  add(
    "text-between-rows",
    "note",
    block.between,
    `${count(block.between, "line", "lines")} of text between the rows`,
    "no values were taken from there",
  );
  return out;
}

function listed(all: readonly number[]): string {
  const lines = [...new Set(all)];
  return (
    lines.slice(0, mostListed).join(", ") +
    (lines.length > mostListed ? `, and ${lines.length - mostListed} more` : "")
  );
}
