import { visible } from "../../units/text.js";
import type { SourceColumn, SourceData, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { backSteps, usualStep } from "./clockWraps.js";
import { wordsOf } from "./foldedWords.js";
import { known } from "./lexicon.js";
import { spelledUnit, splitHeading, unitOfText } from "./unitText.js";

const timeWord =
  /(^|[^\p{L}])(t|ts|time|times|zeit|temps|tiempo|tempo|tijd|tid|czas|čas|cas|zaman|idő|aika|время|timestamp|stamp|clock|secs?|seconds?|ms|millis|us|micros)([^\p{L}]|$)|时间|時間|시간|Time/iu;
const timeUnits = new Set(["s", "ms", "us", "ns", "min"]);

/** True for a column that by its name, unit or stamps may be a time. */
export function mayBeTime(column: SourceColumn): boolean {
  if (column.kind === "stamp") return true;
  if (column.kind !== "number") return false;
  const spelled = spelledUnit(column);
  const unit = spelled === undefined ? undefined : unitOfText(spelled)?.code;
  if (unit !== undefined) return timeUnits.has(unit);
  return timeWord.test(column.name) || column.label === "time" || namesTime(column.name);
}

/** A word for time in any of the languages that are known, and nothing but a time. */
function namesTime(name: string): boolean {
  if (name.length > longestName) return false;
  return wordsOf(splitHeading(name).words).some((word) => {
    const all = known(word)?.alternatives ?? [];
    return all.length > 0 && all.every(({ quantity }) => quantity === "time");
  });
}

/** A longer text is no name of a pair; trying it takes time with the square of its length. */
const longestName = 200;

/**
 * Columns named for the X of a pair (`Speed X`, `Speed Y`, `Current X`, `Current Y`), with the name that both share:
 * the time of what stands beside them. None where there is one pair alone, which may be places in a plane.
 */
export function xOfPairs(names: readonly string[]): ReadonlyMap<number, string> {
  const found = new Map<number, string>();
  for (let k = 0; k + 1 < names.length; k += 1) {
    if (names[k].length > longestName || names[k + 1].length > longestName) continue;
    const x = /^(.*?)[\s_.([-]*x[)\]]?$/i.exec(withoutUnit(names[k]));
    const y = /^(.*?)[\s_.([-]*y[)\]]?$/i.exec(withoutUnit(names[k + 1]));
    if (x !== null && y !== null && x[1] === y[1] && x[1] !== "") found.set(k, x[1]);
  }
  return found.size >= 2 && 2 * found.size >= names.length - 1 ? found : new Map();
}

/** A name without a unit in brackets behind it: `Speed Y (rpm)`. */
function withoutUnit(name: string): string {
  return name
    .trim()
    .replace(/(?<=\S\s?)[([](?![xyXY][)\]])[^()[\]]*[)\]]$/, "")
    .trim();
}

/** A time column and the columns that are on it. */
interface Base {
  readonly time: number;
  readonly values: readonly number[];
}

/** Time columns that each have values to their right; undefined when there is not more than one, or they are arranged
 * in another way. */
function basesOf(columns: readonly SourceColumn[]): Base[] | undefined {
  const bases: { time: number; values: number[] }[] = [];
  const pairs = xOfPairs(columns.map((c) => c.name));
  for (const [k, column] of columns.entries()) {
    if (column.kind === "empty") continue;
    if (mayBeTime(column) || pairs.has(k)) {
      if (bases.length > 0 && bases[bases.length - 1].values.length === 0) return undefined;
      bases.push({ time: k, values: [] });
    } else if (bases.length > 0) bases[bases.length - 1].values.push(k);
    // A counter may stand before the first time; anything else before it belongs to no time.
    else if (k > 0) return undefined;
  }
  if (bases.length < 2 || bases[bases.length - 1].values.length === 0) return undefined;
  return bases;
}

/**
 * Brings a table in which several signals have a time of their own onto one time: that of the finest sampling. Values
 * between samples are interpolated, those of a signal that stays constant for long are held; before the first and after
 * the last sample there is no value. A table with one time is given back as it is.
 */
export function onOneTime(table: SourceTable): SourceTable {
  const bases = basesOf(table.columns);
  if (bases === undefined) return table;
  return { ...table, read: (indices) => readOnOneTime(table, bases, indices) };
}

async function readOnOneTime(
  table: SourceTable,
  bases: readonly Base[],
  indices: readonly number[],
): Promise<SourceData> {
  const times = bases.map((b) => b.time);
  const all = [...new Set([...times, ...indices])];
  const data = await table.read(all);
  const at = (k: number): Float64Array => data.columns[all.indexOf(k)];
  const first = Date.parse(data.origins.get(times[0]) ?? "");
  const clocks = times.map((k) => {
    const shift = (Date.parse(data.origins.get(k) ?? "") - first) / 1000;
    return Number.isFinite(shift) && shift !== 0 ? at(k).map((v) => v + shift) : at(k);
  });
  const origins = new Map(data.origins);
  const ordered = (columns: (k: number) => Float64Array, findings: readonly Finding[]): SourceData => ({
    ...data,
    columns: indices.map(columns),
    words: new Map([...data.words].filter(([k]) => indices.includes(k))),
    origins,
    findings,
    owned: false,
  });
  // A column that is only named like a time (an idle time, a time constant) does not rise from row to row.
  if (clocks.every((c) => sameTimes(c, clocks[0])) || !clocks.every(rises)) return ordered(at, data.findings);
  const finest = finestOf(clocks);
  const clock = clocks[finest].filter((v) => !Number.isNaN(v));
  for (const k of times) if (origins.has(k)) origins.set(k, data.origins.get(times[0]) ?? "");
  const columns = (k: number): Float64Array => {
    const b = bases.findIndex((base) => base.time === k || base.values.includes(k));
    if (b < 0) return at(k).slice(0, clock.length);
    if (bases[b].time === k) return clock;
    if (b === finest) return at(k).filter((_, i) => !Number.isNaN(clocks[b][i]));
    return resampled(clocks[b], at(k), clock, data.words.has(k));
  };
  return ordered(columns, [...data.findings, told(table, bases, clocks, finest)]);
}

