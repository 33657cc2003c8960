import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { type Block, blocksOf, titleOf } from "./blocks.js";
import { cellKind } from "./cells.js";
import { labelsOfChannels } from "./channelRemarks.js";
import { isEvenNumbers } from "./evenNumbers.js";
import { hexColumns } from "./hexCells.js";
import { type Lines, linesOfText } from "./lines.js";
import { type TableOrigin, tableOfBlock } from "./memoryTable.js";
import { numberForms, type StatedForm } from "./numberForms.js";
import { channelSettings, readPreamble } from "./preamble.js";
import { sideSettings } from "./sideSettings.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import type { TextDialect } from "./textDialect.js";
import { type TextLines, type TextOptions, textLines } from "./textLines.js";

/** Where a text came from. */
export interface TextOrigin {
  readonly path: string;
  readonly format: string;
  /** Encoding in words. */
  readonly encoding: string;
  readonly findings: readonly Finding[];
  /** The text ends in the middle of what was written. */
  readonly cut: boolean;
}

/** More columns than this are refused: it is no motor log, or the wrong delimiter. */
const mostColumns = 2000;
const delimiterWords: Readonly<Record<string, string>> = {
  ",": "comma",
  ";": "semicolon",
  "\t": "tab",
  "|": "bar",
  " ": "blanks",
};

/**
 * Every table of a text that is held in memory, whatever way it is written: titles and settings above, headings that do
 * not quite fit, several tables one after the other, labels before every value, rows quoted whole.
 *
 * @throws CannotRead when there are no rows of numbers
 */
export function tablesOfText(text: string, origin: TextOrigin, options: TextOptions = {}): SourceTable[] {
  const found = textLines(text, options);
  if (found === undefined) throw noNumbers(text, origin.path);
  const blocks = blocksOf(found.lines, found.delimiter).filter((b) => b.rows.length > 0);
  if (blocks.length === 0) throw noNumbers(text, origin.path);
  const narrow = blocks.filter((b) => b.fields <= mostColumns);
  const wide = blocks.filter((b) => b.fields > mostColumns);
  if (narrow.length === 0) {
    throw new CannotRead({
      severity: "error",
      code: "too-many-columns",
      message: `${wide[0].fields} columns were found, more than the ${mostColumns} that are read; keep the time, current, speed and position columns`,
      file: origin.path,
    });
  }
  const findings = [
    ...origin.findings,
    ...tooWide(wide, found.lines, origin.path),
    ...linesLeft(found.left ?? [], origin.path),
  ];
  const last = narrow[narrow.length - 1];
  if (origin.cut && !found.labelled) dropCutRow(found.lines, last, origin.path, findings);
  const own = tablesOfBlocks(found, narrow, { ...origin, findings }, options);
  if (found.labelled || options.within === true) return own;
  const others = tablesParted(found.lines, blocks, origin, options);
  if (others.length === 0) return own;
  return [...own, ...others].map((table, k) =>
    table.path === origin.path
      ? { ...table, path: `${origin.path}#table=${k + 1}`, files: [origin.path] }
      : table,
  );
}

/** Lines of a log that gave no row, told. */
function linesLeft(left: readonly number[], file: string): Finding[] {
  if (left.length === 0) return [];
  const shown = left.slice(0, 20).join(", ");
  return [
    {
      severity: "note",
      code: "text-between-rows",
      message: `${left.length} ${left.length === 1 ? "line" : "lines"} beside the rows (${left.length === 1 ? "line" : "lines"} ${shown}${left.length > 20 ? `, and ${left.length - 20} more` : ""})`,
      value: left.length,
      meaning: "no values were taken from there",
      file,
      row: left[0],
    },
  ];
}

/** Fewer lines than this are no table. */
const fewestRows = 5;

/** Tables among the lines that no table took, when these are rows of numbers that are parted in another way. */
function tablesParted(
  lines: Lines,
  blocks: readonly Block[],
  origin: TextOrigin,
  options: TextOptions,
): SourceTable[] {
  const taken = new Uint8Array(lines.count);
  for (const b of blocks)
    for (const list of [b.rows, b.long, b.short, b.summary]) for (const i of list) taken[i] = 1;
  let numeric = 0;
  for (let i = 0; i < lines.count && numeric < fewestRows; i += 1) {
    if (taken[i] === 1) continue;
    const line = lines.text(i);
    if (line.length < 2000 && line.split(/[,;|\s]+/).filter((t) => cellKind(t) === "number").length >= 2)
      numeric += 1;
  }
  if (numeric < fewestRows) return [];
  const left: string[] = [];
  for (let i = 0; i < lines.count; i += 1) {
    // Whatever was taken is blank, so that lines keep their numbers.
    while (left.length < lines.line(i) - 1) left.push("");
    left.push(taken[i] === 1 ? "" : lines.text(i));
  }
  try {
    const own = { ...options, within: true, skipLines: undefined };
    return tablesOfText(`${left.join("\n")}\n`, { ...origin, findings: [], cut: false }, own);
  } catch (error) {
    if (error instanceof CannotRead) return [];
    throw error;
  }
}

