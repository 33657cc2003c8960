import { extremes } from "../../numeric/series/extremes.js";
import { visible } from "../../units/text.js";
import type { StatedColumn } from "../columns/statedColumns.js";
import type { SourceData, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import {
  type CountedTracks,
  decodeTracks,
  levelled,
  type SlowTracks,
  type TrackColumn,
  tooSlow,
} from "./decodeTracks.js";

/** Columns of a table as they were read, by place. */
export interface ReadColumns {
  readonly table: SourceTable;
  readonly data: SourceData;
  readonly indices: readonly number[];
  readonly stated: ReadonlyMap<number, StatedColumn>;
  /** Place of the likely time column, and of a column that is a position by its heading. */
  readonly clock?: number;
  readonly position?: number;
  /** Places of columns that surely hold something by their headings. */
  readonly plain?: ReadonlySet<number>;
}

/** The same with the position that the tracks of an encoder count. */
export interface WithTracks extends ReadColumns {
  readonly findings: readonly Finding[];
  /** Counts of one turn over four, where an index track tells them. */
  readonly lines?: number;
  /** Tracks were found and counted. */
  readonly counted: boolean;
  /** Every row is a change of a track: a capture of events, whose gaps are no gaps. */
  readonly events: boolean;
}

const by = "counted from tracks";

/**
 * Counts the tracks A and B of an encoder, or three Hall signals, that were logged as levels (a logic analyser, an
 * oscilloscope): the position in counts becomes a column of its own after the others, the tracks none. Up is where the
 * first track leads (common practice, no source). Nothing is counted from columns about which something is stated, nor
 * where rows were left out.
 */
export function withTracks(read: ReadColumns): WithTracks {
  const { table, data, indices, stated } = read;
  const plain: WithTracks = { ...read, findings: [], counted: false, events: false };
  if ((data.kept ?? 1) > 1) return plain;
  const columns = indices.flatMap((index, k): TrackColumn[] => {
    const free =
      table.columns[index].kind === "number" &&
      !stated.has(index) &&
      index !== read.clock &&
      !read.plain?.has(index);
    return free ? [{ index, name: nameOf(table, index), values: data.columns[k] }] : [];
  });
  if (columns.length < 2) return plain;
  const clock = clockOf(read);
  const levels = levelled(columns);
  const plainly = read.position !== undefined && read.plain?.has(read.position) === true;
  const found = decodeTracks(levels, clock, plainly);
  const slow = tooSlow(levels, found);
  if (slow !== undefined) return { ...plain, findings: [slowFinding(slow, table.path)] };
  if (found.length === 0) return plain;
  const isTrack = found.some(({ tracks }) => tracks.some((t) => t.index === read.position));
  const position =
    read.position === undefined || isTrack ? undefined : data.columns[indices.indexOf(read.position)];
  const encoders = found.filter(({ kind }) => kind === "encoder");
  const counts = position === undefined && encoders.length === 0 ? found.slice(0, 1) : encoders;
  const findings = found.map((counted) =>
    counted.kind === "encoder" || position === undefined
      ? toldOf(counted, table.path)
      : hallsBeside(counted, position, table.path),
  );
  const [only] = counts.length === 1 ? counts : [];
  const lines = only?.index?.counts === undefined ? undefined : only.index.counts / 4;
  if (lines !== undefined && only?.index !== undefined)
    findings.push({
      severity: "note",
      code: "lines-inferred",
      message: `"${visible(only.index.track.name, 40)}" comes once in ${4 * lines} counts: an encoder of ${Number(lines.toPrecision(6))} lines, if that is once a turn`,
      value: lines,
      unit: "1",
      meaning: "state them with --lines when they are known",
      file: table.path,
    });
  return {
    ...read,
    ...added(read, found, counts),
    findings,
    ...(lines === undefined ? {} : { lines }),
    counted: true,
    events: eventsOnly(found, columns, data.columns[0].length),
  };
}

function nameOf(table: SourceTable, index: number): string {
  const { name } = table.columns[index];
  return table.nameless || name.trim() === "" ? `#${index + 1}` : name;
}

function clockOf({ table, data, indices, clock }: ReadColumns): Float64Array | undefined {
  const k = clock === undefined ? -1 : indices.indexOf(clock);
  return k >= 0 && table.columns[indices[k]].kind === "number" ? data.columns[k] : undefined;
}

const listed = (counted: CountedTracks): string => {
  const names = counted.tracks.map(({ name }) => `"${visible(name, 30)}"`);
  return `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
};

/** The table with a column for each count, and the tracks left out. */
function added(
  { table, data, indices, stated }: ReadColumns,
  found: readonly CountedTracks[],
  counts: readonly CountedTracks[],
): Pick<WithTracks, "table" | "data" | "indices" | "stated"> {
  const first = table.columns.length;
  const told = new Map(stated);
  const values = new Map(indices.map((index, k) => [index, data.columns[k]] as const));
  for (const { tracks, index } of found) {
    for (const track of tracks) told.set(track.index, { ignored: true, by: "a track, counted" });
    if (index === undefined) continue;
    told.set(index.track.index, { role: "index", by });
    const half = middle(index.track.values);
    values.set(
      index.track.index,
      index.track.values.map((v) => (v > half ? 1 : 0)),
    );
  }
  const columns = counts.map((counted, k) => {
    told.set(first + k, { role: "position", unit: "counts", by, unitBy: by });
    values.set(first + k, counted.gray.count);
    const { count } = counted.gray;
    const name = counted.tracks.map((t) => t.name).join(" and ");
    const samples = [...count.subarray(0, 8)].map(String);
    return { name, unit: "counts", kind: "number" as const, samples, hall: counted.kind === "hall" };
  });
  const all = [...indices, ...columns.map((_, k) => first + k)];
  return {
    table: { ...table, columns: [...table.columns, ...columns] },
    data: { ...data, columns: all.map((index) => values.get(index) as Float64Array) },
    indices: all,
    stated: told,
  };
}

function middle(values: Float64Array): number {
  const [low, high] = extremes(values);
  return (low + high) / 2;
}

/** What the count rests on, and how even the tracks are. */
function toldOf(counted: CountedTracks, file: string): Finding {
  const { up, down, missed, shares } = counted.gray;
  const hall = counted.kind === "hall";
  const ways = down === 0 ? "all up" : up === 0 ? "all down" : `${up} up, ${down} down`;
  const odd = shares !== undefined && Math.min(...shares) < 0.4 / shares.length;
  const what = hall ? "of one electrical turn" : "of one line";
  const even =
    shares === undefined
      ? ""
      : `; the ${shares.length} states ${what} take ${shares.map((s) => Math.round(100 * s)).join(", ")} % of its time`;
  const lost =
    missed === 0 ? "" : `; at ${missed} ${missed === 1 ? "row" : "rows"} two tracks changed at once`;
  return {
    severity: missed > 0 || odd ? "warning" : "note",
    code: "tracks-counted",
    message: `the position is counted from ${listed(counted)}: ${up + down} steps (${ways})${lost}${even}`,
    value: up + down,
    unit: "{count}",
    meaning: meaningOf(
      missed,
      odd,
      counted.tracks.map(({ name }) => `"${visible(name, 30)}"`),
    ),
    file,
  };
}

function meaningOf(missed: number, odd: boolean, [first, second]: readonly string[]): string {
  const parts = [
    `up is where ${first} leads ${second}: where the drive counts the other way, its sign is the other one`,
  ];
  if (missed > 0)
    parts.push("counts may be lost where two tracks change between two rows: sample faster, or turn slower");
  if (odd)
    parts.push(
      "the tracks are uneven: check the sensor's gap, its supply and pull-ups, and the level at which it was sampled",
    );
  return parts.join(". ");
}

function slowFinding({ names, share }: SlowTracks, file: string): Finding {
  return {
    severity: "warning",
    code: "tracks-too-slow",
    message: `"${visible(names[0], 30)}" and "${visible(names[1], 30)}" look like the tracks of an encoder, but at ${Math.round(100 * share)} % of their changes both changed between two rows: they were sampled too slowly to be counted`,
    value: share,
    unit: "1",
    meaning: "sample several times in each quarter of a line, or turn the shaft slower",
    file,
  };
}

/** Hall signals beside a position: counts for one electrical turn, and whether both go the same way. */
function hallsBeside(counted: CountedTracks, position: Float64Array, file: string): Finding {
  const { count } = counted.gray;
  let path = 0;
  let signed = 0;
  let steps = 0;
  let at = 0;
  for (let i = 1; i < count.length; i += 1) {
    const step = count[i] - count[i - 1];
    if (step === 0) continue;
    const moved = position[i] - position[at];
    if (at > 0 && moved - moved === 0) {
      path += Math.abs(moved);
      signed += moved * step;
      steps += 1;
    }
    at = i;
  }
  const each = (6 * path) / Math.max(1, steps);
  const way = signed > 0 ? "the same way" : "the other way";
  return {
    severity: "note",
    code: "hall-steps",
    message: `${listed(counted)} step ${counted.gray.up + counted.gray.down} times as Hall signals do, ${way} as the position; ${Number(each.toPrecision(3))} of its units pass in one electrical turn`,
    value: each,
    meaning: "the units of one full turn divided by that are the pole pairs",
    file,
  };
}

/** Nothing but time and tracks was logged, and nearly every row is a change of one of them. */
function eventsOnly(found: readonly CountedTracks[], columns: readonly TrackColumn[], rows: number): boolean {
  const tracks = new Set(found.flatMap((c) => [...c.tracks, ...(c.index ? [c.index.track] : [])]));
  const others = columns.filter((c) => !tracks.has(c) && c.values.some((v) => v !== c.values[0]));
  if (others.length > 0) return false;
  let changes = 0;
  for (let i = 1; i < rows; i += 1)
    if ([...tracks].some(({ values }) => values[i] !== values[i - 1])) changes += 1;
  return changes > 0.95 * (rows - 1);
}
