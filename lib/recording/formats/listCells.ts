import type { Lines } from "./lines.js";

const list = /^\s*[[({]\s*(.*?)\s*[\])}]\s*$/s;
const number = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$|^nan$/i;
/** Rows looked at to see whether cells hold lists. */
const looked = 40;
const mostValues = 64;

function itemsOf(cell: string): string[] | undefined {
  const m = cell.length > 4000 ? null : list.exec(cell);
  if (m === null || m[1] === "") return undefined;
  return m[1].split(/\s*[,;]\s*|\s+/).map((item) => item.replace(/^['"]|['"]$/g, ""));
}

/**
 * Lines whose cells hold lists, as `(0.1, 0.2, 0.3)`, with a column for every value; a column of lists of names beside
 * them gives the names. The same lines when there are none.
 */
export function withoutLists(lines: Lines): Lines {
  const first = firstListed(lines);
  if (first === undefined) return lines;
  const { row, sizes, names } = first;
  const width = (k: number): number => sizes.get(k) ?? 1;
  const expand = (cells: readonly string[]): string[] =>
    cells.flatMap((cell, k) => {
      if (!sizes.has(k)) return [cell];
      const items = itemsOf(cell) ?? [];
      return Array.from({ length: width(k) }, (_, i) => items[i] ?? "");
    });
  const heading = (cells: readonly string[]): string[] =>
    cells.flatMap((cell, k) =>
      sizes.has(k)
        ? Array.from({ length: width(k) }, (_, i) => (cell === "" ? "" : `${cell} ${names?.[i] ?? `[${i}]`}`))
        : [cell],
    );
  return {
    ...lines,
    cells: (i) => {
      const cells = lines.cells(i);
      // What stands above the rows and has a cell for every column of theirs is the heading.
      if (i < row && cells.length === first.fields) return heading(cells);
      return i < row ? cells : expand(cells);
    },
  };
}

interface Listed {
  readonly row: number;
  readonly fields: number;
  readonly sizes: ReadonlyMap<number, number>;
  readonly names?: readonly string[];
}

/** Whether a digit stands between an opening bracket and a closing one. */
function mayHoldList(text: string): boolean {
  const from = text.search(/[[({]/);
  const to = Math.max(text.lastIndexOf("]"), text.lastIndexOf(")"), text.lastIndexOf("}"));
  return from >= 0 && /\d/.test(text.slice(from, Math.max(from, to)));
}

/** The first row with lists of numbers, and how long the list in each column is, the same in the rows after it. */
function firstListed(lines: Lines): Listed | undefined {
  for (let i = 0; i < Math.min(lines.count, 200); i += 1) {
    if (!mayHoldList(lines.text(i))) continue;
    const cells = lines.cells(i);
    const found = cells.map(itemsOf);
    const sizes = new Map<number, number>();
    for (const [k, items] of found.entries())
      if (
        items !== undefined &&
        items.length > 1 &&
        items.length <= mostValues &&
        items.every((t) => number.test(t))
      )
        sizes.set(k, items.length);
    if (sizes.size === 0) continue;
    for (let n = i + 1; n < Math.min(lines.count, i + looked); n += 1) {
      const next = lines.cells(n);
      if (next.length !== cells.length) continue;
      for (const [k, size] of sizes) if ((itemsOf(next[k])?.length ?? size) !== size) sizes.delete(k);
    }
    if (sizes.size === 0) return undefined;
    const size = [...sizes.values()][0];
    const names = found.find(
      (items) => items?.length === size && items.every((t) => /^[\p{L}_]/u.test(t) && !number.test(t)),
    );
    return { row: i, fields: cells.length, sizes, names };
  }
  return undefined;
}
