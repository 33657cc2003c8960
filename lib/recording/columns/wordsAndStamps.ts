import type { DuckDBConnection } from "@duckdb/node-api";
import { StoppedEarly } from "../formats/columnEngine.js";
import { civilYear } from "./stampYears.js";

/** A column of words as indices into the list of words that occur; NaN where it is empty. */
export interface WordColumn {
  readonly codes: Float64Array;
  readonly words: readonly string[];
}

/**
 * Reads columns of words from a relation of the engine.
 *
 * @throws StoppedEarly when another number of rows came than the numbers beside have.
 */
export async function wordColumns(
  connection: DuckDBConnection,
  relation: string,
  expressions: readonly string[],
  exactRows: number,
): Promise<WordColumn[]> {
  if (expressions.length === 0) return [];
  const maps = expressions.map(() => new Map<string, number>());
  const codes: number[][] = expressions.map(() => []);
  const result = await connection.stream(
    `SELECT ${expressions.map((e) => `coalesce(CAST(${e} AS VARCHAR), '')`).join(", ")} FROM ${relation}`,
  );
  for (;;) {
    const chunk = await result.fetchChunk();
    if (chunk === null || chunk.rowCount === 0) break;
    for (let c = 0; c < expressions.length; c += 1) {
      for (const value of chunk.getColumnValues(c)) {
        const text = String(value).trim();
        if (text === "") {
          codes[c].push(Number.NaN);
          continue;
        }
        let code = maps[c].get(text);
        if (code === undefined) {
          code = maps[c].size;
          maps[c].set(text, code);
        }
        codes[c].push(code);
      }
    }
  }
  if (codes[0].length !== exactRows) throw new StoppedEarly(codes[0].length);
  return expressions.map((_, c) => ({ codes: Float64Array.from(codes[c]), words: [...maps[c].keys()] }));
}

/** Microseconds to seconds after the first stamp, in place; a time of day goes on past midnight. Returns the first
 * stamp. */
export function zeroStamps(micros: Float64Array, timeOfDay: boolean): string {
  let origin = Number.NaN;
  let days = 0;
  let last = Number.NaN;
  const day = 86_400e6;
  for (let i = 0; i < micros.length; i += 1) {
    let v = micros[i];
    if (!Number.isFinite(v)) {
      micros[i] = Number.NaN;
      continue;
    }
    if (timeOfDay) {
      if (last - v > day / 2) days += 1;
      last = v;
      v += days * day;
    }
    if (Number.isNaN(origin)) origin = v;
    micros[i] = (v - origin) / 1e6;
  }
  if (Number.isNaN(origin)) return "";
  const iso = isoOf(origin / 1000).replace(/^\d{4}(?=-)/, (year) => String(civilYear(Number(year))));
  return timeOfDay ? iso.slice(11) : iso;
}

/** A moment, in milliseconds since 1970, as ISO 8601 says it; nothing beyond the years that have such a name. */
export function isoOf(milliseconds: number): string {
  return Math.abs(milliseconds) <= 8.64e15 ? new Date(milliseconds).toISOString() : "";
}

/** Every `kept`-th value, as the numbers beside were thinned. */
export function every(values: Float64Array, kept: number): Float64Array {
  return kept === 1 ? values : values.filter((_, i) => i % kept === 0);
}
