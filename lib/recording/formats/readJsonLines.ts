import { stat } from "node:fs/promises";
import { visible } from "../../units/text.js";
import { zeroed } from "../columns/dayOrder.js";
import { type StampForm, stampForm } from "../columns/stamps.js";
import { every, wordColumns } from "../columns/wordsAndStamps.js";
import { mayUseEngineHere } from "../limits/engineHere.js";
import type { Finding } from "../types.js";
import { connectEngine, doubleColumns, sqlText } from "./columnEngine.js";
import {
  CannotRead,
  type ColumnKind,
  type SourceColumn,
  type SourceData,
  type SourceTable,
  thinned,
} from "./sourceTable.js";

interface Key {
  readonly path: readonly string[];
  readonly form: StampForm | undefined;
  readonly column: SourceColumn;
}

/**
 * Opens JSON Lines (one object per line; nested objects become dotted names). Lines that are no objects are counted and
 * listed.
 *
 * @param plain a path the engine takes literally
 * @param block the first text of the file
 */
export function readJsonLines(
  path: string,
  plain: string,
  compression: "none" | "gzip",
  block: string,
  bytes: number,
  close: () => Promise<void>,
): SourceTable {
  const lines = block.split(/\r\n|\n|\r/).slice(0, 200);
  const seen = new Map<string, { path: string[]; values: unknown[] }>();
  for (const line of lines) {
    let json: unknown;
    try {
      json = JSON.parse(line);
    } catch {
      continue;
    }
    collect(json, [], seen, 0);
  }
  if (seen.size === 0) {
    throw new CannotRead({
      severity: "error",
      code: "no-numbers",
      message: `the file looks like JSON Lines, but no line of it is an object with values; it begins with "${visible(block.slice(0, 60), 60)}"`,
      file: path,
    });
  }
  if (seen.size > 2000) {
    throw new CannotRead({
      severity: "error",
      code: "too-many-columns",
      message: `${seen.size} keys were found, more than the 2000 that are read`,
      file: path,
    });
  }
  const keys: Key[] = [...seen].map(([name, { path: keyPath, values }]) => {
    const some = values.filter((v) => v !== null);
    const texts = some.map(String);
    const form =
      some.length > 0 && some.every((v) => typeof v === "string") ? stampForm(texts.slice(0, 50)) : undefined;
    const numeric = some.every(
      (v) =>
        typeof v === "number" ||
        typeof v === "boolean" ||
        (typeof v === "string" && v.trim() !== "" && Number.isFinite(Number(v))),
    );
    const kind: ColumnKind =
      some.length === 0 ? "empty" : form !== undefined ? "stamp" : numeric ? "number" : "text";
    return {
      path: keyPath,
      form,
      column: { name, kind, samples: texts.slice(0, 20) },
    };
  });
  const length = block.length / Math.max(1, block.split("\n").length);
  const expected = Math.ceil(bytes / Math.max(2, length)) + 16;
  return {
    path,
    format: `JSON Lines${compression === "none" ? "" : `, ${compression}`}`,
    columns: keys.map((k) => k.column),
    findings: [],
    read: (indices) => readKeys(path, plain, compression, keys, indices, expected),
    close,
  };
}

function collect(
  value: unknown,
  path: string[],
  seen: Map<string, { path: string[]; values: unknown[] }>,
  depth: number,
): void {
  if (typeof value !== "object" || value === null || depth > 4) return;
  // A long list is no row.
  if (Array.isArray(value) && value.length > 64) return;
  for (const [key, inner] of Object.entries(value)) {
    const here = [...path, key];
    if (typeof inner === "object" && inner !== null) {
      collect(inner, here, seen, depth + 1);
      continue;
    }
    const name = nameOf(here, Array.isArray(value));
    const entry = seen.get(name) ?? { path: here, values: [] };
    entry.values.push(inner);
    seen.set(name, entry);
  }
}

