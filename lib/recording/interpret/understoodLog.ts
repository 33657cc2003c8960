import { carryOn } from "../columns/clockWraps.js";
import { type Glance, glanceAtTable } from "../columns/glance.js";
import { asRead, lateColumns } from "../columns/lateColumns.js";
import {
  anyInDoubt,
  columnKey,
  type LikeTables,
  saidByLike,
  type TableSays,
} from "../columns/likeColumns.js";
import { readAll } from "../columns/readAll.js";
import type { ReadOptions } from "../columns/readOptions.js";
import { statedColumns } from "../columns/statedColumns.js";
import { seenOf, type TableUnderstanding, understood, whatTableSays } from "../columns/understand.js";
import { worthReading } from "../columns/worthReading.js";
import type { DescribedField } from "../descriptor.js";
import type { SourceTable } from "../formats/sourceTable.js";
import { type ReadColumns, type WithTracks, withTracks } from "../tracks/withTracks.js";
import { remarkMarks } from "./remarkMarks.js";

/** A log that was read and understood: one table, its tracks counted where it holds some. */
export interface UnderstoodLog extends WithTracks {
  readonly understanding: TableUnderstanding;
}

/** Columns that are surely something by their headings are no tracks of an encoder. */
const plainlyNamed = 0.9;

/**
 * Reads the columns of a log that are worth it, and understands them.
 *
 * @param tables the parts of the log, in order; they have the same columns
 * @param like what tables of the same hand say, asked only where a column is open
 */
export async function understoodLog(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  options: ReadOptions,
  like?: LikeTables,
): Promise<UnderstoodLog> {
  const table = tables[0];
  const plain = statedColumns(table, fields, options);
  const byName = glanceAtTable(table, plain.stated);
  const { stated, findings } = statedColumns(
    table,
    fields,
    options,
    (role) => byName.find((c) => c.role === role)?.index,
  );
  const indices = worthReading(table, byName, stated, lateColumns(table, stated));
  const read = await readAll(tables, indices);
  const whole = { ...read, marks: [...(read.marks ?? []), ...(await remarkMarks(tables, indices))] };
  const place = (role: string): number | undefined =>
    byName.filter((c) => c.role === role && c.probability > 0.5 && indices.includes(c.index))[0]?.index;
  const tracks = withTracks({
    table: asRead(table, indices, whole),
    data: whole,
    indices,
    stated,
    clock: place("time"),
    position: place("position"),
    plain: new Set(
      byName.filter((c) => c.role !== "other" && c.probability > plainlyNamed).map(({ index }) => index),
    ),
  });
  const understanding = await learned(tracks, byName, like);
  return { ...tracks, understanding, findings: [...findings, ...tracks.findings] };
}

/** What a table says of its columns to other tables of the same hand; nothing where a descriptor speaks of them.
 *
 * @throws CannotRead when it cannot be read
 */
export async function whatItSays(table: SourceTable, options: ReadOptions): Promise<TableSays> {
  const { stated } = statedColumns(table, [], options);
  const indices = worthReading(table, glanceAtTable(table, stated), stated).filter((index) =>
    ["number", "stamp"].includes(table.columns[index].kind),
  );
  const data = await table.read(indices);
  return whatTableSays(table, new Map(indices.map((index, k) => [index, data.columns[k]] as const)), stated);
}

/** A trace of more columns tells enough by itself, and weighing it again would take seconds. */
const mostHeldAgainst = 48;

async function learned(
  { table, data, indices, stated }: ReadColumns,
  byName: readonly Glance[],
  like: LikeTables | undefined,
): Promise<TableUnderstanding> {
  // A clock that wraps rises evenly only once it is carried on.
  const clocked = !table.nameless && byName.some((c) => c.role === "time" && c.probability > 0.5);
  const values = new Map(
    indices.map((index, k) => {
      const own = data.columns[k];
      const asClock = clocked || table.columns[index].kind !== "number" ? undefined : carryOn(own, 1);
      return [index, asClock?.time ?? own] as const;
    }),
  );
  const seen = seenOf(table, values, stated);
  const alone = understood(seen);
  if (like === undefined || indices.length > mostHeldAgainst || !anyInDoubt(alone.columns, stated))
    return alone;
  const others = await like(table);
  if (others.length === 0) return alone;
  const said = saidByLike(whatTableSays(table, values, stated, alone), others);
  if (said.size === 0) return alone;
  const byPlace = new Map(
    indices.flatMap((index) => {
      const meanings = said.get(columnKey(table, index));
      return meanings === undefined ? [] : [[index, meanings] as const];
    }),
  );
  return understood(seen, byPlace);
}
