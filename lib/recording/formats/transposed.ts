import { unitCode } from "../../units/unitCode.js";
import { cellKind } from "./cells.js";
import { bareUnit } from "./heading.js";

/** More lines than this are rows of a table, however long. */
const mostLines = 80;
const fewestValues = 20;
/** A line has at least so many times as many values as there are lines. */
const longer = 3;

/**
 * Rows of a table that was written with time along the lines: each line is one signal, its name (and perhaps its unit)
 * before its values. Lines above that are shorter stay above. Undefined for any other table.
 */
export function transposedRows(cells: readonly (readonly string[])[]): string[][] | undefined {
  const filled = cells.filter((line) => line.some((c) => c !== ""));
  const width = filled.reduce((most, line) => Math.max(most, lengthOf(line)), 0);
  const long = filled.filter((line) => lengthOf(line) >= 0.9 * width);
  if (long.length < 2 || long.length > mostLines || width < Math.max(fewestValues, longer * long.length))
    return undefined;
  const first = filled.indexOf(long[0]);
  if (filled.slice(first).length !== long.length) return undefined;
  // Names of signals differ: the same word before every line is a label of its rows.
  const labels = new Set(long.map((line) => line[0]));
  const named = labels.size === long.length && long.every((line) => cellKind(line[0] ?? "") === "word");
  const united =
    named &&
    long.every((line) => line[1] !== undefined && !numberLike(line[1])) &&
    long.some((line) => isUnit(line[1]));
  const from = named ? (united ? 2 : 1) : 0;
  const values = long.map((line) => line.slice(from, lengthOf(line)));
  const fit = (line: readonly string[]): boolean => {
    let n = 0;
    for (const c of line) if (c === "" || numberLike(c)) n += 1;
    return n > 0.9 * line.length;
  };
  if (!values.every(fit)) return undefined;
  // Without names only a line that rises all along, beside few others, shows which way the table lies.
  if (!named && (long.length > 12 || width < 50 || !values.some(rises))) return undefined;
  const head = named ? [long.map((line) => line[0]), ...(united ? [long.map((line) => line[1])] : [])] : [];
  const rows = Array.from({ length: width - from }, (_, k) => values.map((line) => line[k] ?? ""));
  return [...filled.slice(0, first).map((line) => [...line]), ...head, ...rows];
}

/** The same of a text whose lines are long and few. */
export function transposedText(text: string): string[][] | undefined {
  const lines = text.split(/\r\n|\n|\r/, mostLines + 40);
  if (lines.length >= mostLines + 40) return undefined;
  const filled = lines.filter((l) => l.trim() !== "");
  if (filled.length < 2 || text.length < 60 * filled.length) return undefined;
  const bare = filled.map((l) => assigned(l));
  for (const delimiter of ["\t", ";", ","]) {
    const cells = bare.map((l) => l.split(delimiter).map((c) => c.trim().replace(/^"(.*)"$/, "$1")));
    const found = transposedRows(cells);
    if (found !== undefined) return found;
  }
  return transposedRows(bare.map((l) => l.trim().split(/\s+/)));
}

/** `speed = [0.1, 0.2]` as a name and its values. */
function assigned(line: string): string {
  const m = /^\s*([\p{L}_][\p{L}\p{N}_.]*)\s*[=:]\s*[[({]\s*([^[\](){}]*?)\s*[\])}][;,\s]*$/u.exec(line);
  if (m === null) return line;
  const delimiter = /[,;\t]/.exec(m[2])?.[0] ?? " ";
  return `${m[1]}${delimiter}${m[2]}`;
}

function lengthOf(line: readonly string[]): number {
  let n = line.length;
  while (n > 0 && line[n - 1] === "") n -= 1;
  return n;
}

function numberLike(cell: string): boolean {
  const kind = cellKind(cell);
  return kind === "number" || kind === "stamp" || kind === "missing";
}

function isUnit(cell: string): boolean {
  return cell !== "" && cell.length < 20 && unitCode(bareUnit(cell)) !== undefined;
}

function rises(line: readonly string[]): boolean {
  let up = 0;
  for (let i = 1; i < line.length; i += 1)
    if (Number(line[i].replace(",", ".")) > Number(line[i - 1].replace(",", "."))) up += 1;
  return up > 0.98 * (line.length - 1);
}
