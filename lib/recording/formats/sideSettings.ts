import type { Block } from "./blocks.js";
import { cellKind } from "./cells.js";
import type { Lines } from "./lines.js";

/** Columns beside the values that hold settings or notes in their first rows, and what they say. */
export interface SideSettings {
  /** Columns that are no values. */
  readonly columns: ReadonlySet<number>;
  /** `key: value` lines. */
  readonly lines: readonly string[];
}

/** Settings stand in at most so many rows at the top. */
const most = 60;

/**
 * Finds columns without a name that are filled in a few of the first rows only: settings of an oscilloscope in front of
 * the values, or notes at the side of a sheet.
 */
export function sideSettings(lines: Lines, block: Block): SideSettings {
  const columns = new Set<number>();
  const said: string[] = [];
  const { rows, fields, heading } = block;
  if (rows.length < 20) return { columns, lines: said };
  const top = rows.slice(0, most).map((i) => lines.cells(i));
  const below = [...rows.slice(most, most + 100), ...rows.slice(-100)].filter((i) => i > rows[0]);
  const lower = below.map((i) => lines.cells(i));
  const filled = (cells: readonly (readonly string[])[], k: number): number =>
    cells.filter((r) => (r[k] ?? "") !== "").length;
  for (let k = 0; k < fields; k += 1) {
    if ((heading?.names[k] ?? "") !== "") continue;
    const above = filled(top, k);
    const limit = rows.length <= most ? 0.34 * rows.length : most;
    if (above <= limit && (rows.length <= most || filled(lower, k) === 0)) columns.add(k);
  }
  if (columns.size === fields) columns.clear();
  for (const row of top) {
    for (const k of columns) {
      const key = row[k] ?? "";
      if (cellKind(key) !== "word") continue;
      const value = [...columns]
        .filter((c) => c > k)
        .map((c) => row[c] ?? "")
        .find((c) => c !== "");
      if (value !== undefined) said.push(`${key.replace(/[:=]+$/, "")}: ${value}`);
      break;
    }
  }
  return { columns, lines: said };
}
