import type { ColumnTable } from "arquero";
import type { ReadOptions } from "./columns/readOptions.js";
import type { StatedFacts } from "./descriptor.js";
import type { SourceTable } from "./formats/sourceTable.js";
import { interpret } from "./interpret/interpret.js";
import { type ChannelRole, type Recording, siUnits } from "./types.js";

/**
 * A recording as an arquero table: `time` and one column per channel, named for its role, in SI. The arrays are shared
 * with the recording, not copied.
 *
 * @example
 * const table = await toTable(recording);
 * table.columnNames(); // => ["time", "currentCommand", ...]
 */
export async function toTable(recording: Recording): Promise<ColumnTable> {
  const { table } = await import("arquero");
  return table(columnsOf(recording));
}

/** Time and channels as plain named columns, SI. */
export function columnsOf(recording: Recording): Record<string, Float64Array> {
  const columns: Record<string, Float64Array> = { time: recording.time };
  for (const channel of Object.values(recording.channels)) columns[channel.role] = channel.data;
  return columns;
}

/**
 * A recording from an arquero table (or anything with `columnNames()` and `array(name)`). Columns named for roles are
 * SI unless `options.unit` says otherwise; other names are recognised as in a file.
 *
 * @throws CannotRead when there is no time column or nothing else.
 * @example
 * const table = await toTable(recording);
 * const again = await fromTable(table, { encoder: { lines: 1024 } });
 */
export function fromTable(
  table: { columnNames(): string[]; array(name: string): ArrayLike<unknown> },
  options: ReadOptions & { readonly path?: string } = {},
): Promise<Recording> {
  const columns: Record<string, ArrayLike<unknown>> = {};
  for (const name of table.columnNames()) columns[name] = table.array(name);
  return fromColumns(columns, options);
}

/**
 * A recording from named columns of numbers, as `fromTable` from a table.
 *
 * @throws CannotRead when there is no time column or nothing else.
 * @example
 * const made = await fromColumns({ time: [0, 0.001, 0.002], speed: [0, 30, 60] }, { unit: { speed: "{rev}/min" } });
 * made.channels.speed?.data; // => [0, 3.14, 6.28] (rad/s)
 */
export async function fromColumns(
  columns: Readonly<Record<string, ArrayLike<unknown>>>,
  options: ReadOptions & { readonly path?: string } = {},
): Promise<Recording> {
  const names = Object.keys(columns);
  const path = options.path ?? "table";
  const source: SourceTable = {
    path,
    format: "table in memory",
    columns: names.map((name) => ({ name, kind: "number", samples: [] })),
    findings: [],
    read: async (indices) => ({
      columns: indices.map((k) => asDoubles(columns[names[k]])),
      words: new Map(),
      origins: new Map(),
      findings: [],
    }),
  };
  const fields = names
    .filter((name) => name === "time" || Object.hasOwn(siUnits, name))
    .map((name) => ({ name, role: name, unit: name === "time" ? "s" : siUnits[name as ChannelRole] }));
  const facts: StatedFacts = { machine: {}, drive: {}, encoder: {} };
  const [recording] = await interpret([source], fields, facts, options);
  return recording;
}

function asDoubles(values: ArrayLike<unknown>): Float64Array {
  if (values instanceof Float64Array) return values;
  return Float64Array.from(values as ArrayLike<unknown>, (v) =>
    v === null || v === undefined ? Number.NaN : Number(v),
  );
}