/** Lines of a text that have more fields than any log, beside a table that is one. */
function tooWide(blocks: readonly Block[], lines: Lines, file: string): Finding[] {
  const rows = blocks.flatMap((b) => [...b.rows, ...b.long]);
  if (rows.length === 0) return [];
  return [
    {
      severity: "warning",
      code: "rows-not-read",
      message: `${rows.length} ${rows.length === 1 ? "row has" : "rows have"} more than ${mostColumns} fields (the first is line ${lines.line(rows[0])})`,
      value: rows.length,
      meaning: "these rows are left out; look for lost line breaks",
      file,
      row: lines.line(rows[0]),
    },
  ];
}

/** Tables of the blocks of a text or a sheet, with what is written above each of them. */
export function tablesOfBlocks(
  { lines, delimiter, labelled }: TextLines,
  blocks: readonly Block[],
  origin: TextOrigin & { readonly label?: string },
  options: StatedForm,
): SourceTable[] {
  const out: SourceTable[] = [];
  for (const [n, block] of blocks.entries()) {
    const side = sideSettings(lines, block);
    const settings = block.heading?.settings.map(([key, value]) => `${key}: ${value}`) ?? [];
    const preamble = readPreamble([...block.preamble, ...settings, ...side.lines]);
    // What a preamble states of a file holds for every table in it that states nothing of its own.
    const first = n === 0 ? preamble : readPreamble(blocks[0].preamble);
    const title = titleOf(block.preamble);
    if (title !== undefined && block.marks.every((m) => m.row > 0))
      block.marks.unshift({ row: 0, title, by: "title" });
    const label =
      blocks.length === 1
        ? origin.label
        : [origin.label, partName(title, n, blocks)].filter(Boolean).join(", ");
    const path =
      blocks.length === 1
        ? origin.path
        : `${origin.path}${origin.path.includes("#") ? "," : "#"}${partName(title, n, blocks)}`;
    const dialect = [
      origin.encoding,
      labelled ? "values behind their labels" : `fields by ${delimiterWords[delimiter] ?? "cells"}`,
      block.heading === undefined ? "no header" : `data from line ${lines.line(block.rows[0])}`,
      ...(block.heading?.units === undefined ? [] : ["units row"]),
    ].filter((w) => w !== "");
    const own: TableOrigin = {
      path,
      label,
      title,
      files: path === origin.path ? undefined : [origin.path.replace(/#.*$/s, "")],
      format: origin.format,
      dialect: dialect.join(", "),
      facts: { ...first.facts, ...preamble.facts },
      rate: preamble.rate ?? first.rate,
      findings: [...(n === 0 ? origin.findings : []), ...sideFindings(side.lines, path)],
      told: toldOf(block, side.columns, channelSettings(preamble.settings)),
      notValues: side.columns,
    };
    out.push(tableOfBlock(lines, block, own, options));
  }
  return out;
}

function partName(title: string | undefined, n: number, blocks: readonly Block[]): string {
  if (title === undefined) return `table=${n + 1}`;
  const same = blocks.filter((b) => titleOf(b.preamble) === title).length;
  return visible(title.replace(/[#,]/g, " "), 60) + (same > 1 ? ` (${n + 1})` : "");
}

/** Units, labels and names of the columns of an oscilloscope without a heading: the time and the value of its
 * channel. */
function toldOf(
  block: Block,
  side: ReadonlySet<number>,
  channel: ReturnType<typeof channelSettings>,
): TableOrigin["told"] {
  if (block.heading !== undefined) {
    const labels = labelsOfChannels(block.heading.names, block.preamble);
    return new Map(labels.flatMap((label, k) => (label === undefined ? [] : [[k, { label }] as const])));
  }
  const values = Array.from({ length: block.fields }, (_, k) => k).filter((k) => !side.has(k));
  const known = channel.label ?? channel.unit;
  if (side.size === 0 && (known === undefined || values.length !== 2)) return undefined;
  const told = new Map<number, { unit?: string; label?: string; name?: string }>();
  if (values.length >= 2) {
    const named = side.size === 0 && channel.label !== undefined;
    told.set(values[0], {
      unit: channel.timeUnit ?? (side.size === 0 ? "s" : undefined),
      label: "time",
      name: named ? "time" : undefined,
    });
    told.set(values[1], {
      unit: channel.unit,
      label: channel.label,
      name: named ? channel.label : undefined,
    });
  }
  return told;
}

function sideFindings(lines: readonly string[], file: string): Finding[] {
  if (lines.length === 0) return [];
  const shown = lines
    .slice(0, 8)
    .map((l) => visible(l, 60))
    .join("; ");
  return [
    {
      severity: "note",
      code: "beside-the-table",
      message: `beside the values stand settings or notes: ${shown}${lines.length > 8 ? `; and ${lines.length - 8} more` : ""}`,
      meaning: "units, labels and the sample interval among them are used",
      file,
    },
  ];
}

/** Leaves out the last row of a text that breaks off in the middle of it. */
function dropCutRow(lines: Lines, block: Block, file: string, findings: Finding[]): void {
  const i = block.rows[block.rows.length - 1];
  if (i !== lines.count - 1 || !block.short.includes(i) || block.rows.length < 2) return;
  block.rows.pop();
  block.short.splice(block.short.indexOf(i), 1);
  findings.push({
    severity: "warning",
    code: "truncated",
    message: `the file breaks off in the middle of its last row (line ${lines.line(i)}): "${visible(lines.text(i), 60)}"`,
    meaning: "that row is left out; what the logger wrote after it is lost",
    file,
    row: lines.line(i),
  });
}

/** Most of the first lines hold an identifier and the bytes of a frame in base sixteen. */
function frames(text: string): boolean {
  const lines = text
    .slice(0, 8000)
    .split(/\r\n|\n|\r/, 40)
    .filter((l) => l.trim() !== "");
  const frame = /\b[\dA-F]{3,8}(#[\dA-F]{2,16}\b|\s+\[?\d\]?\s+([\dA-F]{2}\s+){2})/i;
  return lines.length > 2 && lines.filter((l) => frame.test(l)).length > 0.6 * lines.length;
}

function noNumbers(text: string, file: string): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "no-numbers",
    message: `no rows of numbers were found; the file begins with "${visible(text.slice(0, 60).trim(), 60)}"`,
    meaning: frames(text)
      ? "these are frames of a bus, whose bytes say nothing without their database; export the decoded signals as a table"
      : "give a table with a row for each moment: a line of names, then numbers parted by commas, semicolons or tabs",
    file,
  });
}

/** True when the lines are one plain table that needs no closer look: what the fast readers are made for. */
export function isPlainTable(text: string, options: TextOptions, dialect: TextDialect): boolean {
  if (options.decimal !== undefined || options.thousands !== undefined || options.skipLines !== undefined)
    return false;
  // Rows quoted whole, arrows after a time of day, labels before values, lists in cells: each has its own marks.
  if (dialect.share < 0.9 || /^"[^"]*"$| -> |[[(]\s*[-+.\d]+\s*[,;]/m.test(text.slice(0, 4000))) {
    const closer = textLines(text, options);
    if (closer === undefined || closer.labelled || closer.delimiter !== dialect.delimiter) return false;
  }
  if (isEvenNumbers(text, dialect)) return true;
  const found = { lines: linesOfText(text, dialect.delimiter), delimiter: dialect.delimiter };
  const blocks = blocksOf(found.lines, found.delimiter);
  if (blocks.length !== 1) return false;
  const [block] = blocks;
  if (
    block.marks.length +
      block.short.length +
      block.long.length +
      block.summary.length +
      block.between.length >
    0
  )
    return false;
  if (sideSettings(found.lines, block).columns.size > 0) return false;
  // Units in the cells, and numbers that may be grouped, are read cell by cell.
  const rows = block.rows.slice(0, 300).map((i) => found.lines.cells(i));
  const columns = Array.from({ length: block.fields }, (_, k) => rows.map((r) => r[k] ?? ""));
  if (hexColumns(columns).length > 0) return false;
  for (const cells of columns)
    if (cells.some((c) => cellKind(c) === "number" && !/^[+-]?[\d.,]*([eE][+-]?\d+)?$/.test(c))) return false;
  return numberForms(columns.map((cells) => cells.filter((c) => cellKind(c) === "number"))).every(
    (form) => !("mixed" in form) && form.thousands === "",
  );
}
