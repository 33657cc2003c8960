import { cellKind } from "./cells.js";
import { linesAtBreaks } from "./textBreaks.js";

/** Rows of records of several kinds, kind by kind, each under its heading. */
export interface TaggedRows {
  readonly rows: readonly (readonly string[])[];
  /** Line in the text of each row. */
  readonly numbers: readonly number[];
  /** Lines with something in them that gave no row. */
  readonly left?: readonly number[];
}

const tagged = /^\s*\$?([A-Z][A-Z0-9_]{1,11})\s*[,;\t]/;
const looked = 300;
const mostKinds = 64;
const fewestRecords = 10;

/**
 * Reads a text whose lines begin with the kind of their record (`ESC, 9123, 0, 16.4`), of several kinds one among the
 * other: the records of a kind become a table. Its heading is a line of the same kind that holds words alone, or a line
 * of another kind that names it and ends in as many words as it has values. Undefined for any other text.
 */
export function taggedRows(text: string): TaggedRows | undefined {
  if (!looksSo(text)) return undefined;
  const kinds = new Map<string, { line: number; cells: string[] }[]>();
  const all: string[][] = [];
  const left = new Set<number>();
  for (const [i, line] of text.split(/\r\n|\n|\r/).entries()) {
    const m = tagged.exec(line);
    if (line.trim() !== "") left.add(i + 1);
    if (m === null || line.length > 4000) continue;
    const cells = line.split(/[,;\t]/).map((c) => c.trim());
    const own = kinds.get(m[1]) ?? [];
    if (!kinds.has(m[1]) && kinds.size >= mostKinds) return undefined;
    kinds.set(m[1], own);
    own.push({ line: i + 1, cells: cells.slice(1) });
    if (all.length < 2000) all.push(cells);
  }
  const rows: string[][] = [];
  const numbers: number[] = [];
  const put = (line: number, cells: string[]): void => {
    rows.push(cells);
    numbers.push(line);
    left.delete(line);
  };
  let tables = 0;
  for (const [kind, records] of kinds) {
    const width = usualWidth(records.map((r) => r.cells));
    const own = records.filter((r) => r.cells.length === width);
    const values = own.filter((r) => r.cells.filter((c) => cellKind(c) === "number").length >= 0.5 * width);
    if (width < 2 || values.length < fewestRecords) continue;
    const head =
      own.find((r) => r.cells.every((c) => cellKind(c) === "word"))?.cells ?? namedBy(all, kind, width);
    if (head === undefined) continue;
    put(values[0].line, []);
    put(values[0].line, head);
    for (const r of values) put(r.line, r.cells);
    tables += 1;
  }
  return tables === 0 ? undefined : { rows, numbers, left: [...left] };
}

/** Most of the first lines begin so, with records of more than one kind and of more than one length among them. */
function looksSo(text: string): boolean {
  const lines = linesAtBreaks(text.slice(0, 64 * 1024))
    .filter((l) => l.trim() !== "")
    .slice(0, looked);
  const fit = lines.filter((l) => tagged.test(l));
  if (fit.length < fewestRecords || fit.length < 0.6 * lines.length) return false;
  const kinds = new Set(fit.map((l) => tagged.exec(l)?.[1]));
  const lengths = new Set(fit.map((l) => l.split(/[,;\t]/).length));
  return kinds.size > 1 && (lengths.size > 1 || kinds.size < 0.2 * fit.length);
}

function usualWidth(records: readonly (readonly string[])[]): number {
  const widths = new Map<number, number>();
  for (const r of records) widths.set(r.length, (widths.get(r.length) ?? 0) + 1);
  return [...widths].reduce((a, b) => (b[1] > a[1] ? b : a), [0, 0])[0];
}

/** Names of the values of a kind, from a line that describes it. */
function namedBy(lines: readonly (readonly string[])[], kind: string, width: number): string[] | undefined {
  for (const cells of lines) {
    if (cells[0] === kind || !cells.slice(1).includes(kind) || cells.length < width + 2) continue;
    const names = cells.slice(-width);
    if (names.every((c) => cellKind(c) === "word") && new Set(names).size === width) return names;
  }
  return undefined;
}
