import { median } from "../../numeric/series/median.js";
import type { DescribedField } from "../descriptor.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ReadOptions } from "./readOptions.js";
import { clockColumn } from "./worthReading.js";

/** A gap between two files of one log is at most this many samples. */
const longestGap = 10;

/**
 * Sorts tables numbered in a row into logs: a table goes on from the one before when it has the same columns and its
 * time begins within a few samples after the other's end. Runs that each begin at zero stay apart.
 */
export async function groupSplit(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  options: ReadOptions,
): Promise<SourceTable[][]> {
  const groups: SourceTable[][] = [];
  for (const table of tables) {
    const group = groups.at(-1);
    const before = group?.at(-1);
    if (group !== undefined && before !== undefined && (await goesOn(before, table, fields, options)))
      group.push(table);
    else groups.push([table]);
  }
  return groups;
}

/** Whether a table goes on in time where another ended. */
export async function goesOn(
  before: SourceTable,
  after: SourceTable,
  fields: readonly DescribedField[],
  options: ReadOptions,
): Promise<boolean> {
  if (before.columns.length !== after.columns.length) return false;
  if (
    before.columns.some(
      (c, k) => c.name !== after.columns[k].name || (c.unit ?? "") !== (after.columns[k].unit ?? ""),
    )
  )
    return false;
  const time = (table: SourceTable): number => clockColumn(table, fields, options) ?? -1;
  const index = time(before);
  if (index < 0 || time(after) !== index) return false;
  const stamps = before.columns[index].kind === "stamp";
  // Most numbered files are runs of their own, each from zero: the first value tells without reading.
  const first = (table: SourceTable): number => {
    const text = table.columns[index].samples[0] ?? "";
    return stamps ? Date.parse(text) : Number(text.replace(",", "."));
  };
  if (first(after) <= first(before)) return false;
  const a = await before.read([index]);
  const b = await after.read([index]);
  const ends = a.columns[0];
  const starts = b.columns[0];
  if (ends.length < 3 || starts.length < 1) return false;
  const steps = new Float64Array(Math.min(ends.length - 1, 2000));
  for (let i = 0; i < steps.length; i += 1) steps[i] = ends[ends.length - 1 - i] - ends[ends.length - 2 - i];
  const step = median(steps);
  const shift = stamps
    ? (Date.parse(b.origins.get(index) ?? "") - Date.parse(a.origins.get(index) ?? "")) / 1000
    : 0;
  const gap = starts[0] + shift - ends[ends.length - 1];
  return step > 0 && gap > 0 && gap <= longestGap * step;
}
