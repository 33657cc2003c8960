import { areObjects } from "../columns/objectNumbers.js";
import type { Lines } from "./lines.js";

const marked = /^(?:0x|&h|\$|16#)([0-9a-f]{1,16})$|^([0-9a-f]{1,16})h$/i;
const bare = /^[0-9a-f]{4}$|^[0-9a-f]{8}$/i;

/** Whether a cell may be a number in base sixteen; one with a point never is. */
const mayBe = (c: string): boolean => !c.includes(".") && (marked.test(c) || bare.test(c));
/** Rows looked at to see whether a column is written in base sixteen. */
const looked = 300;

/** A column in base sixteen; `plain` where nothing but its letters shows it. */
interface HexColumn {
  readonly column: number;
  readonly plain: boolean;
}

interface Hex {
  readonly column: number;
  /** Number of values that the digits can tell apart, where the upper half of them are negative. */
  readonly turn?: number;
}

/** The digits of a cell; undefined where it is no number in base sixteen. */
function digitsOf(cell: string, plain: boolean): string | undefined {
  const m = marked.exec(cell);
  if (m !== null) return m[1] ?? m[2];
  return plain && bare.test(cell) ? cell : undefined;
}

/**
 * Columns whose cells are numbers in base sixteen: marked (`0x1F3A`, `1F3Ah`), or all of four or eight digits with
 * letters among them that no decimal number has.
 */
export function hexColumns(columns: readonly (readonly string[])[]): HexColumn[] {
  const found = columns.flatMap((cells, column): HexColumn[] => {
    const filled = cells.filter((c) => c !== "");
    if (filled.length < 5 || areObjects(filled)) return [];
    const fit = filled.filter((c) => marked.test(c)).length;
    if (fit > 0.9 * filled.length) return [{ column, plain: false }];
    if (!filled.every((c) => bare.test(c) && c.length === filled[0].length)) return [];
    // A number with an exponent may look so (`1e05`): other letters tell.
    const letters = filled.filter((c) => /[abcdf]/i.test(c)).length;
    return letters > 0.1 * filled.length ? [{ column, plain: true }] : [];
  });
  if (!found.some((f) => f.plain)) return found;
  return columns.flatMap((cells, column) => {
    const own = found.find((f) => f.column === column);
    return own !== undefined ? [own] : likeHex(cells) ? [{ column, plain: true }] : [];
  });
}

/** Beside a column in base sixteen, another of as many digits in each cell, with zeros before them, is so too: `03E8`
 * is no power of ten. */
function likeHex(cells: readonly string[]): boolean {
  const filled = cells.filter((c) => c !== "");
  if (filled.length < 5 || areObjects(filled)) return false;
  return (
    filled.every((c) => bare.test(c) && c.length === filled[0].length) && filled.some((c) => /^0/.test(c))
  );
}

/** The same lines with numbers in base sixteen written in base ten; those whose values lie at both ends of what their
 * digits hold are taken as signed. */
export function withoutHex(lines: Lines): Lines {
  const some: (readonly string[])[] = [];
  for (let i = 0; i < lines.count && some.length < looked; i += 1) {
    const cells = lines.cells(i);
    if (cells.some(mayBe)) some.push(cells);
  }
  if (some.length < 5) return lines;
  const width = some.reduce((most, cells) => Math.max(most, cells.length), 0);
  const found = hexColumns(Array.from({ length: width }, (_, k) => some.map((cells) => cells[k] ?? "")));
  if (found.length === 0) return lines;
  const plain = new Map(found.map((f) => [f.column, f.plain] as const));
  const columns = found.map(
    ({ column, plain: own }): Hex => ({ column, turn: signedTurn(lines, column, own) }),
  );
  return {
    ...lines,
    cells: (i) => {
      const cells = [...lines.cells(i)];
      for (const { column, turn } of columns) {
        const digits = digitsOf(cells[column] ?? "", plain.get(column) === true);
        if (digits === undefined) continue;
        const value = Number.parseInt(digits, 16);
        cells[column] = String(turn !== undefined && value >= turn / 2 ? value - turn : value);
      }
      return cells;
    },
  };
}

/** Two's complement shows in values at both ends of the range and none about its middle, all written with the same
 * digits. */
function signedTurn(lines: Lines, column: number, plain: boolean): number | undefined {
  let size = 0;
  let low = 0;
  let high = 0;
  let middle = 0;
  for (let i = 0; i < lines.count; i += 1) {
    const digits = digitsOf(lines.cells(i)[column] ?? "", plain);
    if (digits === undefined) continue;
    if (size === 0) size = digits.length;
    if (digits.length !== size) return undefined;
    const part = Number.parseInt(digits, 16) / 16 ** size;
    if (part < 0.25) low += 1;
    else if (part >= 0.75) high += 1;
    else middle += 1;
  }
  return size % 2 === 0 && low > 0 && high > 0 && middle === 0 ? 16 ** size : undefined;
}
