import type { TaggedRows } from "./taggedRecords.js";

const numberText = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;
const point = new RegExp(
  String.raw`^\s*>?\s*([\p{L}_][\p{L}\p{N}_ ./-]{0,40}):(${numberText}):(${numberText})(?:§\S{0,12})?(?:\|\w{0,8})?\s*$`,
  "u",
);
const looked = 200;

/** Reads lines of one point each (`name:time:value`, as serial plotters take them) as rows, one for each moment.
 * Undefined for any other text. */
export function pointRows(text: string): TaggedRows | undefined {
  const lines = text.split(/\r\n|\n|\r/, looked).filter((l) => l.trim() !== "");
  if (lines.length < 10 || lines.filter((l) => point.test(l)).length < 0.8 * lines.length) return undefined;
  const names = new Map<string, number>();
  const rows: string[][] = [];
  const numbers: number[] = [];
  const left: number[] = [];
  for (const [i, line] of text.split(/\r\n|\n|\r/).entries()) {
    const m = line.length > 400 ? null : point.exec(line);
    if (m === null) {
      if (line.trim() !== "") left.push(i + 1);
      continue;
    }
    if (!names.has(m[1])) names.set(m[1], names.size + 1);
    const at = names.get(m[1]) ?? 1;
    const last = rows.at(-1);
    if (last !== undefined && last[0] === m[2] && last[at] === undefined) last[at] = m[3];
    else {
      const row = [m[2]];
      row[at] = m[3];
      rows.push(row);
      numbers.push(i + 1);
    }
  }
  const head = ["time", ...names.keys()];
  return {
    rows: [head, ...rows.map((row) => head.map((_, k) => row[k] ?? ""))],
    numbers: [numbers[0] ?? 1, ...numbers],
    left,
  };
}
