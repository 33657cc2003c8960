import { linesAtBreaks } from "./textBreaks.js";

const looked = 200;

/**
 * A table of numbers in columns of fixed width that run into each other (`0.0069-30.0952`), with a blank between them:
 * every line is as long as the others and has its decimal points in the same places. Undefined for any other text.
 *
 * @example
 * gluedColumns("0.010-30.1\n0.020 -9.3\n0.030-10.7\n0.040 -8.8\n0.050-12.0\n"); // "0.010 -30.1\n..."
 */
export function gluedColumns(text: string): string | undefined {
  const rows = linesAtBreaks(text.slice(0, 64 * 1024))
    .filter((l) => /^[\s\d.+-]*\d\.[\s\d.+-]*$/.test(l) && l.length < 1000)
    .slice(0, looked);
  if (rows.length < 5) return undefined;
  const length = rows[rows.length >> 1].length;
  const own = rows.filter((l) => l.length === length);
  if (own.length < 0.9 * rows.length) return undefined;
  const points: number[] = [];
  for (let k = 0; k < length; k += 1) {
    const n = own.filter((l) => l[k] === ".").length;
    if (n > 0.02 * own.length && n < 0.98 * own.length) return undefined;
    if (n >= 0.98 * own.length) points.push(k);
  }
  if (points.length < 2) return undefined;
  // As many decimals as every line has behind a point.
  const cuts = points.slice(0, -1).map((p) => {
    const runs = own.filter((l) => l[p] === ".").map((l) => /^\d*/.exec(l.slice(p + 1))?.[0].length ?? 0);
    return p + 1 + Math.min(...runs);
  });
  const glued = own.some((l) => cuts.some((c) => l[c] !== " "));
  if (!glued) return undefined;
  return text.replace(/^[ \t\d.+-]*$/gm, (line) => {
    if (line.length !== length || !line.includes(".")) return line;
    return cuts.reduceRight((l, c) => `${l.slice(0, c)} ${l.slice(c)}`, line);
  });
}
