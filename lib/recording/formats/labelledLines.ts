import { unitCode } from "../../units/unitCode.js";
import { factsFromNames } from "../factsFromNames.js";
import { linesAtBreaks } from "./textBreaks.js";

/** Rows made of lines in which every value stands behind its label, under a heading of the labels. */
export interface LabelledRows {
  readonly rows: readonly (readonly string[])[];
  /** Line in the text of each row. */
  readonly numbers: readonly number[];
  /** Lines that hold text and no labelled value. */
  readonly left: readonly number[];
}

const stamp =
  /^\s*(?:@?(?:ts|time|timestamp|date|datetime)["']?\s*[=:]\s*["']?(?=\d{4}[-/]))?(?:\[\p{L}{1,10}\]|<\d+>|[A-Z]{3,8}:?)?\s*[[(]?((?:(?:\d{4}[-/.]\d\d?[-/.]\d\d?|\d\d?[-/.]\d\d?[-/.]\d{4}|\d\d?[-/]\d\d?|\d\d?\.\d\d?\.)[T _])?\d\d?:\d\d:\d\d(?:[.,:]\d+)?)[\])]?\s*(?:->|[-|,;:>])?\s*/u;
const pair =
  /([\p{L}_][\p{L}\p{N}_ ./*^·°%()[\]-]{0,39}?)\+?\s*(?:[:=]|->)\s*([+-]?(?:\d+(?:,\d+|\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?|nan|inf|n\/a|[-–—]{2,6}(?=[\s,;|&]|$))(?![\d:])[ \t]*([^\s\d,;|:=()[\]{}"'&-][^\s,;|:="'&]{0,11}(?=[\s,;|&]|$))?/giu;

/** Lines looked at to see whether a text is written so. */
const looked = 300;

/**
 * Reads lines such as `target=0.0 angle=-0.1 pwm=12`, `T:10 P:0.5`, `14:02:11.038 -> Setpoint:0.00,Input:0.00` or `pos:
 * 12 deg, vel: 3 rpm` as rows. A unit behind the values goes into the heading. Undefined when most lines are not
 * written so.
 */
export function labelledRows(text: string): LabelledRows | undefined {
  const lines = text.split(/\r\n|\n|\r/);
  const filled = lines
    .slice(0, looked * 2)
    .filter((l) => l.trim() !== "")
    .slice(0, looked);
  const like = filled.filter((l) => l.length < 2000 && pairsOf(l).pairs.length >= 1);
  if (like.length < 2 || like.length < 0.6 * filled.length) return undefined;
  const stacked = stackedRows(lines, like);
  if (stacked !== undefined) return stacked;
  const usual = like.map((l) => pairsOf(l)).filter((p) => p.pairs.length >= 2 || p.lead.length > 0);
  if (usual.length < 0.6 * like.length) return undefined;
  const own = usualKeys(like);
  const keys = new Map<string, { at: number; unit?: string }>();
  const lead = Math.max(...usual.map((p) => p.lead.length));
  const found: { line: number; lead: readonly string[]; pairs: readonly Pair[] }[] = [];
  const left: number[] = [];
  const orders: { readonly line: number; readonly text: string }[] = [];
  for (const [i, line] of lines.entries()) {
    if (line.trim() === "") continue;
    const { lead: bare, pairs: all } = line.length < 4000 ? pairsOf(line) : { lead: [], pairs: [] };
    const pairs = lastWhole(all, own);
    if (pairs !== all) left.push(i + 1);
    // A line of settings above the rows has none of their labels.
    if (pairs.length === 0 || (found.length === 0 && !pairs.some(({ key }) => own.has(key)))) {
      // A line that names an order of the leads stays where it is: it parts runs. What stands above the rows says
      // what their labels are, and of what motor.
      const order = orders.length < mostOrders && factsFromNames([line]).ordering !== undefined;
      const title = found.length === 0 && orders.length < mostTitles && line.length < longestTitle;
      if (order || title) orders.push({ line: i + 1, text: line.trim() });
      else left.push(i + 1);
      continue;
    }
    for (const { key, unit } of pairs) {
      const known = keys.get(key);
      if (known === undefined) keys.set(key, { at: keys.size, unit });
    }
    found.push({ line: i + 1, lead: bare, pairs });
    if (keys.size > 500) return undefined;
  }
  const head = [
    ...Array.from({ length: lead }, (_, k) => (usual.some((p) => p.stamped) && k === 0 ? "time stamp" : "")),
    ...[...keys].map(([key, { unit }]) => (unit === undefined ? key : `${key} [${unit}]`)),
  ];
  const rows = found.map(({ lead: bare, pairs }) => {
    const row = Array<string>(lead + keys.size).fill("");
    for (const [k, value] of bare.entries()) if (k < lead) row[k] = value;
    for (const { key, value } of pairs) row[lead + (keys.get(key)?.at ?? 0)] = value;
    return row;
  });
  const first = found[0]?.line ?? 1;
  const all = [
    ...rows.map((cells, k) => ({ line: found[k].line, cells })),
    ...orders.filter(({ line }) => line > first).map(({ line, text }) => ({ line, cells: [text] })),
  ].sort((a, b) => a.line - b.line);
  const above = orders.filter(({ line }) => line < first);
  return {
    rows: [...above.map(({ text }) => [text]), head, ...all.map(({ cells }) => cells)],
    numbers: [...above.map(({ line }) => line), first, ...all.map(({ line }) => line)],
    left,
  };
}

/** Part of the lines with labels in which one must stand to be a column of the rows. */
const usualLabel = 0.3;

/** Labels that many of the lines have; all of them where none has. */
function usualKeys(lines: readonly string[]): ReadonlySet<string> {
  const counts = new Map<string, number>();
  for (const line of lines)
    for (const { key } of pairsOf(line).pairs) counts.set(key, (counts.get(key) ?? 0) + 1);
  const usual = [...counts].filter(([, count]) => count >= usualLabel * lines.length);
  return new Set((usual.length > 0 ? usual : [...counts]).map(([key]) => key));
}

/** Where a line was cut off and the next one stands behind it, the whole one of the two: labels that come twice in few
 * lines are no columns. */
function lastWhole(pairs: readonly Pair[], usual: ReadonlySet<string>): readonly Pair[] {
  const again = pairs.findIndex(({ key }) => key.endsWith(" 2") && !usual.has(key));
  if (again < 0) return pairs;
  const rest = pairs.slice(again).map((one) => ({ ...one, key: one.key.replace(/ 2$/, "") }));
  return rest.length >= again ? rest : pairs.slice(0, again);
}

/** So many lines that name an order are kept, and so many above the rows, none of them longer than this. */
const mostOrders = 1000;
const mostTitles = 40;
const longestTitle = 400;

/** Fewest rows, and share of lines of one labelled value, of a text with a row over several lines. */
const stack = { rows: 3, lines: 0.9, repeated: 0.8 };

/** Rows written over several lines, one labelled value in each, again and again in turn: `Time: 0 ms`, `Current: 2
 * mA`. */
function stackedRows(lines: readonly string[], like: readonly string[]): LabelledRows | undefined {
  const alone = like.map((l) => pairsOf(l)).filter((p) => p.pairs.length === 1 && p.lead.length === 0);
  if (alone.length < stack.lines * like.length) return undefined;
  const counts = new Map<string, number>();
  for (const { pairs } of alone) counts.set(pairs[0].key, (counts.get(pairs[0].key) ?? 0) + 1);
  const repeated = [...counts].filter(([, count]) => count >= stack.rows);
  const covered = repeated.reduce((sum, [, count]) => sum + count, 0);
  if (repeated.length < 2 || repeated.length > 40 || covered < stack.repeated * alone.length)
    return undefined;
  const known = new Set(repeated.map(([key]) => key));
  const keys = new Map<string, { at: number; unit?: string }>();
  const rows: { line: number; pairs: Pair[] }[] = [];
  const between: { line: number; text: string }[] = [];
  for (const [i, line] of lines.entries()) {
    if (line.trim() === "") continue;
    // A setting that is told once, above the rows, is none of their values.
    const pairs = (line.length < 4000 ? pairsOf(line).pairs : []).filter(({ key }) => known.has(key));
    if (pairs.length === 0) between.push({ line: i + 1, text: line.replaceAll(/\d+/g, "0").trim() });
    for (const found of pairs) {
      if (!keys.has(found.key)) keys.set(found.key, { at: keys.size, unit: found.unit });
      const row = rows.at(-1);
      if (row === undefined || row.pairs.some(({ key }) => key === found.key))
        rows.push({ line: i + 1, pairs: [found] });
      else row.pairs.push(found);
    }
  }
  // What stands alike between most rows parts them; anything else is told as left out.
  const times = new Map<string, number>();
  for (const { text } of between) times.set(text, (times.get(text) ?? 0) + 1);
  const left = between.filter(({ text }) => (times.get(text) ?? 0) < rows.length / 2).map(({ line }) => line);
  const head = [...keys].map(([key, { unit }]) => (unit === undefined ? key : `${key} [${unit}]`));
  const cells = rows.map(({ pairs }) => {
    const row = Array<string>(keys.size).fill("");
    for (const { key, value } of pairs) row[keys.get(key)?.at ?? 0] = value;
    return row;
  });
  return { rows: [head, ...cells], numbers: [rows[0]?.line ?? 1, ...rows.map(({ line }) => line)], left };
}

/** A value behind its label. */
export interface Pair {
  readonly key: string;
  readonly value: string;
  readonly unit?: string;
}

/** Values of a line behind their labels, and bare values before the first of them. */
export function pairsOf(given: string): { lead: string[]; pairs: Pair[]; stamped: boolean } {
  const lead: string[] = [];
  const line = plainLabels(given);
  let rest = line;
  const s = stamp.exec(line);
  if (s !== null) {
    lead.push(s[1]);
    rest = line.slice(s[0].length);
  }
  const pairs: Pair[] = [];
  let first = rest.length;
  const seen = new Set<string>();
  for (const m of rest.matchAll(pair)) {
    const key = ownKey(m[1], rest[m.index - 1]);
    if (key === "") continue;
    first = Math.min(first, m.index);
    // Twice the same label in a line, as of several axes: numbered.
    let own = key;
    for (let n = 2; seen.has(own); n += 1) own = `${key} ${n}`;
    seen.add(own);
    const unit = m[3] !== undefined && isUnit(m[3]) ? m[3] : undefined;
    pairs.push({ key: own, value: m[2], unit });
  }
  // Nanoseconds since 1970 behind the values, as a line protocol of telemetry has them.
  const tail = /[\s,](\d{10,19})\s*$/.exec(rest)?.[1];
  if (pairs.length > 0 && tail !== undefined && s === null && !seen.has("time"))
    pairs.push({ key: "time", value: tail });
  if (pairs.length > 0) {
    for (const bracketed of rest.slice(0, first).split(/[\s,;|>]+/)) {
      const word = bracketed.replace(/^[[(]|[\])]:?$/g, "");
      if (/^[+-]?(\d+([.,]\d*)?|\.\d+)(e[+-]?\d+)?$/i.test(word)) lead.push(word);
    }
  }
  return { lead, pairs, stamped: s !== null };
}

/** The label itself: without the name of a call before its arguments (`State(t=0.1`), and without the value of a tag
 * before it (`motor,id=m1 speed=2`). */
function ownKey(found: string, before: string | undefined): string {
  const open = /[([{]\s*([\p{L}_][^([{)\]}]*)$/u.exec(found)?.[1] ?? found;
  const own = before === "=" && open.includes(" ") ? open.slice(open.indexOf(" ") + 1) : open;
  return own.trim().replace(/^[-.*/%\s]+/, "");
}

const numberText = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;
const listed = new RegExp(
  String.raw`([\p{L}_][\p{L}\p{N}_.]{0,39})\s*[:=]\s*[[(]\s*(${numberText}(?:[\s,;]+${numberText}){1,31})\s*[\])]`,
  "gu",
);

/** Labels without the quotes around them, and a label of its own for every value of a list: `pos=[1, 2]`, `pos_1=1
 * pos_2=2`. */
function plainLabels(line: string): string {
  const bare = /["']/.test(line)
    ? line.replace(/(["'])([\p{L}_][\p{L}\p{N}_ ./-]{0,39})\1\s*:/gu, "$2:")
    : line;
  if (!/[[(]/.test(bare)) return bare;
  return bare.replace(listed, (_m, key: string, list: string) =>
    list
      .split(/[\s,;]+/)
      .map((v, i) => `${key}_${i + 1}=${v}`)
      .join(" "),
  );
}

const word = String.raw`[\p{L}_][\p{L}\p{N}_./()[\]^·°%-]*(?: [\p{L}_][\p{L}\p{N}_./]*)?`;
const turnsOf = new RegExp(
  String.raw`^\s*(?:${word}(?:\s*[:=]\s*|\s+)${numberText}\s?[^\s\d|,;]{0,10}\s*(?:[|,;]\s*|\s|$)){2,60}\s*$`,
  "u",
);

/** A text whose lines are words and numbers in turns (`t 0.1 iq 2.5`, `Time 0.1s | Cmd 2.5A`), with a sign between each
 * word and its number. */
export function signedPairs(text: string): string | undefined {
  const lines = linesAtBreaks(text.slice(0, 64 * 1024))
    .filter((l) => l.trim() !== "" && l.length < 1000)
    .slice(0, 60);
  if (lines.length < 5 || lines.filter((l) => turnsOf.test(l)).length < 0.8 * lines.length) return undefined;
  return withSigns(text);
}

const beforeNumber = new RegExp(
  String.raw`(?<![\p{L}\p{N}_./])([\p{L}_][\p{L}\p{N}_./]*)[ \t]+(?=${numberText}(?:[^\w.]|[\p{L}%°]|$))`,
  "gu",
);

/** A sign between every word and the number behind it. */
export function withSigns(text: string): string {
  return text.replace(beforeNumber, "$1=");
}

/** Units that stand behind a value: those of a table of units, per mille, and lengths. */
function isUnit(text: string): boolean {
  return unitCode(text) !== undefined || /^(‰|[µuμmckd]?m(\/(s|min))?)$/.test(text);
}
