import { stat } from "node:fs/promises";
import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { arraysAsTable, type NamedArray } from "./readMatTable.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { unpackLimit } from "./unpackLimit.js";

interface Hdf5Dataset {
  readonly type: "Dataset";
  readonly shape: number[] | null;
  readonly dtype: unknown;
  readonly value: unknown;
  readonly attrs: Record<string, { readonly value: unknown }>;
  slice(ranges: [number, number][] | []): unknown;
}
interface Hdf5Group {
  readonly type: string;
  keys(): string[];
  get(name: string): unknown;
}

/** A table out of an HDF5 file, or a MAT-file 7.3 (which is one): data sets that share the commonest length. */
export async function readHdf5Table(path: string, isMat: boolean): Promise<SourceTable> {
  const { default: hdf5, ready } = (await import("h5wasm/node")) as unknown as {
    default: { File: new (path: string, mode: string) => Hdf5Group & { close(): void } };
    ready: Promise<{ activate_throwing_error_handler?: () => number }>;
  };
  // Errors as exceptions, not as pages on the terminal.
  (await ready).activate_throwing_error_handler?.();
  let file: Hdf5Group & { close(): void };
  try {
    file = new hdf5.File(path, "r");
    file.keys();
  } catch (error) {
    throw new CannotRead({
      severity: "error",
      code: "not-hdf5",
      message: `the HDF5 file cannot be read: ${visible(innermost(error), 160)}`,
      meaning: "it is cut short or damaged",
      file: path,
    });
  }
  const most = unpackLimit((await stat(path)).size);
  let claimed = 0;
  const arrays: NamedArray[] = [];
  const scalars: { name: string; value: number }[] = [];
  const findings: Finding[] = [];
  let unreadable = 0;
  const walk = (group: Hdf5Group, prefix: string, depth: number): void => {
    for (const key of group.keys()) {
      if (key === "#refs#" || key === "#subsystem#" || arrays.length > 2000) continue;
      const name = prefix === "" ? key : `${prefix}.${key}`;
      let entity: Hdf5Group | Hdf5Dataset | null;
      try {
        entity = group.get(key) as Hdf5Group | Hdf5Dataset | null;
      } catch {
        unreadable += 1;
        continue;
      }
      if (entity === null) continue;
      if (entity.type === "Group" && depth < 8) walk(entity as Hdf5Group, name, depth + 1);
      else if (entity.type === "Dataset") add(name, entity as Hdf5Dataset);
    }
  };
  const add = (name: string, set: Hdf5Dataset): void => {
    const shape = set.shape ?? [];
    // A data set may claim any size: what was never written takes no room in the file.
    if (8 * shape.reduce((a, b) => a * b, 1) > most) {
      claimed += 1;
      return;
    }
    const unit = unitOf(set);
    const members = compoundMembers(set.dtype);
    if (members !== undefined && shape.length === 1 && shape[0] > 1) {
      for (const [k, member] of members.entries()) {
        arrays.push({
          name: member,
          rows: shape[0],
          columns: 1,
          unit: undefined,
          column: () => Float64Array.from(set.value as unknown[][], (row) => Number(row[k])),
        });
      }
      return;
    }
    if (typeof set.dtype !== "string" || !/^[<>|=]?[bBhHiIlLqQefd]/.test(set.dtype)) return;
    const count = shape.reduce((a, b) => a * b, 1);
    if (count === 1) {
      const v = set.value as number | ArrayLike<number>;
      scalars.push({ name, value: Number(typeof v === "object" ? v[0] : v) });
      return;
    }
    if (shape.length === 1) {
      arrays.push({ name, rows: shape[0], columns: 1, unit, column: () => doubles(set.value) });
    } else if (shape.length === 2) {
      // A MAT-file stores its matrices by columns, so that HDF5 sees them lying.
      const lying = isMat || shape[0] < shape[1];
      const [rows, columns] = lying ? [shape[1], shape[0]] : [shape[0], shape[1]];
      const flat = columns > rows && columns > 1 && rows === 1;
      arrays.push({
        name,
        rows: flat ? columns : rows,
        columns: flat ? 1 : columns,
        unit,
        column: (k) =>
          flat
            ? doubles(set.value)
            : lying
              ? doubles(
                  set.slice([
                    [k, k + 1],
                    [0, rows],
                  ]),
                )
              : doubles(
                  set.slice([
                    [0, rows],
                    [k, k + 1],
                  ]),
                ),
      });
    }
  };
  try {
    walk(file, "", 0);
  } catch (error) {
    file.close();
    throw new CannotRead({
      severity: "error",
      code: "not-hdf5",
      message: `the HDF5 file is damaged: ${visible(error instanceof Error ? error.message : String(error), 160)}`,
      file: path,
    });
  }
  if (claimed > 0) {
    findings.push({
      severity: "warning",
      code: "too-large",
      message: `${claimed} data sets claim more values than a file of this size may hold (${Math.round(most / 2 ** 20)} MiB); they were left out`,
      file: path,
    });
  }
  if (unreadable > 0) {
    findings.push({
      severity: "warning",
      code: "truncated",
      message: `${unreadable} objects of the file could not be opened; the rest was read`,
      file: path,
    });
  }
  try {
    const table = arraysAsTable(path, isMat ? "MAT-file 7.3 (HDF5)" : "HDF5", { arrays, scalars }, findings);
    return { ...table, close: async () => file.close() };
  } catch (error) {
    file.close();
    throw error;
  }
}

function doubles(value: unknown): Float64Array {
  if (value instanceof Float64Array) return value.slice();
  if (ArrayBuffer.isView(value) || Array.isArray(value))
    return Float64Array.from(value as unknown as ArrayLike<number>, Number);
  throw new Error("a data set holds no numbers");
}

function unitOf(set: Hdf5Dataset): string | undefined {
  for (const name of ["unit", "units", "Unit", "Units"]) {
    const value = set.attrs?.[name]?.value;
    if (typeof value === "string" && value !== "") return value;
    if (Array.isArray(value) && typeof value[0] === "string") return value[0];
  }
  return undefined;
}

function compoundMembers(dtype: unknown): string[] | undefined {
  const members = (dtype as { compound_type?: { members?: { name?: string }[] } } | null)?.compound_type
    ?.members;
  if (!Array.isArray(members)) return undefined;
  return members.map((m) => String(m.name));
}

/** The last line of the library's error stack that says what was found, such as "truncated file: eof = 3000". */
function innermost(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  const said = [...text.matchAll(/^\s*#\d+:.*?\(\): (.+)$/gm)].map((match) => match[1]);
  return said[said.length - 1] ?? text.split("\n")[0];
}
