import type { TaggedRows } from "./taggedRecords.js";

const nameLine = /^[#%]\s*name\s*:\s*(\S+)\s*$/i;
const sizeLine = /^[#%]\s*(rows|columns|length|ndims)\s*:\s*(\d+)\s*$/i;
const mostColumns = 200;

interface Matrix {
  readonly name: string;
  readonly line: number;
  readonly rows: string[][];
}

/**
 * Matrices one after the other, each under its name and size (`# name: t`, `# rows: 150`), as programs for numerics
 * save their variables as text: those of the usual length side by side as one table. Undefined for any other text.
 */
export function matrixRows(text: string): TaggedRows | undefined {
  if (
    !/^[#%]\s*name\s*:/im.test(text.slice(0, 4000)) ||
    !/^[#%]\s*(rows|length)\s*:/im.test(text.slice(0, 8000))
  )
    return undefined;
  const found = matricesOf(text).filter((m) => m.rows.length > 2 && m.rows[0].length <= mostColumns);
  const lengths = new Map<number, number>();
  for (const { rows } of found) lengths.set(rows.length, (lengths.get(rows.length) ?? 0) + rows[0].length);
  const [length] = [...lengths].reduce((a, b) => (b[1] > a[1] ? b : a), [0, 0]);
  const taken = found.filter(({ rows }) => rows.length === length);
  if (taken.length === 0) return undefined;
  const head = taken.flatMap(({ name, rows }) =>
    rows[0].length === 1 ? [name] : rows[0].map((_, k) => `${name}[${k}]`),
  );
  const rows = Array.from({ length }, (_, i) => taken.flatMap((m) => m.rows[i]));
  const from = taken[0].line;
  return { rows: [head, ...rows], numbers: [from, ...rows.map((_, i) => from + i)] };
}

function matricesOf(text: string): Matrix[] {
  const out: Matrix[] = [];
  for (const [i, line] of text.split(/\r\n|\n|\r/).entries()) {
    const name = nameLine.exec(line)?.[1];
    if (name !== undefined) out.push({ name, line: i + 1, rows: [] });
    const last = out.at(-1);
    if (last === undefined || line.trim() === "" || /^[#%]/.test(line) || sizeLine.test(line)) continue;
    const cells = line.trim().split(/[\s,]+/);
    // A row of another width is none of this matrix.
    if (last.rows.length === 0 || last.rows[0].length === cells.length) last.rows.push(cells);
  }
  return out;
}
