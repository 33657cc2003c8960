import { splitRecords } from "./splitRecords.js";

/** Lines of a table, split into cells when asked for. */
export interface Lines {
  readonly count: number;
  /** Number of the line in the file, from 1. */
  line(i: number): number;
  text(i: number): string;
  /** Cells, their outer blanks taken off. */
  cells(i: number): readonly string[];
}

/**
 * Lines of a text in memory: only where each begins and ends is held. A line break within quotes belongs to its cell,
 * unless the quote is never closed.
 */
export function linesOfText(text: string, delimiter: string, firstLine = 1): Lines {
  const starts: number[] = [];
  const ends: number[] = [];
  const numbers: number[] = [];
  let quote = text.indexOf('"');
  let line = firstLine;
  let at = 0;
  while (at < text.length) {
    let end = nextBreak(text, at);
    let inner = 0;
    // The next quote is looked for once, and not again for every line before it.
    if (quote >= 0 && quote < at) quote = text.indexOf('"', at);
    if (quote >= 0 && quote < end) {
      while (end < text.length && openQuote(text, at, end) && inner < 20) {
        const next = nextBreak(text, afterBreak(text, end));
        inner += 1;
        end = next;
      }
      // A quote that is still open after so many lines is a stray one.
      if (inner >= 20) {
        inner = 0;
        end = nextBreak(text, at);
      }
    }
    starts.push(at);
    ends.push(end);
    numbers.push(line);
    line += 1 + inner;
    at = afterBreak(text, end);
  }
  const slice = (i: number): string => text.slice(starts[i], ends[i]);
  // Every line is asked for several times; of a short text its cells are kept.
  const kept: (readonly string[])[] | undefined = text.length <= mostKept ? [] : undefined;
  return {
    count: starts.length,
    line: (i) => numbers[i],
    text: slice,
    cells: (i) => {
      const known = kept?.[i];
      if (known !== undefined) return known;
      const cells = splitLine(slice(i), delimiter);
      if (kept !== undefined) kept[i] = cells;
      return cells;
    },
  };
}

/** Characters of a text whose cells are kept. */
const mostKept = 2 ** 20;
/** A line with more cells than this is no row of a log, and it need not be parted to its end to know. */
const mostCells = 4096;
/** Nor need a longer line, characters. */
const longestLine = 2 ** 20;

/** Cells of one line; of one with very many, the first. */
export function splitLine(given: string, delimiter: string): string[] {
  const line = given.length > longestLine ? given.slice(0, longestLine) : given;
  if (delimiter === " ") {
    const bare = line.trim();
    return bare === "" ? [""] : bare.split(/[ \t]+/, mostCells);
  }
  if (!line.includes('"')) return line.split(delimiter, mostCells).map((c) => c.trim());
  return (splitRecords(line, delimiter, 1, true)[0]?.fields ?? [""]).map((c) => unquoted(c.trim()));
}

/** Lines that are given as cells already: a sheet, or what was made of a text. */
export function linesOfCells(rows: readonly (readonly string[])[], numbers?: readonly number[]): Lines {
  return {
    count: rows.length,
    line: (i) => numbers?.[i] ?? i + 1,
    text: (i) => rows[i].join("\t"),
    cells: (i) => rows[i],
  };
}

/** `="0.5"` and `'0.5`, as spreadsheets guard a number. */
function unquoted(cell: string): string {
  const m = /^="(.*)"$/.exec(cell) ?? /^'([\d.,+-].*)$/.exec(cell);
  return m === null ? cell : m[1];
}

function nextBreak(text: string, from: number): number {
  for (let i = from; i < text.length; i += 1) {
    const c = text.charCodeAt(i);
    if (c === 10 || c === 13) return i;
  }
  return text.length;
}

function afterBreak(text: string, at: number): number {
  return at + (text[at] === "\r" && text[at + 1] === "\n" ? 2 : 1);
}

function openQuote(text: string, from: number, to: number): boolean {
  let open = false;
  for (let i = from; i < to; i += 1) if (text.charCodeAt(i) === 34) open = !open;
  return open;
}
