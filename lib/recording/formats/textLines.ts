import { cleanText } from "./cleanText.js";
import { gluedColumns } from "./gluedColumns.js";
import { withoutHex } from "./hexCells.js";
import { labelledRows, signedPairs } from "./labelledLines.js";
import { type Lines, linesOfCells, linesOfText } from "./lines.js";
import { withoutLists } from "./listCells.js";
import { unmarked } from "./markup.js";
import { matrixRows } from "./namedMatrices.js";
import { withNamesOfRemarks } from "./namesInRemarks.js";
import type { StatedForm } from "./numberForms.js";
import { pointRows } from "./pointLines.js";
import { withoutPrefixes } from "./prefixedLines.js";
import { dumpedRows, tuplesApart } from "./printedTuples.js";
import { recordRows } from "./recordBlocks.js";
import { spokenLabels } from "./spokenLabels.js";
import { type TaggedRows, taggedRows } from "./taggedRecords.js";
import { linesAtBreaks } from "./textBreaks.js";
import { findDialect } from "./textDialect.js";
import { transposedText } from "./transposed.js";

/** What a caller states of text tables. */
export interface TextOptions extends StatedForm {
  readonly skipLines?: number;
  /** The text is what another table left over. */
  readonly within?: boolean;
}

/** Lines of a text as cells, and how they were parted. */
export interface TextLines {
  readonly lines: Lines;
  readonly delimiter: string;
  readonly labelled: boolean;
  /** Lines of the text that gave no row. */
  readonly left?: readonly number[];
}

/** Lines of a text as cells: by their delimiter, or by their labels. */
export function textLines(given: string, options: TextOptions = {}): TextLines | undefined {
  let text = withNamesOfRemarks(
    cleanText(unmarked(given) ?? dumpedRows(given) ?? tuplesApart(given) ?? given),
  );
  let firstLine = 1;
  for (let k = 0; k < (options.skipLines ?? 0); k += 1) {
    const at = /\r\n|\n|\r/.exec(text);
    text = at === null ? "" : text.slice(at.index + at[0].length);
    firstLine += 1;
  }
  text = spokenLabels(text) ?? text;
  const prefixed = withoutPrefixes(text);
  if (prefixed !== undefined && "text" in prefixed) text = prefixed.text;
  const head = text.slice(0, 256 * 1024);
  const records: TaggedRows | undefined =
    prefixed !== undefined && "rows" in prefixed
      ? prefixed
      : (recordRows(text) ?? taggedRows(text) ?? pointRows(text) ?? matrixRows(text));
  if (records !== undefined) {
    const numbers = records.numbers.map((l) => l + firstLine - 1);
    const left = records.left?.map((l) => l + firstLine - 1);
    return { lines: linesOfCells(records.rows, numbers), delimiter: "\t", labelled: true, left };
  }
  const byLabels = prefixed !== undefined && "text" in prefixed && prefixed.labelled;
  const paired = byLabels ? text : signedPairs(text);
  const turned = options.within === true ? undefined : transposedText(text);
  if (turned !== undefined) return { lines: linesOfCells(turned), delimiter: "\t", labelled: false };
  if (rowsQuotedWhole(head))
    text = text.replace(/^"(.*)"[,;\t ]*$/gm, (_m, inner: string) => inner.replace(/""/g, '"'));
  if (mostLines(head, /^[ \t]*[([{]\s*[+-]?[\d.][^()[\]{}]*[,;\t ][^()[\]{}]*[)\]}][ \t]*[,;]?[ \t]*$/))
    text = text.replace(/^[ \t]*[([{]{1,3}(.*?)[)\]}]{1,3}[ \t]*[,;]?[ \t]*$/gm, "$1");
  else if (mostLines(head, taggedRow)) text = text.replace(new RegExp(taggedRow, "gmu"), "$1");
  text = gluedColumns(text) ?? text;
  const stamped = withoutArrows(text);
  // Where cells are parted does not depend on the base of their numbers.
  const sample = (stamped ?? text).slice(0, 256 * 1024).replace(/\b0x[\da-f]+\b/gi, "1");
  const complete = text.length <= 256 * 1024;
  // A quote that is never closed would make one cell of all that follows.
  const dialect =
    findDialect(sample, complete) ??
    findDialect(sample.replaceAll('"', ""), complete) ??
    (complete ? undefined : findDialect(filledHead(stamped ?? text, 256 * 1024), complete));
  const fromLabels =
    paired !== undefined || dialect === undefined || dialect.share < 0.5
      ? labelledRows(paired ?? text)
      : undefined;
  if (fromLabels !== undefined)
    return {
      lines: linesOfCells(
        fromLabels.rows,
        fromLabels.numbers.map((l) => l + firstLine - 1),
      ),
      delimiter: "\t",
      labelled: true,
      left: fromLabels.left.map((l) => l + firstLine - 1),
    };
  if (dialect === undefined) return undefined;
  return {
    lines: withoutHex(withoutLists(linesOfText(stamped ?? text, dialect.delimiter, firstLine))),
    delimiter: dialect.delimiter,
    labelled: false,
  };
}

