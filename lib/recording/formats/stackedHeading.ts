/** A heading of several lines, its words put together by the place where they stand. */
export interface StackedHeading {
  readonly names: readonly string[];
  readonly units?: readonly string[];
  /** Index, among the lines above, of the topmost that belongs to it. */
  readonly top: number;
}

/** Where something stands in a line: its first character and the one behind its last. */
interface Place {
  readonly from: number;
  readonly to: number;
}
type Word = Place & { readonly text: string };

const mostLines = 5;
/** Rows by which the places of the columns are told. */
const looked = 40;
const rule = /^[\s=+|_.*-]{3,}$/;
const mark = /^\s*(?:#|%|;|\/\/)/;
const number = /^[+-]?[.,]?\d/;

/**
 * The heading of a table in columns of fixed width whose names are written over several lines (`Motor` over `Volts`
 * over `(V)`, some columns with fewer lines than others): each word belongs to the column over whose numbers it stands,
 * or whose right or left edge it shares. Undefined where a line has words that belong to no one column, where a column
 * has no word, and where one line alone has a word for every column.
 *
 * @param above the lines above the first row, as written, a blank one as an empty text
 * @param rows the first rows, as written
 * @param fields fields of a row
 * @param isUnit whether a word is a unit
 * @example
 * stackedHeading(["   Time  Motor", "         Volts", "    (s)    (V)"], ["  0.000   1.20"], 2, (w) => /^\(/.test(w));
 * // => { names: ["Time", "Motor Volts"], units: ["(s)", "(V)"], top: 0 }
 */
export function stackedHeading(
  above: readonly string[],
  rows: readonly string[],
  fields: number,
  isUnit: (word: string) => boolean,
): StackedHeading | undefined {
  const columns = columnsOf(rows, fields);
  if (columns === undefined) return undefined;
  const lines: { cells: readonly string[]; at: number }[] = [];
  for (let i = above.length - 1; i >= 0 && lines.length < mostLines; i -= 1) {
    if (above[i].trim() === "") {
      if (lines.length > 0) break;
      continue;
    }
    if (rule.test(above[i])) continue;
    const cells = cellsOf(
      above[i].replace(mark, (m) => " ".repeat(m.length)),
      columns,
    );
    if (cells === undefined) break;
    lines.unshift({ cells, at: i });
  }
  const partly = lines.filter(({ cells }) => cells.includes("")).length;
  if (lines.length < 2 || (partly === 0 && lines.length < 3)) return undefined;
  const last = lines[lines.length - 1].cells;
  const units = areUnits(last, isUnit) ? last : undefined;
  const named = units === undefined ? lines : lines.slice(0, -1);
  const names = columns.map((_, k) => joined(named.map(({ cells }) => cells[k]).filter((c) => c !== "")));
  if (names.includes("")) return undefined;
  return { names, ...(units === undefined ? {} : { units }), top: lines[0].at };
}

/** A line of units, of which one in five may be an unknown one of a letter or two. */
function areUnits(cells: readonly string[], isUnit: (word: string) => boolean): boolean {
  const others = cells.filter((c) => c !== "" && !isUnit(c));
  const known = cells.filter((c) => c !== "").length - others.length;
  return others.every((c) => c.length <= 2) && 4 * others.length <= known;
}

/** A word that is parted at the end of a line goes on in the next. */
function joined(parts: readonly string[]): string {
  return parts.join(" ").replace(/(?<=\p{L})- (?=\p{Ll})/gu, "");
}

/** Where the columns stand; undefined for rows that are not lined up. */
function columnsOf(rows: readonly string[], fields: number): readonly Place[] | undefined {
  if (fields < 2) return undefined;
  const places: { from: number; to: number }[] = [];
  for (const row of rows.slice(0, looked)) {
    const words = placed(row);
    // A remark, or the end of a table.
    if (words.length !== fields) continue;
    if (row.includes("\t")) return undefined;
    words.forEach(({ from, to }, k) => {
      const known = places[k];
      places[k] =
        known === undefined ? { from, to } : { from: Math.min(known.from, from), to: Math.max(known.to, to) };
    });
  }
  return places.every(({ from }, k) => k === 0 || from >= places[k - 1].to) && places.length > 0
    ? places
    : undefined;
}

const placed = (line: string): Word[] =>
  Array.from(line.matchAll(/\S+/g), (m) => ({ text: m[0], from: m.index, to: m.index + m[0].length }));

/** The words of one line, by column; undefined where they belong to no one column. */
function cellsOf(line: string, columns: readonly Place[]): readonly string[] | undefined {
  const words = placed(line);
  if (words.length === 0 || line.includes("\t") || words.some(({ text }) => number.test(text)))
    return undefined;
  // Words with one blank between are one, as far as they stand over one column.
  const groups: Word[] = [];
  for (const word of words) {
    const before = groups[groups.length - 1];
    const near = before !== undefined && word.from - before.to === 1;
    if (near && columnAt(before, columns) === columnAt(word, columns))
      groups[groups.length - 1] = { text: `${before.text} ${word.text}`, from: before.from, to: word.to };
    else groups.push(word);
  }
  const cells = columns.map(() => "");
  for (const group of groups) {
    const k = columnAt(group, columns);
    if (k === undefined || cells[k] !== "") return undefined;
    cells[k] = group.text;
  }
  return cells;
}

/** The column that a word stands over; undefined where it is over two, or over none by more than a few characters. */
function columnAt(word: Place, columns: readonly Place[]): number | undefined {
  const shared = columns.map(({ from, to }) => Math.min(to, word.to) - Math.max(from, word.from));
  const best = shared.indexOf(Math.max(...shared));
  if (shared[best] > 0) {
    // Between two columns only a word that shares an edge with one of them is told.
    if (shared.every((n, k) => k === best || n <= shared[best] - 2)) return best;
    const edges = columns.flatMap(({ from, to }, k) => (from === word.from || to === word.to ? [k] : []));
    return edges.length === 1 ? edges[0] : undefined;
  }
  return shared[best] >= -mostApart ? best : undefined;
}

/** Blanks between a word and the numbers below it. */
const mostApart = 2;
