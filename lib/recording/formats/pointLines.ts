import type { TaggedRows } from "./taggedRecords.js";

const numberText = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;
const point = new RegExp(
  String.raw`^\s*>?\s*([\p{L}_][\p{L}\p{N}_ ./-]{0,40}):(${numberText}):(${numberText})(?:§\S{0,12})?(?:\|([^\s|§]{0,12}))?\s*$`,
  "u",
);
const looked = 200;

/** Reads lines of one point each (`name:time:value`, as serial plotters take them) as rows, one for each moment.
 * Undefined for any other text. */
export function pointRows(text: string): TaggedRows | undefined {
  const lines = text.split(/\r\n|\n|\r/, looked).filter((l) => l.trim() !== "");
  if (lines.length < 10 || lines.filter((l) => point.test(l)).length < 0.8 * lines.length) return undefined;
  const names = new Map<string, number>();
  const units = new Map<string, string>();
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
    if (m[4] !== undefined && /\p{L}/u.test(m[4])) units.set(m[1], m[4]);
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
  const named = (name: string): string => (units.has(name) ? `${name} [${units.get(name)}]` : name);
  return {
    rows: [head.map(named), ...rows.map((row) => head.map((_, k) => row[k] ?? ""))],
    numbers: [numbers[0] ?? 1, ...numbers],
    left,
  };
}
