import { ordersIn } from "../factsFromNames.js";
import { cellKind } from "./cells.js";
import { type Pair, pairsOf, signedPairs, withSigns } from "./labelledLines.js";
import { type PrefixedLine, prefixOf } from "./linePrefix.js";
import { linesAtBreaks } from "./textBreaks.js";
import { findDialect } from "./textDialect.js";

/** What became of a text whose lines have a prefix: the text without it, or rows of its kinds of messages. */
export type WithoutPrefixes =
  | { readonly text: string; readonly labelled: boolean }
  | {
      readonly rows: readonly (readonly string[])[];
      readonly numbers: readonly number[];
      readonly left?: readonly number[];
    };

/** Lines with something in them that are looked at. */
const looked = 400;
const longest = 4000;
/** Part of the lines that must have a prefix. */
const most = 0.6;
/** Fewer lines of a kind are remarks. */
const fewestOfKind = 5;
const mostKinds = 64;
const timeName =
  /^(t|time|zeit|ts|ms|us|millis|micros|secs?|seconds|timestamp|time_?stamp|time[ _]?\w{0,3})\b/i;

interface Read extends PrefixedLine {
  /** Line in the text, from 1. */
  readonly line: number;
  readonly cells?: readonly string[];
  readonly pairs?: readonly Pair[];
}

/**
 * Takes the prefixes of a logger (moment, level, program, tag, prompt) off the lines of a text: what stood there as a
 * moment becomes the first value of the line. Lines of several kinds become one table: with a column of their tags
 * where every kind has the same values (several devices), else with columns of its own for each kind. Undefined for a
 * text without such prefixes.
 */
export function withoutPrefixes(text: string): WithoutPrefixes | undefined {
  const head = linesAtBreaks(text.slice(0, 128 * 1024));
  const sample = head.filter((l) => l.trim() !== "" && l.length < longest).slice(0, looked);
  if (sample.length < fewestOfKind) return undefined;
  const peeled = sample.map((l) => prefixOf(l));
  if (peeled.filter((p) => p.dressed && p.rest !== "").length < most * sample.length) return undefined;
  const dressed = peeled.filter((p) => p.dressed && p.rest !== "");
  // An order of the leads before the values of a line is one of them.
  if (dressed.every((p) => ordersIn(p.kind).length > 0)) return undefined;
  if (dressed.some((p) => p.bare) && sample.some((l) => headsTags(l, dressed))) return undefined;
  const rests = `${dressed.map((p) => p.rest).join("\n")}\n`;
  const signed = dressed.filter((p) => pairsOf(p.rest).pairs.length > 0).length;
  const inTurns = signed < 0.5 * dressed.length && signedPairs(rests) !== undefined;
  const labelled = inTurns ? dressed.length : signed;
  const dialect = findDialect(rests, true);
  const rows = dialect === undefined ? 0 : dialect.share * dressed.length;
  const byLabels = labelled > 0.5 * dressed.length && labelled >= 0.8 * rows;
  if (!byLabels && (dialect === undefined || rows < 0.4 * dressed.length)) return undefined;
  // Bars part the cells of a table.
  if (!byLabels && dressed.filter((p) => p.barred).length > 0.5 * dressed.length) return undefined;
  const delimiter = byLabels ? undefined : dialect?.delimiter;
  const all = readLines(text, delimiter, inTurns);
  const kinds = kindsOf(all);
  if (kinds.length > 1) return kindRows(all, kinds);
  return { text: composed(all, text, delimiter), labelled: byLabels };
}

/** A line of words that names the tags too, as the heading of a table whose first column they are. */
function headsTags(line: string, dressed: readonly PrefixedLine[]): boolean {
  const words = line.trim().split(/[\s,;]+/);
  if (words.length < 3 || !words.every((w) => cellKind(w) === "word")) return false;
  return dressed.some((p) => p.bare && p.rest.split(/[\s,;]+/).length === words.length - 1);
}

/** `inTurns`: the values are words and numbers in turns, without a sign between them. */
function readLines(text: string, delimiter: string | undefined, inTurns: boolean): Read[] {
  const out: Read[] = [];
  for (const [i, line] of text.split(/\r\n|\n|\r/).entries()) {
    if (line.trim() === "") continue;
    if (line.length > longest) {
      out.push({ stamp: "", kind: "", rest: "", dressed: false, bare: false, barred: false, line: i + 1 });
      continue;
    }
    const own = prefixOf(line);
    const found = inTurns ? { ...own, rest: withSigns(own.rest) } : own;
    if (delimiter === undefined) out.push({ ...found, line: i + 1, pairs: pairsOf(found.rest).pairs });
    else {
      const cells = found.rest.split(delimiter === " " ? /\s+/ : delimiter).map((c) => c.trim());
      out.push({ ...found, line: i + 1, cells });
    }
  }
  return out;
}

