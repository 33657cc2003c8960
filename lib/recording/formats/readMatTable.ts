import { readFile, stat } from "node:fs/promises";
import { inflateSync } from "node:zlib";
import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { type MatValue, NotAMatFile, readMatFile } from "./matFile.js";
import { isMatFile4, readMatFile4 } from "./matFile4.js";
import { arraysAsTables, type NamedArray, type NamedArrays } from "./namedArrays.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { unpackLimit } from "./unpackLimit.js";

/** MAT-files are read whole; larger ones than this are refused, and none may unpack to more. */
const mostBytes = 1_500_000_000;

/** Tables out of a MAT-file of level 4 or 5: arrays that share a length, matrices column by column, structures that are
 * runs one by one. */
export async function readMatTables(path: string): Promise<SourceTable[]> {
  const { size } = await stat(path);
  if (size > mostBytes) {
    throw new CannotRead({
      severity: "error",
      code: "too-large",
      message: `the MAT-file has ${Math.round(size / 1e6)} MB, and it must be read whole; convert it to Parquet or HDF5`,
      file: path,
    });
  }
  let contents: ReturnType<typeof readMatFile>;
  let older = false;
  try {
    const bytes = await readFile(path);
    older = isMatFile4(bytes);
    contents = older
      ? readMatFile4(bytes)
      : readMatFile(
          bytes,
          (bytes, limit) => inflateSync(bytes, { maxOutputLength: limit }),
          Math.min(mostBytes, unpackLimit(size)),
        );
  } catch (error) {
    if (!(error instanceof NotAMatFile) && !(error instanceof RangeError)) throw error;
    throw new CannotRead({
      severity: "error",
      code: "not-a-mat-file",
      message: `the MAT-file cannot be read: ${visible(error.message, 160)}`,
      file: path,
    });
  }
  const findings: Finding[] = [];
  if (contents.tooLarge !== undefined) {
    if (contents.variables.size === 0)
      throw new CannotRead({ severity: "error", code: "too-large", message: contents.tooLarge, file: path });
    findings.push({
      severity: "warning",
      code: "too-large",
      message: `a variable was left out: ${contents.tooLarge}`,
      meaning: "the others were read",
      file: path,
    });
  }
  if (contents.broken !== undefined) {
    findings.push({
      severity: "warning",
      code: "truncated",
      message: `the MAT-file breaks off: ${visible(contents.broken, 160)}; what came before was read`,
      meaning: "variables after the break are missing",
      file: path,
    });
  }
  return arraysAsTables(path, `MAT-file level ${older ? 4 : 5}`, flatten(contents.variables), findings);
}

function flatten(variables: ReadonlyMap<string, MatValue>): NamedArrays {
  const arrays: NamedArray[] = [];
  const scalars: { name: string; value: number }[] = [];
  const left: string[] = [];
  const labels: (readonly string[])[] = [];
  const walk = (name: string, value: MatValue, depth: number, unit?: string): void => {
    if (value.kind === "numeric") {
      const [r, c] = value.size.length === 2 ? value.size : [value.data.length, 1];
      if (value.data.length === 1) scalars.push({ name, value: value.data[0] });
      else if (value.data.length > 1) {
        const lying = r === 1;
        arrays.push({
          name,
          unit,
          rows: lying ? c : r,
          columns: lying ? 1 : c,
          column: (k) => (lying ? value.data : value.data.slice(k * r, k * r + r)),
        });
      }
    } else if (value.kind === "structure" && depth < 8) {
      const many = value.elements.length > 1;
      for (const [i, element] of value.elements.slice(0, 500).entries()) {
        const signal = signalOf(name, element);
        const own = signal?.name ?? (many ? `${name}(${i + 1})` : name);
        for (const [field, inner] of Object.entries(element)) {
          if (field === signal?.field) walk(own, inner, depth + 1, signal.unit);
          else walk(`${own}.${field}`, inner, depth + 1);
        }
      }
    } else if (value.kind === "unsupported") {
      left.push(`${name} (${value.what})`);
    } else if (value.kind === "cell" && value.elements.length > 1 && value.elements.every(isText)) {
      labels.push(value.elements.slice(0, 2000).map((e) => (isText(e) ? e.text.trim().slice(0, 80) : "")));
    } else if (value.kind === "cell" && depth < 6) {
      for (const [i, inner] of value.elements.slice(0, 200).entries())
        walk(`${name}{${i + 1}}`, inner, depth + 1);
    }
  };
  for (const [name, value] of variables) walk(name, value, 0);
  return { arrays, scalars, labels, left };
}

function isText(value: MatValue): value is Extract<MatValue, { kind: "text" }> {
  return value.kind === "text";
}

/**
 * A structure that is one signal: a field of values beside its name, perhaps with a unit. The structure `X` of a
 * capture, beside the signals in `Y`, is their time.
 */
function signalOf(
  parent: string,
  element: Readonly<Record<string, MatValue>>,
): { readonly name: string; readonly field: string; readonly unit?: string } | undefined {
  const text = (pattern: RegExp): string | undefined => {
    for (const [field, value] of Object.entries(element))
      if (pattern.test(field) && value.kind === "text" && value.text.trim() !== "")
        return value.text.trim().slice(0, 80);
    return undefined;
  };
  const field = Object.entries(element).find(
    ([key, value]) => /^(data|values?|y)$/i.test(key) && value.kind === "numeric" && value.data.length > 1,
  )?.[0];
  if (field === undefined) return undefined;
  const unit = text(/^units?$/i);
  const name = text(/^(name|label|signal|title|channel)$/i);
  if (name !== undefined) return { name, field, unit };
  return /(^|\.)X$/.test(parent) ? { name: "time", field, unit: unit ?? "s" } : undefined;
}
