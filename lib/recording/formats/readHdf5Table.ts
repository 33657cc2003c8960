import { stat } from "node:fs/promises";
import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { type Hdf5Dataset, type Hdf5Group, holdsItself, isSoftLink, openHdf5 } from "./hdf5File.js";
import { arraysAsTable, type NamedArray } from "./namedArrays.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { unpackLimit } from "./unpackLimit.js";

/** Names looked at: groups that link back to themselves have no end of them. */
const mostNames = 8000;

/** A table out of an HDF5 file, or a MAT-file 7.3 (which is one): data sets that share the commonest length. */
export async function readHdf5Table(path: string, isMat: boolean): Promise<SourceTable> {
  let file: Awaited<ReturnType<typeof openHdf5>>;
  try {
    file = await openHdf5(path);
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
  let circles = 0;
  let names = 0;
  const outside: string[] = [];
  /** Level by level, so that what is found first has the shortest name. */
  const walk = (): void => {
    interface Place {
      readonly group: Hdf5Group;
      readonly prefix: string;
      readonly above: readonly { readonly group: Hdf5Group; readonly key: string }[];
    }
    let level: Place[] = [{ group: file.root, prefix: "", above: [] }];
    for (let depth = 0; depth <= 8 && level.length > 0; depth += 1) {
      const next: Place[] = [];
      for (const { group, prefix, above } of level)
        for (const key of group.keys()) {
          if (key === "#refs#" || key === "#subsystem#") continue;
          names += 1;
          if (arrays.length > 2000 || names > mostNames) return;
          const name = prefix === "" ? key : `${prefix}.${key}`;
          let entity: Hdf5Group | Hdf5Dataset | null;
          try {
            entity = group.get(key) as Hdf5Group | Hdf5Dataset | null;
          } catch {
            unreadable += 1;
            continue;
          }
          if (entity === null) continue;
          if (entity.type === "ExternalLink") outside.push(name);
          else if (entity.type === "Group") {
            const inner = { group: entity as Hdf5Group, prefix: name, above: [...above, { group, key }] };
            // A group is read where it stands, and once: a link to it is another name of what is there.
            if (isSoftLink(group, key)) continue;
            if (holdsItself(inner.group, inner.above)) circles += 1;
            else next.push(inner);
          } else if (entity.type === "Dataset") add(name, entity as Hdf5Dataset);
        }
      level = next;
    }
  };
  /** Values of a data set; what the library says when it fails, in one line. */
  const values = (name: string, read: () => unknown): unknown => {
    try {
      return read();
    } catch (error) {
      throw unreadableValues(path, name, innermost(error));
    }
  };
  const add = (name: string, set: Hdf5Dataset): void => {
    const shape = set.shape ?? [];
    if (set.metadata.virtual_sources?.some((source) => source.file_name !== ".")) {
      outside.push(name);
      return;
    }
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
          column: () =>
            Float64Array.from(values(name, () => set.value) as unknown[][], (row) => Number(row[k])),
        });
      }
      return;
    }
    if (typeof set.dtype !== "string" || !/^[<>|=]?[bBhHiIlLqQefd]/.test(set.dtype)) return;
    const count = shape.reduce((a, b) => a * b, 1);
    if (count === 1) {
      const v = values(name, () => set.value) as number | ArrayLike<number>;
      scalars.push({ name, value: Number(typeof v === "object" ? v[0] : v) });
      return;
    }
    if (shape.length === 1) {
      arrays.push({
        name,
        rows: shape[0],
        columns: 1,
        unit,
        column: () => doubles(values(name, () => set.value)),
      });
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
        column: (k) => {
          const [all, one]: [number, number][] = [
            [0, rows],
            [k, k + 1],
          ];
          return doubles(values(name, () => (flat ? set.value : set.slice(lying ? [one, all] : [all, one]))));
        },
      });
    }
  };
  try {
    walk();
  } catch (error) {
    file.close();
    if (error instanceof CannotRead) throw error;
    throw new CannotRead({
      severity: "error",
      code: "not-hdf5",
      message: `the HDF5 file is damaged: ${visible(innermost(error), 160)}`,
      file: path,
    });
  }
  if (outside.length > 0) {
    findings.push({
      severity: "warning",
      code: "outside",
      message: `"${visible(outside[0], 60)}"${outside.length > 1 ? ` and ${outside.length - 1} more objects lie` : " lies"} in another file, to which this one only points; another file is not read`,
      meaning: "write the values themselves into the file",
      file: path,
    });
  }
  if (names > mostNames || arrays.length > 2000) {
    findings.push({
      severity: "warning",
      code: "too-many-columns",
      message: `the file has more than ${arrays.length > 2000 ? 2000 : mostNames} names in its groups (or groups that contain themselves); only the first were looked at`,
      file: path,
    });
  }
  if (circles > 0) {
    findings.push({
      severity: "note",
      code: "groups-in-circles",
      message: `the file has groups that contain themselves (${circles === 1 ? "one name leads" : `${circles} names lead`} back); each is read once`,
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

function unreadableValues(path: string, name: string, said: string): CannotRead {
  const elsewhere = /external raw data/i.test(said);
  return new CannotRead({
    severity: "error",
    code: elsewhere ? "outside" : "not-hdf5",
    message: elsewhere
      ? `the values of "${visible(name, 60)}" lie in another file, to which this one only points; another file is not read`
      : `the values of "${visible(name, 60)}" cannot be read: ${visible(said, 160)}`,
    meaning: elsewhere ? "write the values themselves into the file" : "the file is cut short or damaged",
    file: path,
    column: name,
  });
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