function hasValues(read: Read): boolean {
  if (!read.dressed) return false;
  if (read.pairs !== undefined) return read.pairs.length > 0;
  const cells = read.cells ?? [];
  const numbers = cells.filter((c) => cellKind(c) === "number").length;
  return numbers > 0 && numbers >= 0.5 * cells.length;
}

/** Kinds of message with values, the most frequent first; remarks left out. */
function kindsOf(all: readonly Read[]): string[] {
  const counts = new Map<string, number>();
  for (const read of all)
    if (hasValues(read) && (counts.has(read.kind) || counts.size < mostKinds))
      counts.set(read.kind, (counts.get(read.kind) ?? 0) + 1);
  const total = [...counts.values()].reduce((a, b) => a + b, 0);
  return [...counts]
    .filter(([, n]) => n >= fewestOfKind && n > 0.005 * total)
    .sort((a, b) => b[1] - a[1])
    .map(([kind]) => kind);
}

/** The lines without their prefixes, a moment before the values as one more value. */
function composed(all: readonly Read[], text: string, delimiter: string | undefined): string {
  const lines = text.split(/\r\n|\n|\r/);
  const valued = all.filter(hasValues);
  const own = delimiter === undefined ? labelsOwnTime(valued) : hasOwnTime(all, valued);
  const stamped = valued.filter((r) => r.stamp !== "").length > 0.5 * valued.length && !own;
  const name = nameOfStamps(valued);
  const width = valued[0]?.cells?.length;
  for (const read of all) {
    if (stamped && headsValues(read, width)) {
      lines[read.line - 1] = `${name || "tick"}${delimiter}${lines[read.line - 1]}`;
      continue;
    }
    if (!read.dressed) continue;
    const stamp = stamped ? written(read.stamp) : "";
    if (delimiter === undefined) {
      const before = stamp === "" ? "" : name === "time" ? `time=${stamp} ` : `${stamp} `;
      lines[read.line - 1] = before + read.rest;
    } else if (!stamped) lines[read.line - 1] = read.rest;
    else {
      const named = !hasValues(read) && (read.cells ?? []).every((c) => c === "" || cellKind(c) === "word");
      lines[read.line - 1] = `${named ? name || "tick" : stamp}${delimiter}${read.rest}`;
    }
  }
  return lines.join("\n");
}

/** A line of words without a prefix, as many as the values behind the prefixes: their heading. */
function headsValues({ dressed, cells }: Read, width: number | undefined): boolean {
  if (dressed || cells === undefined || width === undefined || width < 2) return false;
  return cells.length === width && cells.every((c) => cellKind(c) === "word");
}

/** A moment as one cell, whatever parts the cells. */
function written(stamp: string): string {
  return stamp.replace(/[ _](?=\d\d?:)/, "T").replace(/(:\d\d),(?=\d+$)/, "$1.");
}

/** Name of the column of moments: numbers with a fraction are seconds of some clock, whole ones any counter. */
function nameOfStamps(valued: readonly Read[]): string {
  if (valued.some((r) => r.stamp.includes(":"))) return "time stamp";
  return valued.some((r) => r.stamp.includes(".")) && neverFalls(valued.map((r) => Number(r.stamp)))
    ? "time"
    : "";
}

function neverFalls(values: readonly number[]): boolean {
  let down = 0;
  for (let i = 1; i < values.length; i += 1) if (values[i] < values[i - 1]) down += 1;
  return values.length > 2 && down < 0.02 * values.length;
}

/** A labelled time rises where the moments stand still. */
function labelsOwnTime(valued: readonly Read[]): boolean {
  const first = valued.slice(0, looked);
  const own = first.map((r) => Number((r.pairs ?? []).find((p) => timeName.test(p.key))?.value));
  let rises = 0;
  let still = 0;
  for (let i = 1; i < first.length; i += 1) {
    if (own[i] > own[i - 1]) rises += 1;
    if (first[i].stamp === first[i - 1].stamp) still += 1;
  }
  return rises > 0.95 * (first.length - 1) && still > 0.3 * first.length;
}

