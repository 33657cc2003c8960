/** Records written one value a line, as rows under a heading of their keys. */
export interface RecordRows {
  readonly rows: readonly (readonly string[])[];
  /** Line in the text of the first line of each row. */
  readonly numbers: readonly number[];
}

/** The moment at the front of a line of a table (`Mar 14 09:26:53`, `August 13 2024 06:02:04`) is no key with its
 * value. */
const pair =
  /^(?!\p{L}[^:=]{1,40} \d\d?:\d\d:\d\d)(\s*)(?:- )?([\p{L}_/][\p{L}\p{N}_ ./%()[\]°#²-]{0,59}?)\s*[:=](?:\s+(.*?)|\s*([+-]?[\d.].*?)|)\s*$/u;
/** A value before its label: `74 RPM`. */
const turned = /^\s*([+-]?\d[\d.,]*)\s+(\p{L}[\p{L}/%°]{0,19})\s*$/u;
/** A label of one word and a number. */
const spaced = /^(\s*)([\p{L}_][\p{L}\p{N}_./%()[\]-]{0,59})\s+([+-]?\d[\d.eE+-]*)\s*$/u;
const item = /^(\s*)-\s+([^:]*)$/;
const rule = /^\s*([-=.*_#~])\1{2,}\s*([+-]?\d[\d.]*)?\s*$/;
/** Lines looked at to see whether a text is written so. */
const looked = 300;
const fewestRecords = 5;
const mostKeys = 500;
const longestLine = 2000;

/**
 * Reads a text of records with one `key: value` a line, indented where keys stand within others and parted by rules
 * (`---`), blank lines or nothing but the keys that begin anew, as robots' topics are printed. Lists become a column
 * for each value, under the names that a list of words beside them gives. Undefined for any other text.
 */
export function recordRows(text: string): RecordRows | undefined {
  if (!looksSo(text)) return undefined;
  const keys = new Map<string, number>();
  const found: { line: number; cells: Map<number, string> }[] = [];
  let record = new Map<string, readonly string[]>();
  let start = 1;
  let open: { indent: number; path: string }[] = [];
  const finish = (line: number): void => {
    const cells = new Map<number, string>();
    for (const [key, value] of flat(record)) {
      if (!keys.has(key) && keys.size < mostKeys) keys.set(key, keys.size);
      const at = keys.get(key);
      if (at !== undefined) cells.set(at, value);
    }
    if (cells.size > 0) found.push({ line: start, cells });
    record = new Map();
    open = [];
    start = line;
  };
  for (const [i, line] of text.split(/\r\n|\n|\r/).entries()) {
    if (line.length > longestLine || line.trim() === "") continue;
    const parted = rule.exec(line);
    if (parted !== null) {
      finish(i + (parted[2] === undefined ? 2 : 1));
      // The moment of the record stands behind the rule.
      if (parted[2] !== undefined) record.set(parted[2].includes(".") ? "time" : "count", [parted[2]]);
      continue;
    }
    const listed = item.exec(line);
    if (listed !== null) {
      const at = open.at(-1)?.path;
      if (at !== undefined) record.set(at, [...(record.get(at) ?? []), bare(listed[2])]);
      continue;
    }
    const m = pair.exec(line) ?? backwards(line);
    if (m === null) continue;
    const indent = m[1].length;
    while (open.length > 0 && open[open.length - 1].indent >= indent) open.pop();
    const path = [open.at(-1)?.path, m[2].trim()].filter((p) => p !== undefined).join(".");
    const value = m[3] ?? m[4] ?? "";
    // A key that was there already begins the next record.
    if (record.has(path)) finish(i + 1);
    if (record.size === 0) start = i + 1;
    if (value === "") open.push({ indent, path });
    else record.set(path, valuesOf(value));
  }
  finish(0);
  if (found.length < fewestRecords || keys.size < 2) return undefined;
  const head = [...keys.keys()];
  return {
    rows: [head, ...found.map(({ cells }) => head.map((_, k) => cells.get(k) ?? ""))],
    numbers: [1, ...found.map(({ line }) => line)],
  };
}

/** A line with its value first, as one with its key first would be matched. */
function backwards(line: string): readonly string[] | null {
  const straight = spaced.exec(line);
  if (straight !== null) return straight;
  const m = turned.exec(line);
  return m === null ? null : [line, "", m[2], m[1]];
}

/** A second value behind its own label in a line. */
const morePairs = /[:=]\s*\S+\s+[\p{L}_][\p{L}\p{N}_.]{0,59}\s?[:=]\s*[+-]?\.?\d/u;

/** Nearly all lines are one key with its value, an item of a list or a rule, and few keys come again and again. */
function looksSo(text: string): boolean {
  const keys = new Set<string>();
  let filled = 0;
  let fit = 0;
  let pairs = 0;
  let at = 0;
  while (at < text.length && filled < looked) {
    let end = text.indexOf("\n", at);
    if (end < 0) end = text.length;
    const line = text.slice(at, Math.min(end, at + longestLine)).replace(/\r$/, "");
    at = end + 1;
    if (line.trim() === "") continue;
    filled += 1;
    const m = pair.exec(line) ?? backwards(line);
    if (m !== null && !/[,;\t|].*[:=]/.test(line) && !morePairs.test(line)) {
      fit += 1;
      pairs += 1;
      keys.add(m[1] + m[2]);
    } else if (rule.test(line) || item.test(line)) fit += 1;
    if (filled === 20 && fit < 15) return false;
  }
  return filled >= 2 * fewestRecords && fit > 0.95 * filled && pairs >= fewestRecords * keys.size;
}

function bare(text: string): string {
  return text.trim().replace(/^(['"])(.*)\1$/, "$2");
}

function valuesOf(text: string): readonly string[] {
  const list = /^[[(](.*)[\])]$/.exec(text);
  return list === null ? [bare(text)] : list[1].split(/\s*,\s*/).map(bare);
}

const word = /^[\p{L}_][\p{L}\p{N}_ ./-]*$/u;

/** Lists as a value each, named by the list of words of their length, or by their place. */
function flat(record: ReadonlyMap<string, readonly string[]>): [string, string][] {
  const names = [...record.values()].filter(
    (v) => v.length > 0 && v.every((t) => word.test(t) && !/^(nan|inf)$/i.test(t)),
  );
  return [...record].flatMap(([key, values]): [string, string][] => {
    if (values.length === 1 && !names.some((n) => n !== values && n.length === 1 && record.get("name") === n))
      return [[key, values[0]]];
    if (names.includes(values)) return [];
    const own = names.find((n) => n.length === values.length);
    return values.map((v, i) => [own === undefined ? `${key}[${i}]` : `${key} ${own[i]}`, v]);
  });
}
