import type { ReadRecording } from "../diagnosis/judged.js";

/**
 * What a recording gave by itself, as text: JSON with maps, columns of numbers, and numbers that JSON has no word for, each under a mark of its own.
 *
 * @example
 * decodeRead(encodeRead(read)).trials.length === read.trials.length; // => true
 */
export function encodeRead(read: ReadRecording): string {
  return JSON.stringify(read, (_, value: unknown) => {
    if (value instanceof Map) return { $map: [...value] };
    if (value instanceof Float64Array) return { $column: [...value] };
    if (typeof value === "number" && !Number.isFinite(value)) return { $number: String(value) };
    return value;
  });
}

/**
 * The reverse of `encodeRead`.
 *
 * @throws SyntaxError when the text is no such JSON
 */
export function decodeRead(text: string): ReadRecording {
  return JSON.parse(text, (_, value: unknown) => {
    if (typeof value !== "object" || value === null) return value;
    if ("$map" in value && Array.isArray(value.$map)) return new Map(value.$map as [unknown, unknown][]);
    if ("$column" in value && Array.isArray(value.$column))
      return Float64Array.from(value.$column as number[]);
    if ("$number" in value) return Number(value.$number);
    return value;
  }) as ReadRecording;
}
