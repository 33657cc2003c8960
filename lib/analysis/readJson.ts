import { deflateSync, inflateSync } from "node:zlib";
import type { ReadRecording } from "../diagnosis/judged.js";

/** Longest text that is unpacked: what one recording gives is a few tens of kilobytes. */
const longest = 2 ** 24;

/**
 * What a recording gave by itself, as a short text: JSON with maps, columns of numbers, and numbers that JSON has no
 * word for, each under a mark of its own; packed (deflate, base64).
 *
 * @example
 * decodeRead(encodeRead(read)).trials.length === read.trials.length; // => true
 */
export function encodeRead(read: ReadRecording): string {
  const text = JSON.stringify(read, (_, value: unknown) => {
    if (value instanceof Map) return { $map: [...value] };
    if (value instanceof Float64Array) return { $column: [...value] };
    if (Object.is(value, -0)) return { $number: "-0" };
    if (typeof value === "number" && !Number.isFinite(value)) return { $number: String(value) };
    return value;
  });
  return deflateSync(text).toString("base64");
}

/**
 * The reverse of `encodeRead`.
 *
 * @throws Error when the text is no such thing
 */
export function decodeRead(packed: string): ReadRecording {
  const text = inflateSync(Buffer.from(packed, "base64"), { maxOutputLength: longest }).toString("utf8");
  return JSON.parse(text, (_, value: unknown) => {
    if (typeof value !== "object" || value === null) return value;
    if ("$map" in value && Array.isArray(value.$map)) return new Map(value.$map as [unknown, unknown][]);
    if ("$column" in value && Array.isArray(value.$column))
      return Float64Array.from(value.$column as number[]);
    if ("$number" in value) return Number(value.$number);
    return value;
  }) as ReadRecording;
}
