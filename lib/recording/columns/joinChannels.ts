import { basename } from "node:path";
import { visible } from "../../units/text.js";
import type { SourceColumn, SourceData, SourceTable } from "../formats/sourceTable.js";
import { usualStep } from "./clockWraps.js";
import { mayBeTime, onOneTime } from "./timeBases.js";

/** More files than this are no channels of one capture. */
const mostChannels = 32;
const channelFile = /(^|[^a-z])(ch|chan|channel|kanal|voie|canal|c|trace|tr)[ _-]?\d+$/i;

interface Channel {
  readonly table: SourceTable;
  readonly time: number;
  readonly values: readonly number[];
  readonly stem: string;
}

/** The one time and the few values of a table that may be a channel of a capture. */
function channelOf(table: SourceTable): Channel | undefined {
  const used = table.columns
    .map((c, k) => ({ c, k }))
    .filter(({ c }) => c.kind === "number" || c.kind === "stamp");
  if (used.length < 2 || used.length > 3) return undefined;
  const named = used.filter(({ c }) => mayBeTime(c));
  // Without names and units the first column is the time; whether it rises is looked at below.
  const time = named[0]?.k ?? (table.nameless ? used[0].k : undefined);
  if (time === undefined || named.length > 1) return undefined;
  const values = used.map(({ k }) => k).filter((k) => k !== time);
  return { table, time, values, stem: basename(table.path).replace(/\.[^.]*$/, "") };
}

/**
 * Joins files that each hold one channel of the same capture (as oscilloscopes and some loggers write them) into one
 * table. Undefined when they are anything else: runs of the same signal, tables of several signals, captures of
 * different times.
 */
export async function joinChannels(tables: readonly SourceTable[]): Promise<SourceTable | undefined> {
  if (tables.length < 2 || tables.length > mostChannels) return undefined;
  const channels = tables.map(channelOf);
  if (channels.some((c) => c === undefined)) return undefined;
  const own = channels as readonly Channel[];
  const names = own.map((c) => c.values.map((k) => nameOf(c, k)).join("\u0000"));
  const apart = new Set(names).size === names.length;
  const numbered = own.every((c) => channelFile.test(c.stem));
  if (!apart && !numbered) return undefined;
  const clocks = await Promise.all(own.map(async (c) => (await c.table.read([c.time])).columns[0]));
  if (!sameCapture(clocks, numbered)) return undefined;
  return onOneTime(sideBySide(own, numbered || own.some((c) => c.table.nameless === true)));
}

function nameOf(channel: Channel, k: number): string {
  const column = channel.table.columns[k];
  return column.label ?? (channel.table.nameless === true ? channel.stem : column.name);
}

/** True when all clocks rise and span the same time. */
function sameCapture(clocks: readonly Float64Array[], strictly: boolean): boolean {
  const ends = clocks.map((clock) => {
    const kept = clock.filter((v) => !Number.isNaN(v));
    let falls = 0;
    for (let i = 1; i < kept.length; i += 1) if (kept[i] < kept[i - 1]) falls += 1;
    return { first: kept[0], last: kept[kept.length - 1], step: usualStep(kept), falls, rows: kept.length };
  });
  if (ends.some((e) => e.rows < 3 || e.falls > 0 || !(e.step > 0))) return false;
  const step = Math.max(...ends.map((e) => e.step));
  const first = ends.map((e) => e.first);
  const last = ends.map((e) => e.last);
  const span = Math.max(...last) - Math.min(...first);
  const apart = Math.max(...first) - Math.min(...first) + Math.max(...last) - Math.min(...last);
  return strictly ? apart <= 4 * step : apart <= Math.max(4 * step, 0.05 * span);
}

/** The columns of all channels in one table, the shorter ones filled up. */
function sideBySide(channels: readonly Channel[], renamed: boolean): SourceTable {
  const [{ table: first }] = channels;
  const places = channels.flatMap((c) => [c.time, ...c.values].map((k) => ({ channel: c, k })));
  const columns = places.map(({ channel, k }): SourceColumn => {
    const column = channel.table.columns[k];
    const name =
      k === channel.time
        ? channel.table.nameless
          ? "time"
          : column.name
        : renamed
          ? nameOf(channel, k)
          : column.name;
    return { ...column, name };
  });
  const read = async (indices: readonly number[]): Promise<SourceData> => {
    const out: Float64Array[] = [];
    const words = new Map<number, readonly string[]>();
    const origins = new Map<number, string>();
    const findings: SourceData["findings"][number][] = [];
    for (const index of indices) {
      const { channel, k } = places[index];
      const data = await channel.table.read([k]);
      const origin = data.origins.get(k);
      if (origin !== undefined) origins.set(index, origin);
      findings.push(...data.findings);
      out.push(data.columns[0]);
    }
    const rows = out.reduce((most, c) => Math.max(most, c.length), 0);
    const filled = out.map((c) => {
      if (c.length === rows) return c;
      const longer = new Float64Array(rows).fill(Number.NaN);
      longer.set(c);
      return longer;
    });
    return { columns: filled, words, origins, findings };
  };
  return {
    path: first.path,
    format: first.format,
    dialect: first.dialect,
    facts: first.facts,
    files: channels.flatMap((c) => c.table.files ?? [c.table.path]),
    columns,
    findings: [
      ...channels.flatMap((c) => c.table.findings),
      {
        severity: "note",
        code: "channels-joined",
        message: `${channels.length} files hold one channel each of the same capture and were joined by time: ${channels.map((c) => visible(basename(c.table.path), 40)).join(", ")}`,
        file: first.path,
      },
    ],
    read,
  };
}