/** The first lines of a text with something in them: its beginning may be nothing but blank lines. */
function filledHead(text: string, characters: number): string {
  const lines: string[] = [];
  let at = 0;
  let held = 0;
  while (at < text.length && held < characters) {
    let end = at;
    let filled = false;
    for (; end < text.length; end += 1) {
      const c = text.charCodeAt(end);
      if (c === 10 || c === 13) break;
      filled ||= c > 32;
    }
    if (filled) {
      lines.push(text.slice(at, end));
      held += end - at + 1;
    }
    at = end + 1;
  }
  return `${lines.join("\n")}\n`;
}

/** A row of numbers behind the tag of a logger, without a time of day in it: `I (5310) motor: 0.1,2.5,3`. */
const taggedRow =
  /^[ \t]*(?![^,;\t]*\d:\d)[^,;\t=]{0,60}\p{L}[^,;\t=\d]{0,20}[:>\]][ \t]+([+-]?(?:\d+\.?\d*|\.\d+)[ \t]*[,;\t][^\p{L}=]*)$/u;

/** True when nearly every one of the first lines with something in them is written so. */
function mostLines(head: string, pattern: RegExp): boolean {
  const lines = linesAtBreaks(head)
    .filter((l) => l.trim() !== "" && l.length < 1000)
    .slice(0, 50);
  return lines.length > 4 && lines.filter((l) => pattern.test(l)).length >= 0.8 * lines.length;
}

/** True when nearly every line is one quoted cell with delimiters inside. */
function rowsQuotedWhole(head: string): boolean {
  const lines = linesAtBreaks(head)
    .filter((l) => l.trim() !== "")
    .slice(0, 50);
  const whole = lines.filter((l) => /^"[^"]*[,;\t][^"]*"[,;\t ]*$/.test(l) && !/"[,;\t]"/.test(l)).length;
  return lines.length > 1 && whole >= 0.8 * lines.length;
}

/** Lines that a serial monitor put a time of day and an arrow before: the arrow becomes the delimiter of the rest. */
function withoutArrows(text: string): string | undefined {
  const arrow = /^(\d\d?:\d\d:\d\d(?:[.,:]\d+)?) -> ?/;
  const lines = linesAtBreaks(text.slice(0, 64 * 1024))
    .filter((l) => l.trim() !== "")
    .slice(0, 100);
  if (lines.length < 3 || lines.filter((l) => arrow.test(l)).length < 0.8 * lines.length) return undefined;
  const rest = lines.map((l) => l.replace(arrow, ""));
  const dialect = findDialect(`${rest.join("\n")}\n`, true);
  if (dialect === undefined) return undefined;
  const delimiter = dialect.delimiter === " " ? " " : dialect.delimiter;
  return text.replace(/^(\d\d?:\d\d:\d\d(?:[.,:]\d+)?) -> ?(.*)$/gm, (_m, clock: string, row: string) => {
    const named = /^\s*\p{L}/u.test(row) && !/\d/.test(row.split(/[,;\t ]/)[0]);
    return `${named ? "time_stamp" : clock}${delimiter}${delimiter === " " ? row.trim() : row}`;
  });
}
