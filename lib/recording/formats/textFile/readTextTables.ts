import { isJsonDocument, readJsonDocument } from "../readJsonDocument.js";
import { readJsonLines } from "../readJsonLines.js";
import { CannotRead, type SourceTable } from "../sourceTable.js";
import { isPlainTable, type TextOrigin, tablesOfText } from "../tablesOfText.js";
import { TemporaryFolder } from "../temporaryFolder.js";
import { findDialect } from "../textDialect.js";
import type { TextOptions } from "../textLines.js";
import { fastTable } from "./fastTable.js";
import { formatOf } from "./formatWords.js";
import { type OpenedText, openText } from "./openText.js";
import { type Compression, mostMemoryBytes, uncut, wholeText, withoutZeros } from "./packedText.js";
import { plainCopy } from "./plainCopy.js";

/** Characters looked at closely to see whether a longer text is one plain table. */
const plainHead = 12 * 1024;

/**
 * Opens the tables of a text: finds encoding and dialect from its first block; columns are read later, only those asked
 * for. One plain table is read by the fast readers; whatever is written otherwise is taken into memory and read line by
 * line.
 *
 * @throws CannotRead when there is nothing to read
 */
export async function readTextTables(
  path: string,
  compression: Compression,
  options: TextOptions = {},
): Promise<SourceTable[]> {
  const folder = new TemporaryFolder();
  try {
    return await tablesIn(await openText(path, compression), folder, options);
  } catch (error) {
    await folder.close();
    throw error;
  }
}

async function tablesIn(
  opened: OpenedText,
  folder: TemporaryFolder,
  options: TextOptions,
): Promise<SourceTable[]> {
  const { path, text, complete, bytes, compression } = opened;
  const origin = originOf(opened);
  const small = bytes <= mostMemoryBytes;
  const close = (): Promise<void> => folder.close();
  const closing = (tables: readonly SourceTable[]): SourceTable[] =>
    tables.map((table) => ({ ...table, close }));
  if (isJsonDocument(text) && small) return closing(jsonOrText(await allOf(opened), origin, options));
  // A line with a whole list of values is a signal, and no row.
  const signals = complete && /^\s*\{[^\n\r]*\[[^\][\n\r]{400,}\]/.test(text);
  if (signals && small) return closing(jsonOrText(text, origin, options));
  if (/^\s*\{/.test(text) && !opened.zeros) {
    const plain = await plainCopy(opened, folder, false);
    return [readJsonLines(path, plain.path, plain.compression, text, bytes, close)];
  }
  const head = text.slice(0, plainHead);
  const dialect = complete ? undefined : findDialect(text, complete);
  const regular =
    dialect !== undefined &&
    isPlainTable(head.slice(0, Math.max(0, head.lastIndexOf("\n"))), options, dialect);
  if (dialect === undefined || opened.zeros || ((!regular || opened.otherDigits === true) && small)) {
    const all = await allOf(opened);
    const format = formatOf(all, compression);
    return closing(tablesOfText(uncut(all, opened), { ...origin, format }, options));
  }
  return [await fastTable(opened, folder, { dialect, origin, options })];
}

function originOf({ path, encoding, mark, findings, broken, text }: OpenedText): TextOrigin {
  return {
    path,
    format: "CSV",
    encoding: `${encoding.toUpperCase()}${mark ? " with byte order mark" : ""}`,
    findings,
    cut: broken === undefined && !/[\r\n]$/.test(text),
  };
}

/** The whole text, without zero bytes. */
async function allOf(opened: OpenedText): Promise<string> {
  return opened.complete ? opened.text : withoutZeros(await wholeText(opened));
}

/** Tables of a text that begins as JSON: that, or lines that begin with a bracket. */
function jsonOrText(text: string, origin: TextOrigin, options: TextOptions): SourceTable[] {
  try {
    return readJsonDocument(text, { ...origin, format: "JSON" });
  } catch (refused) {
    if (!(refused instanceof CannotRead)) throw refused;
    try {
      return tablesOfText(text, { ...origin, format: formatOf(text, "none") }, options);
    } catch (error) {
      throw error instanceof CannotRead && meantAsJson(text) ? refused : error;
    }
  }
}

/** Whether a refusal should speak of JSON: a bracket that closes before other text, or braces without names, are a
 * logger's marks around a stamp or a number. */
function meantAsJson(text: string): boolean {
  const [line] = text.trimStart().split(/\r\n|\n|\r/, 1);
  return line.startsWith("[") ? !/^\[[^\]]*\][ \t]*[^\s,\]}]/.test(line) : /^\{\s*(["}]|$)/.test(line);
}
