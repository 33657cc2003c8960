/** Tells whether two stored notebooks say the same. */
import type { Notebook } from "./document.js";

const number = /-?\d+(?:\.\d+)?(?:e[+-]?\d+)?/gi;

/**
 * Differences between a stored document and a fresh one, in words; empty when there are none. Text must agree exactly,
 * numbers within a thousandth (or 0.02, for coordinates of drawings): the last digits of sines and exponentials differ
 * between processors.
 */
export function differences(stored: Notebook, fresh: Notebook): string[] {
  const found: string[] = [];
  if (stored.cells.length !== fresh.cells.length) {
    found.push(`${stored.cells.length} cells are stored, the source has ${fresh.cells.length}`);
  }
  fresh.cells.forEach((cell, i) => {
    const old = stored.cells[i];
    if (!old) return;
    if (old.cell_type !== cell.cell_type || old.source.join("") !== cell.source.join("")) {
      found.push(`cell ${i + 1}: the source has changed`);
    } else if (!sameText(shown(old), shown(cell))) {
      found.push(`cell ${i + 1}: the stored output is not what the cell shows now`);
    }
  });
  return found;
}

/** What a cell shows, without pictures and what is packed: a chart's specification stands beside them and is
 * compared. */
function shown(cell: Notebook["cells"][number]): string {
  return JSON.stringify(cell.outputs ?? [], (key, value) => {
    if (key === "image/png") return undefined;
    if (key !== "text/html") return value;
    const lines: readonly string[] = Array.isArray(value) ? value : [String(value)];
    return lines.join("").replace(/[A-Za-z0-9+/]{200,}=*/g, "(packed)");
  });
}

/** Same words, and numbers that agree closely. */
export function sameText(a: string, b: string): boolean {
  if (a === b) return true;
  const [wordsA, wordsB] = [a.split(number), b.split(number)];
  if (wordsA.length !== wordsB.length || wordsA.some((word, i) => word !== wordsB[i])) return false;
  const [numbersA, numbersB] = [a.match(number) ?? [], b.match(number) ?? []];
  return numbersA.every((text, i) => {
    const [x, y] = [Number(text), Number(numbersB[i])];
    return Math.abs(x - y) <= Math.max(0.02, 1e-3 * Math.max(Math.abs(x), Math.abs(y)));
  });
}