/** The values begin with a time of their own, by its name or because the moments stand still while it rises. */
function hasOwnTime(all: readonly Read[], valued: readonly Read[]): boolean {
  const width = valued[0]?.cells?.length;
  const head = all.find(
    (r) => headsValues(r, width) || (r.dressed && (r.cells ?? []).every((c) => cellKind(c) === "word")),
  );
  if (head?.cells?.some((c) => timeName.test(c)) === true) return true;
  const first = valued.slice(0, looked);
  const own = first.map((r) => Number(r.cells?.[0]));
  let rises = 0;
  let still = 0;
  for (let i = 1; i < first.length; i += 1) {
    if (own[i] > own[i - 1]) rises += 1;
    if (first[i].stamp === first[i - 1].stamp) still += 1;
  }
  return rises > 0.95 * (first.length - 1) && still > 0.3 * first.length;
}

/** Tags of devices differ by a number, a letter or a side alone: `M1` and `M2`, `left` and `right`. */
function alikeTags(kinds: readonly string[]): boolean {
  const bare = kinds.map((k) =>
    k.toLowerCase().replace(/\d+|\b(left|right|front|rear|[a-z])\b|_[a-z]$/g, "*"),
  );
  return bare.every((k) => k === bare[0]);
}

/** One table of the lines of several kinds. */
function kindRows(all: readonly Read[], kinds: readonly string[]): WithoutPrefixes {
  const known = new Set(kinds);
  const valued = all.filter((r) => known.has(r.kind) && hasValues(r));
  const heads = new Map<string, readonly string[]>();
  for (const r of all)
    if (r.dressed && !heads.has(r.kind) && (r.cells ?? []).every((c) => c !== "" && cellKind(c) === "word"))
      heads.set(r.kind, r.cells ?? []);
  const name = nameOfStamps(valued);
  const stamped = valued.filter((r) => r.stamp !== "").length > 0.5 * valued.length;
  const keysOf = keyMaker(valued, kinds, heads, stamped);
  const columns = new Map<string, number>();
  const put = (key: string): number => {
    const at = columns.get(key);
    if (at !== undefined) return at;
    columns.set(key, columns.size);
    return columns.size - 1;
  };
  const first = [...(stamped ? ["\u0000stamp"] : []), ...(keysOf.devices ? ["\u0000device"] : [])];
  for (const key of first) put(key);
  const cells = valued.map((r) => {
    const row: string[] = [];
    if (stamped) row[0] = written(r.stamp);
    if (keysOf.devices) row[first.length - 1] = r.kind;
    for (const { key, value } of keysOf.values(r)) row[put(key)] = value;
    return row;
  });
  const head = [...columns.keys()].map((key) =>
    key === "\u0000stamp" ? name : key === "\u0000device" ? "device" : key.replace(/\u0000\d+$/, ""),
  );
  const rows = cells.map((row) => head.map((_, k) => row[k] ?? ""));
  const taken = new Set(valued);
  const heading = new Set(heads.values());
  const left = all.filter((r) => !taken.has(r) && !heading.has(r.cells ?? [])).map((r) => r.line);
  return { left, rows: [head, ...rows], numbers: [1, ...valued.map((r) => r.line)] };
}

interface KeyMaker {
  /** The kinds are devices with the same values. */
  readonly devices: boolean;
  values(read: Read): readonly { readonly key: string; readonly value: string }[];
}

function keyMaker(
  valued: readonly Read[],
  kinds: readonly string[],
  heads: ReadonlyMap<string, readonly string[]>,
  stamped: boolean,
): KeyMaker {
  const of = kinds.map((kind) => valued.filter((r) => r.kind === kind));
  if (valued[0].pairs !== undefined) {
    const keys = of.map((own) => new Set(own.slice(0, 50).flatMap((r) => (r.pairs ?? []).map((p) => p.key))));
    const shared = [...keys[0]].filter((k) => keys.every((own) => own.has(k)));
    const devices = shared.length >= 0.6 * Math.max(...keys.map((k) => k.size));
    const key = (r: Read, p: Pair): string =>
      devices || shared.includes(p.key) ? p.key : `${r.kind} ${p.key}`;
    return {
      devices,
      values: (r) =>
        (r.pairs ?? []).map((p) => ({ key: key(r, p) + (p.unit ? ` [${p.unit}]` : ""), value: p.value })),
    };
  }
  const widths = of.map((own) => own[0]?.cells?.length ?? 0);
  const devices = widths.every((w) => w === widths[0]) && alikeTags(kinds);
  // A clock that all kinds begin with.
  const clock = !stamped && neverFalls(valued.map((r) => Number(r.cells?.[0])));
  return {
    devices,
    values: (r) => {
      const names = heads.get(devices ? (kinds.find((k) => heads.has(k)) ?? "") : r.kind);
      return (r.cells ?? []).map((value, k) => {
        if (k === 0 && clock) return { key: "time", value };
        const kind = devices ? "" : r.kind;
        return { key: names?.[k] ?? `${kind}\u0000${k}`, value };
      });
    },
  };
}
