import { isNumberText, type TextDialect } from "./textDialect.js";

/** Words that stand for a missing value, as they are told to the column engine too. */
export const missingWords: readonly string[] = [
  "",
  "NaN",
  "nan",
  "NA",
  "N/A",
  "n/a",
  "#N/A",
  "null",
  "NULL",
  "-",
  "--",
  "None",
];

const missing = new Set(missingWords);
/** Powers of ten that a double holds exactly. */
const powers = Float64Array.from({ length: 23 }, (_, k) => Number(`1e${k}`));
/** Digits of which every whole number is held exactly. */
const exactDigits = 15;
const [newline, carriage, minus, zero, quote, space] = [10, 13, 45, 48, 34, 32];

/**
 * Reads columns of plain numbers from the bytes of a text table, several times faster than an engine that must be ready
 * for anything: only for tables in which nothing unusual occurs. Numbers are the nearest double to what is written (up
 * to 15 digits the quotient of two whole numbers that a double holds exactly; beyond, the language's own conversion);
 * missing values are NaN.
 *
 * Undefined as soon as anything is met that needs a closer look (a quote, a row with more or fewer fields, a cell that
 * is no number, a blank line, a character beyond ASCII): the table is then for the column engine, which says what is
 * wrong with it.
 *
 * @param given the bytes of the whole file
 * @param dialect as it was found from the first block
 * @param wanted columns, from 0
 * @param expected rows to make room for
 */
export function plainNumbers(
  given: Uint8Array,
  dialect: Pick<TextDialect, "delimiter" | "decimal" | "fields" | "linesBefore">,
  wanted: readonly number[],
  expected: number,
): Float64Array[] | undefined {
  const { fields } = dialect;
  const delimiter = dialect.delimiter.charCodeAt(0);
  const point = dialect.decimal.charCodeAt(0);
  if (given.length === 0 || given[given.length - 1] === carriage) return undefined;
  // Every row ends in a line break, so that nothing has to look out for the end of the file within one.
  const bytes = given[given.length - 1] === newline ? given : withLineBreak(given);
  const end = bytes.length;
  let at = 0;
  for (let line = 0; line < dialect.linesBefore; line += 1) {
    at = bytes.indexOf(newline, at) + 1;
    if (at === 0) return undefined;
  }
  if (at >= end) return undefined;
  const firstBreak = bytes.indexOf(newline, at);
  const returns = firstBreak > 0 && bytes[firstBreak - 1] === carriage;
  // A column asked for twice would be filled once only.
  const slots = new Int32Array(fields).fill(-1);
  for (let k = 0; k < wanted.length; k += 1) {
    if (slots[wanted[k]] !== -1) return undefined;
    slots[wanted[k]] = k;
  }
  let columns = roomFor(wanted.length, Math.max(64, Math.ceil(expected)));
  let room = columns[0]?.length ?? expected;
  const last = fields - 1;
  let row = 0;
  while (at < end) {
    if (row === room) {
      columns = widened(columns, row, Math.ceil(room * 1.5));
      room = columns[0]?.length ?? end;
    }
    for (let field = 0; field < fields; field += 1) {
      const slot = slots[field];
      const start = at;
      let c = bytes[at];
      if (slot < 0) {
        while (c !== delimiter && c !== newline && c !== carriage) {
          if (c === quote || c > 126 || (c < space && c !== 9)) return undefined;
          c = bytes[++at];
        }
      } else {
        const negative = c === minus;
        if (negative) c = bytes[++at];
        const first = at;
        const leading = c;
        let whole = 0;
        let digit = c - zero;
        while (digit >= 0 && digit <= 9) {
          whole = whole * 10 + digit;
          c = bytes[++at];
          digit = c - zero;
        }
        const before = at - first;
        let decimals = 0;
        let pointed = 0;
        if (c === point && before > 0) {
          c = bytes[++at];
          digit = c - zero;
          pointed = at;
          while (digit >= 0 && digit <= 9) {
            whole = whole * 10 + digit;
            c = bytes[++at];
            digit = c - zero;
          }
          decimals = at - pointed;
        }
        const plain =
          (c === delimiter || c === newline || c === carriage) &&
          before > 0 &&
          before + decimals <= exactDigits &&
          (before === 1 || leading !== zero) &&
          (decimals > 0 || pointed === 0);
        let value: number;
        if (plain) {
          value = decimals === 0 ? whole : whole / powers[decimals];
          if (negative) value = -value;
        } else if (at === start && fields > 1 && (c === delimiter || c === newline || c === carriage)) {
          value = Number.NaN;
        } else {
          while (c !== delimiter && c !== newline && c !== carriage) c = bytes[++at];
          if (at - start > 64) return undefined;
          const unusual = unusualCell(bytes, start, at, dialect.decimal);
          if (unusual === undefined) return undefined;
          value = unusual;
        }
        columns[slot][row] = value;
      }
      // What follows the cell: a delimiter inside the row, a line break (or the end of the file) after its last cell.
      if (field < last) {
        if (c !== delimiter) return undefined;
        at += 1;
        continue;
      }
      // The last line may have none.
      if (returns && !(bytes !== given && at === end - 1)) {
        if (c !== carriage) return undefined;
        c = bytes[++at];
      }
      if (c !== newline) return undefined;
      // A blank line of a table with one column is no row.
      if (fields === 1 && at - start <= 1 && bytes[start] <= carriage) return undefined;
      at += 1;
    }
    row += 1;
  }
  return columns.map((column) => column.slice(0, row));
}

/** Rows of one column up to which its room is kept for the next table. */
const mostRoom = 2 ** 19;
/** Columns whose room is kept. */
const mostColumns = 32;
/** Room for columns that is used again and again: new memory costs as much as half of what is read into it. */
const kept: Float64Array[] = [];

/** Room for so many columns of so many rows at least; what stands in it is of no meaning. */
function roomFor(columns: number, rows: number): Float64Array[] {
  if (rows > mostRoom || columns > mostColumns)
    return Array.from({ length: columns }, () => new Float64Array(rows));
  const size = Math.max(rows, kept[0]?.length ?? 0);
  for (let k = 0; k < columns; k += 1)
    if (kept[k] === undefined || kept[k].length < size) kept[k] = new Float64Array(size);
  return kept.slice(0, columns);
}

function widened(columns: readonly Float64Array[], rows: number, room: number): Float64Array[] {
  const larger = roomFor(columns.length, room);
  for (const [k, column] of columns.entries())
    if (larger[k] !== column) larger[k].set(column.subarray(0, rows));
  return larger;
}

function withLineBreak(bytes: Uint8Array): Uint8Array {
  const longer = new Uint8Array(bytes.length + 1);
  longer.set(bytes);
  longer[bytes.length] = newline;
  return longer;
}

/** A number that is written out of the ordinary, NaN for a missing value; undefined for anything else. */
function unusualCell(bytes: Uint8Array, from: number, to: number, decimal: "." | ","): number | undefined {
  let text = "";
  for (let i = from; i < to; i += 1) text += String.fromCharCode(bytes[i]);
  if (missing.has(text)) return Number.NaN;
  // Leading zeros and a plus sign are for the engine to judge.
  if (/^(\+|-?0\d)/.test(text) || !isNumberText(text, decimal)) return undefined;
  const value = Number(decimal === "," ? text.replace(",", ".") : text);
  return Math.abs(value) < 1e300 && (Math.abs(value) > 1e-300 || /^[^eE]*$/.test(text)) ? value : undefined;
}