/** Keys joined by points; places of lists are counted from one. */
function nameOf(path: readonly string[], listed: boolean): string {
  const words = path.map((key) => (/^\d+$/.test(key) ? String(Number(key) + 1) : key));
  return listed ? `${words.slice(0, -1).join(".")}:${words.at(-1)}` : words.join(".");
}

async function readKeys(
  path: string,
  plain: string,
  compression: "none" | "gzip",
  keys: readonly Key[],
  indices: readonly number[],
  expected: number,
): Promise<SourceData> {
  mayUseEngineHere((await stat(path)).size);
  const connection = await connectEngine();
  try {
    // Every line as one text: nothing is inferred, and a broken line costs itself only.
    const text = `read_csv(${sqlText(plain)}, auto_detect=false, header=false, delim=E'\\x01', quote='', escape='', strict_mode=false, max_line_size=1048576, buffer_size=8388608, columns={'line': 'VARCHAR'}, compression=${sqlText(compression)}, hive_partitioning=false)`;
    const pointer = (key: Key): string =>
      sqlText(`/${key.path.map((p) => p.replace(/~/g, "~0").replace(/\//g, "~1")).join("/")}`);
    const good = `(SELECT row_number() OVER () AS row, line, (json_valid(line) AND ltrim(line)[1] = '{') AS ok FROM ${text} WHERE trim(line) <> '')`;
    const value = (k: number): string => `json_extract_string(line, ${pointer(keys[k])})`;
    const numbers = indices.filter((k) => keys[k].column.kind !== "text");
    const texts = indices.filter((k) => keys[k].column.kind === "text");
    const list = numbers.map((k) => {
      const form = keys[k].form;
      const raw = value(k);
      const number =
        form !== undefined
          ? form.sql(raw)
          : `coalesce(TRY_CAST(${raw} AS DOUBLE), TRY_CAST(${raw} AS BOOLEAN)::DOUBLE)`;
      return `coalesce(${number}, 'nan'::DOUBLE)`;
    });
    const exact = Number(
      (await connection.runAndReadAll(`SELECT count(*) FROM ${good} WHERE ok`)).getRows()[0][0],
    );
    const data = await doubleColumns(
      connection,
      `SELECT ${list.join(", ")} FROM ${good} WHERE ok`,
      numbers.length,
      expected,
      exact,
    );
    const words = await wordColumns(connection, `${good} WHERE ok`, texts.map(value), data.rows);
    const bad = (
      await connection.runAndReadAll(
        `SELECT row, line, count(*) OVER () FROM ${good} WHERE NOT ok ORDER BY row LIMIT 20`,
      )
    ).getRows();
    const findings: Finding[] = [];
    if (bad.length > 0) {
      const count = Number(bad[0][2]);
      findings.push({
        severity: "warning",
        code: "rows-not-read",
        message: `${count} ${count === 1 ? "line is" : "lines are"} no JSON object (lines ${bad.map((r) => Number(r[0])).join(", ")}${count > bad.length ? `, and ${count - bad.length} more` : ""}); the first is "${visible(String(bad[0][1]), 40)}"`,
        value: count,
        meaning: "these lines are left out; the last line of a log that was cut off looks like this",
        file: path,
        row: Number(bad[0][0]),
      });
    }
    const origins = new Map<number, string>();
    const wordMap = new Map<number, readonly string[]>();
    const columns = indices.map((k) => {
      const i = numbers.indexOf(k);
      if (i < 0) {
        const own = words[texts.indexOf(k)];
        wordMap.set(k, own.words);
        return every(own.codes, data.kept);
      }
      if (keys[k].form !== undefined) {
        const zero = zeroed(data.columns[i], keys[k].form, keys[k].column.name, path);
        origins.set(k, zero.origin);
        findings.push(...zero.findings);
      }
      return data.columns[i];
    });
    return {
      columns,
      words: wordMap,
      origins,
      findings: [...findings, ...thinned(path, data.kept, data.rows)],
      firstLine: 1,
      owned: true,
      kept: data.kept,
    };
  } finally {
    connection.closeSync();
  }
}
