import type { ColumnUnderstanding } from "../recording/types.js";
import { unitText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";
import { pageWidth, paint, table } from "./layout.js";

/** A channel as it was taken, with how. */
interface Taken {
  readonly role: string;
  readonly name: string;
  readonly unit: string;
  readonly recognisedBy: string;
}

/** Every column of a table: what it was taken for, in which unit, how surely and why, and what it could be instead. */
export function columnTable(
  columns: readonly ColumnUnderstanding[],
  channels: readonly Taken[],
  io: Io,
): string[] {
  const width = pageWidth(io);
  if (columns.length === 0) {
    const rows = [["taken as", "column", "unit", "how it was recognised"].map((h) => paint(io, "dim", h))];
    for (const c of channels)
      rows.push([c.role, visible(c.name, 40), visible(unitText(c.unit), 20), c.recognisedBy]);
    return [table(rows, width)];
  }
  const rows = [["column", "taken as", "unit", "sure", "why"].map((h) => paint(io, "dim", h))];
  const shown = columns.slice(0, mostShown);
  for (const c of shown) {
    const name = c.column.trim() === "" ? `#${c.index + 1}` : visible(c.column, 28);
    rows.push([
      name,
      c.role === undefined ? paint(io, "dim", "-") : c.role,
      c.role === undefined ? "" : unitOf(c),
      percent(c.probability),
      whyOf(c),
    ]);
  }
  const out = [table(rows, width)];
  if (columns.length > shown.length)
    out.push(`  and ${columns.length - shown.length} more columns (see --json)`);
  return out;
}

/** Wider tables are cut on the screen. */
const mostShown = 60;

/** The unit as people write it, with its chance where it is not plain. */
function unitOf({ unit, unitProbability }: ColumnUnderstanding): string {
  if (unit === undefined || unit === "1") return "";
  const words = unitText(unit);
  return unitProbability !== undefined && unitProbability < 0.95
    ? `${words} ${percent(unitProbability)}`
    : words;
}

function percent(value: number): string {
  return `${Math.round(100 * Math.min(1, value))} %`;
}

function whyOf(c: ColumnUnderstanding): string {
  const parts = [c.why.map((w) => visible(w.text, 100)).join("; ")];
  if (c.motor !== undefined) parts.push(`motor ${visible(c.motor, 20)}`);
  if (c.unused !== undefined && c.role !== undefined) parts.push(`not used: ${visible(c.unused, 80)}`);
  if (c.runnerUp !== undefined && c.runnerUp.probability >= 0.02)
    parts.push(`else ${c.runnerUp.role ?? "no channel"} ${percent(c.runnerUp.probability)}`);
  if (c.otherUnit !== undefined && c.otherUnit.probability >= 0.05 && (c.unitProbability ?? 1) < 0.95)
    parts.push(
      `or in ${unitText(c.otherUnit.unit) || "parts of full scale"} ${percent(c.otherUnit.probability)}`,
    );
  return parts.join("; ");
}
