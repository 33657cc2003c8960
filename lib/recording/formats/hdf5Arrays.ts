import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { type Hdf5Dataset, type Hdf5Group, holdsItself, innermost, isSoftLink } from "./hdf5File.js";
import type { NamedArray } from "./namedArrays.js";
import { CannotRead } from "./sourceTable.js";

/** Names looked at: groups that link back to themselves have no end of them. */
const mostNames = 8000;
const mostArrays = 2000;
const mostDepth = 8;

/** A group where it stands, with the groups that hold it. */
interface Place {
  readonly group: Hdf5Group;
  readonly prefix: string;
  readonly above: readonly { readonly group: Hdf5Group; readonly key: string }[];
}

/** The arrays and single values of an HDF5 file, and what was met on the way to them. */
export class Hdf5Arrays {
  readonly arrays: NamedArray[] = [];
  readonly scalars: { name: string; value: number }[] = [];
  private names = 0;
  private unreadable = 0;
  private circles = 0;
  private claimed = 0;
  private readonly outside: string[] = [];

  /**
   * @param isMat the file is a MAT-file, which stores its matrices by columns
   * @param mostBytes that a data set may claim
   */
  constructor(
    private readonly path: string,
    private readonly isMat: boolean,
    private readonly mostBytes: number,
  ) {}

  /** Looks at everything in a group, level by level, so that what is found first has the shortest name. */
  lookAt(root: Hdf5Group): void {
    let level: Place[] = [{ group: root, prefix: "", above: [] }];
    for (let depth = 0; depth <= mostDepth && level.length > 0; depth += 1) {
      const next: Place[] = [];
      for (const place of level)
        for (const key of place.group.keys()) {
          if (key === "#refs#" || key === "#subsystem#") continue;
          this.names += 1;
          if (this.tooMany()) return;
          const inner = this.lookAtKey(place, key);
          if (inner !== undefined) next.push(inner);
        }
      level = next;
    }
  }

  /** What is to be told of what was not read. */
  findings(): Finding[] {
    const { path: file, names, outside, circles, claimed, unreadable } = this;
    const out: Finding[] = [];
    const warn = (code: string, message: string, more: Partial<Finding> = {}): void => {
      out.push({ severity: "warning", code, message, ...more, file });
    };
    if (outside.length > 0)
      warn(
        "outside",
        `"${visible(outside[0], 60)}"${outside.length > 1 ? ` and ${outside.length - 1} more objects lie` : " lies"} in another file, to which this one only points; another file is not read`,
        { meaning: "write the values themselves into the file" },
      );
    if (names > mostNames || this.arrays.length > mostArrays)
      warn(
        "too-many-columns",
        `the file has more than ${this.arrays.length > mostArrays ? mostArrays : mostNames} names in its groups (or groups that contain themselves); only the first were looked at`,
      );
    if (circles > 0)
      warn(
        "groups-in-circles",
        `the file has groups that contain themselves (${circles === 1 ? "one name leads" : `${circles} names lead`} back); each is read once`,
        { severity: "note" },
      );
    if (claimed > 0)
      warn(
        "too-large",
        `${claimed} data sets claim more values than a file of this size may hold (${Math.round(this.mostBytes / 2 ** 20)} MiB); they were left out`,
      );
    if (unreadable > 0)
      warn("truncated", `${unreadable} objects of the file could not be opened; the rest was read`);
    return out;
  }

  private tooMany(): boolean {
    return this.arrays.length > mostArrays || this.names > mostNames;
  }

  /** The group of this name, where it is one that is still to be looked at. */
  private lookAtKey({ group, prefix, above }: Place, key: string): Place | undefined {
    const name = prefix === "" ? key : `${prefix}.${key}`;
    let entity: Hdf5Group | Hdf5Dataset | null;
    try {
      entity = group.get(key) as Hdf5Group | Hdf5Dataset | null;
    } catch {
      this.unreadable += 1;
      return undefined;
    }
    if (entity === null) return undefined;
    if (entity.type === "ExternalLink") this.outside.push(name);
    else if (entity.type === "Dataset") this.add(name, entity as Hdf5Dataset);
    // A group is read where it stands, and once: a link to it is another name of what is there.
    if (entity.type !== "Group" || isSoftLink(group, key)) return undefined;
    const inner = { group: entity as Hdf5Group, prefix: name, above: [...above, { group, key }] };
    if (!holdsItself(inner.group, inner.above)) return inner;
    this.circles += 1;
    return undefined;
  }

  private add(name: string, set: Hdf5Dataset): void {
    const shape = set.shape ?? [];
    const count = shape.reduce((a, b) => a * b, 1);
    if (set.metadata.virtual_sources?.some((source) => source.file_name !== ".")) {
      this.outside.push(name);
      return;
    }
    // A data set may claim any size: what was never written takes no room in the file.
    if (8 * count > this.mostBytes) {
      this.claimed += 1;
      return;
    }
    const unit = unitOf(set);
    const members = compoundMembers(set.dtype);
    if (members !== undefined && shape.length === 1 && shape[0] > 1) this.addMembers(name, set, members);
    else if (typeof set.dtype !== "string" || !/^[<>|=]?[bBhHiIlLqQefd]/.test(set.dtype)) return;
    else if (count === 1) {
      const v = this.values(name, () => set.value) as number | ArrayLike<number>;
      this.scalars.push({ name, value: Number(typeof v === "object" ? v[0] : v) });
    } else if (shape.length === 1) {
      const column = (): Float64Array => doubles(this.values(name, () => set.value));
      this.arrays.push({ name, rows: shape[0], columns: 1, unit, column });
    } else if (shape.length === 2) this.addMatrix(name, set, unit);
  }

  /** Each member of a list of records is a column. */
  private addMembers(name: string, set: Hdf5Dataset, members: readonly string[]): void {
    const [rows] = set.shape ?? [];
    for (const [k, member] of members.entries()) {
      const column = (): Float64Array =>
        Float64Array.from(this.values(name, () => set.value) as unknown[][], (row) => Number(row[k]));
      this.arrays.push({ name: member, rows, columns: 1, unit: undefined, column });
    }
  }

  private addMatrix(name: string, set: Hdf5Dataset, unit: string | undefined): void {
    const [high, wide] = set.shape ?? [];
    // A MAT-file stores its matrices by columns, so that HDF5 sees them lying.
    const lying = this.isMat || high < wide;
    const [rows, columns] = lying ? [wide, high] : [high, wide];
    const flat = columns > rows && columns > 1 && rows === 1;
    const slice = (k: number): unknown => {
      const [all, one]: [number, number][] = [
        [0, rows],
        [k, k + 1],
      ];
      return flat ? set.value : set.slice(lying ? [one, all] : [all, one]);
    };
    this.arrays.push({
      name,
      rows: flat ? columns : rows,
      columns: flat ? 1 : columns,
      unit,
      column: (k) => doubles(this.values(name, () => slice(k))),
    });
  }

  /** Values of a data set; what the library says when it fails, in one line. */
  private values(name: string, read: () => unknown): unknown {
    try {
      return read();
    } catch (error) {
      throw unreadableValues(this.path, name, innermost(error));
    }
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