function sameTimes(a: Float64Array, b: Float64Array): boolean {
  return a.every((v, i) => v === b[i] || Number.isNaN(v) || Number.isNaN(b[i]));
}

/** True for a clock: nearly every step is forward, and few stand still. */
function rises(clock: Float64Array): boolean {
  let forward = 0;
  let steps = 0;
  let last = Number.NaN;
  for (const v of clock) {
    if (Number.isNaN(v)) continue;
    if (!Number.isNaN(last)) {
      steps += 1;
      if (v > last) forward += 1;
    }
    last = v;
  }
  return steps > 1 && forward > 0.8 * steps;
}

function finestOf(clocks: readonly Float64Array[]): number {
  let best = 0;
  let step = Number.POSITIVE_INFINITY;
  for (const [k, clock] of clocks.entries()) {
    const own = usualStep(clock);
    if (own > 0 && own < 0.99 * step) [best, step] = [k, own];
  }
  return best;
}

/** Values on another clock: between samples along a straight line, held where the signal stays constant for long, or is
 * text. */
export function resampled(
  from: Float64Array,
  values: Float64Array,
  to: Float64Array,
  words = false,
): Float64Array {
  const [own, target] = [stretchesOf(from), stretchesOf(to)];
  if (own.length === 1 && target.length === 1) return onto(from, values, to, words);
  // Rows of one clock need none, however it runs.
  if (from.length === to.length && from.every((t, i) => Object.is(t, to[i]))) return values.slice();
  if (own.length !== target.length) return onto(from, values, to, words);
  const out = new Float64Array(to.length);
  for (const [k, [a, b]] of own.entries()) {
    const [c, d] = target[k];
    out.set(onto(from.subarray(a, b), values.subarray(a, b), to.subarray(c, d), words), c);
  }
  return out;
}

/** A clock that steps back by more than so many of its steps begins anew; a row that is late steps back by less
 * (judgement). */
const anew = 5;

/** From where to where a clock runs on. */
function stretchesOf(time: Float64Array): [number, number][] {
  const back = backSteps(time);
  if (back.length === 0) return [[0, time.length]];
  const step = usualStep(time);
  const starts = back.filter(([last, next]) => time[last] - time[next] > anew * step).map(([, next]) => next);
  return [0, ...starts].map((start, k) => [start, starts[k] ?? time.length]);
}

/** Values on other times of a clock that runs on. */
function onto(from: Float64Array, values: Float64Array, to: Float64Array, words: boolean): Float64Array {
  const rows: number[] = [];
  for (let i = 0; i < from.length; i += 1)
    if (
      !Number.isNaN(from[i]) &&
      !Number.isNaN(values[i]) &&
      (rows.length === 0 || from[i] >= from[rows[rows.length - 1]])
    )
      rows.push(i);
  let same = 0;
  for (let k = 1; k < rows.length; k += 1) if (values[rows[k]] === values[rows[k - 1]]) same += 1;
  const held = words || same > 0.8 * (rows.length - 1);
  const out = new Float64Array(to.length).fill(Number.NaN);
  let k = 0;
  for (let i = 0; i < to.length; i += 1) {
    const t = to[i];
    while (k + 1 < rows.length && from[rows[k + 1]] <= t) k += 1;
    if (rows.length === 0 || t < from[rows[0]]) continue;
    const a = rows[k];
    if (k + 1 === rows.length) {
      if (t === from[a]) out[i] = values[a];
      continue;
    }
    const b = rows[k + 1];
    const part = from[b] > from[a] ? (t - from[a]) / (from[b] - from[a]) : 0;
    out[i] = held ? values[a] : values[a] + part * (values[b] - values[a]);
  }
  return out;
}

function told(
  table: SourceTable,
  bases: readonly Base[],
  clocks: readonly Float64Array[],
  finest: number,
): Finding {
  const name = (k: number): string => `"${visible(table.columns[k].name, 40)}"`;
  const counts = bases.map(
    (b, k) => `${name(b.values[0])} ${clocks[k].filter((v) => !Number.isNaN(v)).length}`,
  );
  return {
    severity: "note",
    code: "time-bases",
    message: `${bases.length} groups of columns have a time of their own (samples: ${counts.slice(0, 8).join(", ")}); they were brought onto that of ${name(bases[finest].values[0])}`,
    value: bases.length,
    meaning: "between their samples the other signals are interpolated, or held where they stay constant",
    file: table.path,
  };
}
