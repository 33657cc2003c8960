import { readFile, stat } from "node:fs/promises";
import { basename } from "node:path";
import type { CFB } from "@e965/xlsx";
import { visible } from "../../units/text.js";
import { isoOf } from "../columns/wordsAndStamps.js";
import type { Finding } from "../types.js";
import { blocksOf } from "./blocks.js";
import { cellKind } from "./cells.js";
import { linesOfCells } from "./lines.js";
import type { StatedForm } from "./numberForms.js";
import { europeanDigits, hasOtherDigits } from "./otherDigits.js";
import { reasonOf } from "./reasonOf.js";
import { RepeatedCells, withOpenCells } from "./repeatedCells.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { tablesOfBlocks } from "./tablesOfText.js";
import { transposedRows } from "./transposed.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";
import { agreeWithDirectory } from "./zipHeaders.js";
import { zipMembers } from "./zipMembers.js";

/** Workbooks are read whole; larger ones than this are refused. */
const mostBytes = 120 * 2 ** 20;
const day = 86_400;

interface Cell {
  readonly t: string;
  readonly v?: unknown;
  readonly w?: string;
  readonly z?: unknown;
}

interface Sheet {
  readonly "!data"?: readonly (readonly (Cell | undefined)[] | undefined)[];
  readonly "!merges"?: readonly {
    readonly s: { readonly r: number; readonly c: number };
    readonly e: { readonly r: number; readonly c: number };
  }[];
}

/**
 * The tables of a workbook (Office Open XML, the older binary one, OpenDocument): every sheet is read like a text, so
 * that titles, units and several tables on a sheet are understood. Sheets without rows of numbers are told.
 *
 * @throws CannotRead when it cannot be opened, or has no table
 */
export async function readSheets(
  path: string,
  format: string,
  stated: StatedForm = {},
): Promise<SourceTable[]> {
  const { size } = await stat(path);
  if (size > mostBytes) {
    throw new CannotRead({
      severity: "error",
      code: "too-large",
      message: `the workbook has ${Math.round(size / 2 ** 20)} MiB, more than the ${mostBytes / 2 ** 20} that are read; export its sheets as text tables`,
      file: path,
    });
  }
  const closed = format.includes("binary") ? false : await checkParts(path, size);
  const sheets = await sheetsOf(path, closed);
  const findings: Finding[] = [];
  const out: SourceTable[] = [];
  const filled = sheets.filter(({ rows }) => rows.length > 0);
  for (const { name, rows, typed, numbers } of filled) {
    const turned = transposedRows(rows);
    const lines = turned === undefined ? linesOfCells(rows, numbers) : linesOfCells(turned);
    const blocks = blocksOf(lines, "\t").filter((b) => b.rows.length > 1);
    if (blocks.length === 0) {
      findings.push({
        severity: "note",
        code: "sheet-left",
        message: `the sheet "${visible(name, 40)}" holds no rows of numbers`,
        file: path,
      });
      continue;
    }
    const own = filled.length === 1 ? path : `${path}#${visible(name.replace(/[#,]/g, " "), 40)}`;
    out.push(
      ...tablesOfBlocks(
        { lines, delimiter: "\t", labelled: false },
        blocks,
        {
          path: own,
          label: name,
          format,
          encoding: `sheet "${visible(name, 40)}"`,
          findings: [],
          cut: false,
        },
        // Numbers that a sheet holds as numbers have no decimal sign that could be mistaken.
        typed > 0.5 ? { ...stated, decimal: ".", thousands: "" } : stated,
      ),
    );
  }
  if (out.length === 0) {
    throw new CannotRead({
      severity: "error",
      code: "no-numbers",
      message: `no sheet of the workbook holds rows of numbers (${sheets.map((s) => visible(s.name, 30)).join(", ")})`,
      file: path,
    });
  }
  const [first, ...rest] = out;
  return [{ ...first, findings: [...findings, ...first.findings] }, ...rest].map((t) => ({
    ...t,
    files: [path],
  }));
}

/** Unpacks every part once without keeping it: a workbook whose parts unfold without end is refused before anything is
 * built of it. Tells whether cells of an open document are closed at once and hold a value all the same. */
async function checkParts(path: string, size: number): Promise<boolean> {
  const most = Math.min(unpackLimit(size), 600 * 2 ** 20);
  let bytes = 0;
  let closed = false;
  for (const member of await zipMembers(path)) {
    if (!/\.xml$|\.bin$|\.rels$|^mimetype$/i.test(member.name)) continue;
    const cells = /(^|\/)content\.xml$/i.test(member.name) ? new RepeatedCells() : undefined;
    await member.open(async (content) => {
      for await (const chunk of content) {
        bytes += (chunk as Buffer).length;
        if (bytes > most) throw unpacksTooFar(path, size, "the workbook unpacks");
        cells?.add((chunk as Buffer).toString("latin1"));
      }
    });
    if (cells?.tooMany !== undefined) throw claimsTooMuch(path, cells.tooMany);
    closed ||= cells?.closedValues ?? false;
  }
  return closed;
}

function claimsTooMuch(path: string, cells: number): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "too-large",
    message: `the workbook repeats few cells until they are ${cells.toPrecision(2)}, more than any log of its size holds; export its sheets as text tables`,
    file: path,
  });
}

interface SheetRows {
  readonly name: string;
  readonly rows: readonly (readonly string[])[];
  readonly numbers: readonly number[];
  /** Part of the numbers that are held as numbers, not as text. */
  readonly typed: number;
}

const bookOptions = {
  type: "buffer",
  dense: true,
  cellFormula: false,
  cellHTML: false,
  cellText: false,
  cellNF: true,
  sheetStubs: false,
} as const;

