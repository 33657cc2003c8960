import { cellKind } from "./cells.js";
import type { TextDialect } from "./textDialect.js";

const [newline, carriage, minus, point, zero, nine] = [10, 13, 45, 46, 48, 57];
/** Fewer rows are looked at more closely: they take no time. */
const fewestRows = 20;
/** Part of the cells of a column that may be slips. */
const slips = 0.01;

/**
 * True when the lines are one heading (or none) and rows of as many plain numbers each: digits, a point, a sign in
 * front, nothing else, and no column that may be grouped in thousands by its points. What most loggers write, told
 * without taking it apart; false says nothing.
 *
 * @param text whole lines from the beginning of a table, the last one with or without its line break
 * @param dialect as it was found
 */
export function isEvenNumbers(
  text: string,
  { delimiter, decimal, fields, linesBefore, units }: TextDialect,
): boolean {
  if (linesBefore > 1 || units !== undefined || decimal !== "." || delimiter === " ") return false;
  let from = 0;
  if (linesBefore === 1) {
    from = text.indexOf("\n") + 1;
    const cells = text.slice(0, Math.max(0, from - 1)).split(delimiter);
    const kinds = cells.map((c) => cellKind(c.trim()));
    if (cells.length !== fields || kinds.includes("number") || kinds.includes("stamp")) return false;
  }
  const mark = delimiter.charCodeAt(0);
  // Cells with a point, and those of them that are no groups of thousands, by column.
  const ungrouped = new Int32Array(fields);
  let points = 0;
  let rows = 0;
  let field = 0;
  let begun = from;
  for (let at = from; at <= text.length; at += 1) {
    const c = at === text.length ? newline : text.charCodeAt(at);
    if (c !== mark && c !== newline) continue;
    const last = c === newline;
    const end = last && text.charCodeAt(at - 1) === carriage ? at - 1 : at;
    // The line break at the very end.
    if (at === text.length && begun === at && field === 0) break;
    const decimals = decimalsOf(text, begun, end);
    if (decimals === undefined || last !== (field === fields - 1)) return false;
    if (decimals > 0) points += 1;
    if (decimals > 0 && decimals !== 3) ungrouped[field] += 1;
    field = last ? 0 : field + 1;
    if (last) rows += 1;
    begun = at + 1;
  }
  return rows >= fewestRows && (points === 0 || ungrouped.some((n) => n > 1 + slips * rows));
}

/** Digits behind the point of a plain number; undefined for any other text. */
function decimalsOf(text: string, from: number, to: number): number | undefined {
  let at = text.charCodeAt(from) === minus ? from + 1 : from;
  const first = at;
  while (at < to && isDigit(text.charCodeAt(at))) at += 1;
  const before = at - first;
  if (before === 0 || (before > 1 && text.charCodeAt(first) === zero)) return undefined;
  if (at === to) return 0;
  if (text.charCodeAt(at) !== point) return undefined;
  const behind = at + 1;
  at = behind;
  while (at < to && isDigit(text.charCodeAt(at))) at += 1;
  return at === to && at > behind ? at - behind : undefined;
}

const isDigit = (c: number): boolean => c >= zero && c <= nine;
