import { linesAtBreaks } from "./textBreaks.js";

const numberText = String.raw`(?:[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?|nan|inf|None|null)`;
const tuple = new RegExp(
  String.raw`[[(]\s{0,9}(${numberText}(?:(?:\s{0,9}[,;]\s{0,9}|\s{1,9})${numberText}){1,63})\s{0,9},?\s{0,9}[\])]`,
  "gi",
);

/** Fewest rows that are no coincidence, and how many of them have as many numbers as most. */
const rows = { fewest: 5, alike: 0.9 };
/** Letters that may stand around the rows: the name of a variable, a call. */
const mostLetters = 40;
/** Characters looked at to see whether a text is written so. */
const looked = 64 * 1024;

/**
 * Rows that a program printed as tuples or lists, many in a line (`[(0.0, 1.2), (0.1, 1.3), ...]`,
 * `'[1, 2]', '[2, 3]'`), one in a line. Undefined for any other text.
 *
 * @example
 * tuplesApart("[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5)]"); // => "0, 1\n1, 2\n2, 3\n3, 4\n4, 5\n"
 */
export function tuplesApart(text: string): string | undefined {
  const head = text.slice(0, looked);
  if (!/[\])]\s*["']?\s*,?\s*["']?[[(]/.test(head)) return undefined;
  const found = [...head.matchAll(tuple)].map((m) => m[1]);
  const lines = linesAtBreaks(head).filter((l) => l.trim() !== "").length;
  if (found.length < rows.fewest || found.length < 3 * lines) return undefined;
  const sizes = new Map<number, number>();
  for (const one of found) sizes.set(sizeOf(one), (sizes.get(sizeOf(one)) ?? 0) + 1);
  if (Math.max(...sizes.values()) < rows.alike * found.length) return undefined;
  // The last tuple of the part that is looked at may be cut.
  const around = head.slice(0, head.lastIndexOf(found[found.length - 1])).replace(tuple, "");
  if (/[^\s,;'"[\](){}=\w.]/.test(around) || around.replace(/[^\p{L}]/gu, "").length > mostLetters)
    return undefined;
  return `${[...text.matchAll(tuple)].map((m) => m[1].replace(/\s+/g, " ")).join("\n")}\n`;
}

function sizeOf(one: string): number {
  return one.trim().split(/\s*[,;]\s*|\s+/).length;
}

const inserted = /INSERT\s+INTO\s+[^\s(]{1,200}\s*(\([^()]{0,4000}\))?\s*VALUES\s*/i;
const insertion = /INSERT\s+INTO\s+[^\s(]{1,200}\s*(?:\([^()]{0,4000}\))?\s*VALUES\s*/i;
const created =
  /CREATE\s+TABLE\s+(?:IF\s+NOT\s+EXISTS\s+)?[^\s(]{1,200}\s*\(((?:[^()]|\([^()]{0,200}\)){0,4000})\)/i;
const values = /\(((?:'[^']{0,400}'|[^()']){0,2000})\)\s*(?=[,;]|$)/gm;

/**
 * Rows of a dump of a data base (`INSERT INTO log VALUES (0.1, 2.5);`, the column names from `CREATE TABLE` or from the
 * first `INSERT`) as lines of cells. Undefined for any other text, and where rows of several tables are mixed.
 */
export function dumpedRows(text: string): string | undefined {
  const first = inserted.exec(text.slice(0, looked));
  if (first === null) return undefined;
  const tables = new Set(
    [...text.matchAll(/INSERT\s+INTO\s+([^\s(]{1,200})/gi)].map((m) => m[1].toLowerCase()),
  );
  if (tables.size !== 1) return undefined;
  const list = first[1]?.slice(1, -1) ?? created.exec(text.slice(0, looked))?.[1];
  const names = list
    ?.split(/,(?![^(]*\))/)
    .map((c) =>
      c
        .trim()
        .split(/\s+/)[0]
        .replace(/["'`[\]]/g, ""),
    )
    .filter((c) => !/^(PRIMARY|UNIQUE|FOREIGN|KEY|CONSTRAINT|INDEX|CHECK)$/i.test(c));
  const out: string[] = [];
  for (const part of text.split(insertion).slice(1))
    for (const m of part.matchAll(values)) {
      const cells = m[1]
        .split(/,(?=(?:[^']*'[^']*')*[^']*$)/)
        .map((c) => c.trim().replace(/^'(.*)'$/s, "$1"));
      out.push(cells.map((c) => (/^null$/i.test(c) ? "" : c)).join("\t"));
    }
  if (out.length < rows.fewest) return undefined;
  const width = out[0].split("\t").length;
  return `${names?.length === width ? `${names.join("\t")}\n` : ""}${out.join("\n")}\n`;
}