const noStyles =
  '<?xml version="1.0"?><office:document-styles xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"/>';

async function sheetsOf(path: string, closed: boolean): Promise<SheetRows[]> {
  const module = await import("@e965/xlsx");
  const xlsx = module.read === undefined ? (module as unknown as { default: typeof module }).default : module;
  let book: { readonly SheetNames: readonly string[]; readonly Sheets: Readonly<Record<string, unknown>> };
  try {
    const bytes = await readFile(path);
    if (bytes.toString("latin1", 0, 2) === "PK") agreeWithDirectory(bytes);
    try {
      book = xlsx.read(closed ? changed(xlsx.CFB, bytes, true) : bytes, bookOptions);
    } catch (error) {
      // Programs that write OpenDocument by themselves leave its styles out, which hold nothing that is read here.
      if (!/Cannot find file styles\.xml/.test(String(error))) throw error;
      book = xlsx.read(changed(xlsx.CFB, bytes, closed, noStyles), bookOptions);
    }
  } catch (error) {
    const text = error instanceof Error ? error.message : String(error);
    throw new CannotRead({
      severity: "error",
      code: "format",
      message: /password|encrypt/i.test(text)
        ? "the workbook is protected by a password; save it without one"
        : `the workbook "${visible(basename(path), 60)}" cannot be read: ${reasonOf(error)}; save it anew, or export a text table`,
      file: path,
    });
  }
  return book.SheetNames.map((name) => rowsOf(name, (book.Sheets[name] ?? {}) as Sheet));
}

/** An open document with its cells opened, or with styles added. */
function changed(
  { read, write, find, utils }: typeof CFB,
  bytes: Buffer,
  open: boolean,
  styles?: string,
): Buffer {
  const parts = read(bytes, { type: "buffer" });
  const content = find(parts, "/content.xml");
  if (open && content !== null) {
    const text = Buffer.from(content.content as Uint8Array).toString("latin1");
    utils.cfb_add(parts, "/content.xml", Buffer.from(withOpenCells(text), "latin1"));
  }
  if (styles !== undefined) utils.cfb_add(parts, "/styles.xml", Buffer.from(styles));
  return write(parts, { fileType: "zip", type: "buffer" }) as Buffer;
}

function rowsOf(name: string, sheet: Sheet): SheetRows {
  const rows: string[][] = [];
  const numbers: number[] = [];
  let held = 0;
  let written = 0;
  for (const [r, given] of (sheet["!data"] ?? []).entries()) {
    if (given === undefined) continue;
    const row: string[] = [];
    for (const [c, cell] of given.entries()) {
      const text = cell === undefined ? "" : textOf(cell);
      row[c] = text;
      if (cell?.t === "n") held += 1;
      else if (text !== "" && cellKind(text) === "number") written += 1;
    }
    for (let c = 0; c < row.length; c += 1) row[c] ??= "";
    while (row.length > 0 && row[row.length - 1] === "") row.pop();
    if (row.length === 0) continue;
    rows.push(row);
    numbers.push(r + 1);
  }
  spreadMerged(sheet, rows, numbers);
  const width = Math.min(
    2000,
    rows.reduce((most, row) => Math.max(most, row.length), 0),
  );
  for (const row of rows) while (row.length < width) row.push("");
  return { name, rows, numbers, typed: held / Math.max(1, held + written) };
}

/** A heading over several columns stands in each of them. */
function spreadMerged(sheet: Sheet, rows: readonly string[][], numbers: readonly number[]): void {
  for (const { s, e } of (sheet["!merges"] ?? []).slice(0, 1000)) {
    if (e.c - s.c < 1 || e.c - s.c > 40 || e.r !== s.r) continue;
    const row = rows[numbers.indexOf(s.r + 1)];
    const text = row?.[s.c];
    // A title over the whole table is no heading of each of its columns.
    if (row === undefined || text === undefined || text === "" || row.filter((c) => c !== "").length < 2)
      continue;
    for (let c = s.c + 1; c <= e.c; c += 1) row[c] = text;
    for (let c = 0; c < row.length; c += 1) row[c] ??= "";
  }
}

function textOf(cell: Cell): string {
  const { t, v, z } = cell;
  if (v === undefined || v === null) return "";
  if (t === "n" && typeof v === "number")
    return typeof z === "string" && isDateFormat(z) ? stampOf(v) : String(v);
  if (t === "b") return v === true ? "1" : "0";
  if (t === "e") return "#N/A";
  if (v instanceof Date) return isoOf(v.getTime());
  const text = String(v).replace(/\s+/g, " ").trim();
  return hasOtherDigits(text) ? europeanDigits(text) : text;
}

/** A number format that shows a date or a time: letters of those outside quotes, brackets and escapes. */
function isDateFormat(format: string): boolean {
  const bare = format.replace(/"[^"]*"|\\.|\[[^\]hms]*\]/g, "");
  return /[yd]|h|m{1,2}:?s|s/i.test(bare) && !/[#?]|0\.?0*E/i.test(bare.replace(/s\.0+/gi, ""));
}

/** A day count from 30 December 1899 as a moment, to the microsecond; less than one day is a time of day. */
function stampOf(days: number): string {
  if (!(days >= 0 && days <= 2_958_466)) return String(days);
  const micros = Math.round((days % 1) * day * 1e6);
  const clock =
    new Date(Math.floor(micros / 1000)).toISOString().slice(11, 23) + String(micros % 1000).padStart(3, "0");
  if (days < 1) return clock;
  const date = new Date(Date.UTC(1899, 11, 30) + Math.floor(days) * day * 1000).toISOString().slice(0, 10);
  return `${date} ${clock}`;
}
