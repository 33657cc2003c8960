import { readFileSync } from "node:fs";
import { join } from "node:path";
import { inflateSync } from "node:zlib";
import { readMatFile } from "../../lib/recording/formats/matFile.js";
import type { ChannelRole, Recording } from "../../lib/recording/types.js";
import { sharedFolder } from "../house/shared.js";

/** Real logs of rigs that nobody here built, beside a checkout; where each is from and what its columns mean stands in
 * the README beside them. */
export const field = sharedFolder("recordings/field");

/** Numbers of a text table, column by column. */
export function columnsOf(file: string, headings = 1, separator: string | RegExp = ","): Float64Array[] {
  const rows = readFileSync(join(field as string, file), "utf8")
    .split(/\r?\n/)
    .slice(headings)
    .filter((line) => line.trim() !== "")
    .map((line) => line.split(separator).map(Number));
  return rows[0].map((_, j) => Float64Array.from(rows, (row) => row[j]));
}

/** Time, Hall position, speed and duty of the brushless axis, a structure of a board's own making. */
export function hallAxis(): { time: Float64Array; speed: Float64Array; duty: Float64Array } {
  const bytes = readFileSync(join(field as string, "brushless-axis-hall/dataset.mat"));
  const { variables } = readMatFile(bytes, (part) => inflateSync(part));
  const top = variables.get("cigan");
  if (top?.kind !== "structure") throw new Error("no structure named cigan");
  const data = (name: string, at: number): Float64Array => {
    const part = top.elements[0][name];
    const value = part.kind === "structure" ? part.elements[at].Data : undefined;
    if (value?.kind !== "numeric") throw new Error(`${name}(${at}).Data is not numeric`);
    return value.data;
  };
  return { time: data("X", 0), speed: data("Y", 1), duty: data("Y", 2) };
}

/** A recording of plain columns in SI. */
export function recordingOf(
  time: Float64Array,
  columns: Partial<Record<ChannelRole, Float64Array>>,
  from = Number.NEGATIVE_INFINITY,
  to = Number.POSITIVE_INFINITY,
): Recording {
  const keep = (_: number, i: number): boolean => time[i] >= from && time[i] <= to;
  const channels = Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      { role, name: role, sourceUnit: "1", recognisedBy: "test", data: data.filter(keep) },
    ]),
  );
  return {
    path: "field",
    time: time.filter(keep),
    channels,
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
}
