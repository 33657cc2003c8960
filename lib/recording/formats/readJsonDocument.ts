import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { blocksOf } from "./blocks.js";
import { type JsonTable, tablesOfJson } from "./jsonDocument.js";
import { linesOfCells } from "./lines.js";
import { looseJson } from "./looseJson.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { type TextOrigin, tablesOfBlocks } from "./tablesOfText.js";

/** True for a text that is one JSON document, not one object a line. */
export function isJsonDocument(text: string): boolean {
  // A list of numbers a line, as a program prints them, is a table of rows in brackets.
  if (/^\s*\[[^[\]{}\r\n]*\][ \t]*,?[ \t]*[\r\n]+\s*\[/.test(text)) return false;
  if (/^\s*\[/.test(text)) return /^\s*\[\s*[[{\d"-]/.test(text);
  if (!/^\s*\{/.test(text)) return false;
  const line = text.trimStart().split(/\r\n|\n|\r/, 1)[0];
  try {
    JSON.parse(line);
    // One whole object in the first line: a document when nothing more follows.
    return text.trim() === line.trim();
  } catch {
    return true;
  }
}

/**
 * The tables of a JSON document that is held in memory.
 *
 * @throws CannotRead for text that is no JSON, or has no lists of numbers
 */
export function readJsonDocument(text: string, given: TextOrigin): SourceTable[] {
  let document: unknown;
  let origin = given;
  try {
    document = JSON.parse(text.replace(/^\ufeff/, ""));
  } catch (error) {
    const loose = looseJson(text);
    document = loose?.value;
    if (loose?.cut === true) origin = { ...given, findings: [...given.findings, brokenOff(given.path)] };
    if (loose === undefined)
      throw new CannotRead({
        severity: "error",
        code: "no-json",
        message: `the file begins as JSON, but is none: ${visible(error instanceof Error ? error.message : String(error), 120)}`,
        meaning: "it may have been cut off; write it once more, or export a text table",
        file: origin.path,
      });
  }
  const { tables, lines } = tablesOfJson(document);
  const out = tables.flatMap((table, k) => tablesOf(table, k, tables.length, lines, origin));
  if (out.length === 0) {
    throw new CannotRead({
      severity: "error",
      code: "no-numbers",
      message: "the JSON document holds no list of records and no lists of numbers of one length",
      file: origin.path,
    });
  }
  return out;
}

function brokenOff(file: string): Finding {
  return {
    severity: "warning",
    code: "truncated",
    message: "the file breaks off in the middle of a value; what was whole before was read",
    meaning: "trials near the end may be missing",
    file,
  };
}

/** A number that only a text can hold in JSON: with a decimal comma. */
const commas = /^[+-]?\d+,\d+$/;

function tablesOf(
  table: JsonTable,
  k: number,
  of: number,
  beside: readonly string[],
  origin: TextOrigin,
): SourceTable[] {
  const heading =
    table.names.length === 0
      ? []
      : [[...table.names], ...(table.units === undefined ? [] : [[...table.units]])];
  const rows = [...[...beside, ...(table.lines ?? [])].map((line) => [line]), ...heading, ...table.rows];
  const lines = linesOfCells(rows);
  const blocks = blocksOf(lines, "\t").filter((b) => b.rows.length > 1);
  const label = table.at === "" ? undefined : table.at;
  const path =
    of === 1
      ? origin.path
      : `${origin.path}#${visible((label ?? `table=${k + 1}`).replace(/[#,]/g, " "), 60)}`;
  return tablesOfBlocks(
    { lines, delimiter: "\t", labelled: false },
    blocks,
    { ...origin, path, label: of === 1 ? undefined : label, findings: k === 0 ? origin.findings : [] },
    table.rows.slice(0, 300).some((row) => row.some((cell) => commas.test(cell)))
      ? {}
      : { decimal: ".", thousands: "" },
  ).map((t) => ({ ...t, files: [origin.path] }));
}
