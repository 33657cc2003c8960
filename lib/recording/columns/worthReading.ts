import type { DescribedField } from "../descriptor.js";
import type { SourceColumn, SourceTable } from "../formats/sourceTable.js";
import { type Glance, glanceAtTable } from "./glance.js";
import { nameEvidence } from "./nameEvidence.js";
import type { ReadOptions } from "./readOptions.js";
import { type StatedColumn, statedColumns } from "./statedColumns.js";
import { dimension } from "./unitDimension.js";
import { spelledUnit, unitOfText } from "./unitText.js";

/** Columns that surely hold something else by their headings are not read. */
const surelyOther = 0.97;
/** So many columns of a table are read whose headings may be of channels, and so many in all where the others say
 * nothing. */
const mostRead = { named: 240, all: 96 } as const;

/**
 * The columns of a table that are read, in their order: those that may be of use by what is stated, by heading, unit
 * and kind; of a wide table those whose headings are likeliest of a channel.
 *
 * @param late empty columns whose values may come further down than was looked
 */
export function worthReading(
  table: SourceTable,
  byName: readonly Glance[],
  stated: ReadonlyMap<number, StatedColumn>,
  late: readonly number[] = [],
): number[] {
  const chance = ({ index, role, probability }: Glance): number =>
    stated.get(index)?.role !== undefined ? 2 : role === "other" ? 1 - probability : probability;
  return byName
    .filter((glance) => mayBeOfUse(table, glance, stated.get(glance.index), late))
    .sort((a, b) => chance(b) - chance(a))
    .filter((c, k) => k < (chance(c) > 0.5 ? mostRead.named : mostRead.all))
    .map((c) => c.index)
    .sort((a, b) => a - b);
}

function mayBeOfUse(
  table: SourceTable,
  { index, role, probability }: Glance,
  said: StatedColumn | undefined,
  late: readonly number[],
): boolean {
  const column = table.columns[index];
  if (said?.role !== undefined) return true;
  if (said?.ignored) return false;
  if (column.kind === "empty") return late.includes(index);
  if (column.kind === "text")
    return role === "run" || role === "motor" || role === "ordering" || mayLabel(column);
  const unit = spelledUnit(column);
  const channels = unit !== undefined && dimension(unitOfText(unit)?.code ?? "") !== undefined;
  return table.nameless || channels || role !== "other" || probability < surelyOther;
}

/** Words that hardly ever change may be labels of trials. */
function mayLabel({ name, samples }: SourceColumn): boolean {
  const repeated = samples.length > 2 && new Set(samples).size <= samples.length / 3;
  return repeated && samples[0].trim() !== "" && !nameEvidence(name).namesOther;
}

/** The column that holds time or counts samples, by headings and kinds alone. */
export function clockColumn(
  table: SourceTable,
  fields: readonly DescribedField[],
  options: ReadOptions,
): number | undefined {
  const columns = glanceAtTable(table, statedColumns(table, fields, options).stated);
  const best = (role: string): number | undefined =>
    columns.filter((c) => c.role === role).sort((a, b) => b.probability - a.probability)[0]?.index;
  return best("time") ?? best("sample");
}
