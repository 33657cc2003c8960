import { readFile, stat } from "node:fs/promises";
import { zeroed } from "../columns/dayOrder.js";
import { stampMoment } from "../columns/stampMoment.js";
import { stampForm } from "../columns/stamps.js";
import type { Finding } from "../types.js";
import { checkArrowLists } from "./arrowLists.js";
import { reasonOf } from "./reasonOf.js";
import { CannotRead, type ColumnKind, type SourceColumn, type SourceTable } from "./sourceTable.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";

/** Opens an Arrow IPC file or stream. It is held in memory as it is; only the columns asked for are turned into
 * doubles. */
export async function readArrowTable(path: string): Promise<SourceTable> {
  const { size } = await stat(path);
  if (size > 1_000_000_000) {
    throw new CannotRead({
      severity: "error",
      code: "too-large",
      message: `the Arrow file has ${Math.round(size / 1e6)} MB, and it must be held whole; write it as Parquet`,
      file: path,
    });
  }
  const [{ fromArrow }, { registerArrowCodecs, unpackingAtMost }] = await Promise.all([
    import("arquero"),
    import("./arrowCodecs.js"),
  ]);
  await registerArrowCodecs();
  let table: ReturnType<typeof fromArrow>;
  try {
    const bytes = new Uint8Array(await readFile(path));
    checkArrowLists(bytes, unpackLimit(size) / 8);
    table = unpackingAtMost(unpackLimit(size), () => fromArrow(bytes, { useBigInt: false, useDate: false }));
  } catch (error) {
    throw new CannotRead({
      severity: "error",
      code: "not-arrow",
      message: `the Arrow file cannot be read: ${reasonOf(error)}`,
      meaning: "it is cut short or damaged; write it again, or as Parquet",
      file: path,
    });
  }
  const names = table.columnNames();
  if (names.length > 2000) {
    throw new CannotRead({
      severity: "error",
      code: "too-many-columns",
      message: `${names.length} columns were found, more than the 2000 that are read`,
      file: path,
    });
  }
  const rows = table.numRows();
  if (8 * rows > unpackLimit(size)) throw unpacksTooFar(path, size, "each column of the file unpacks");
  const forms = names.map((name) => {
    const some: unknown[] = [];
    for (let i = 0; i < Math.min(rows, 50); i += 1) some.push(table.get(name, i));
    const kept = some.filter((v) => v !== null && v !== undefined);
    return {
      kept,
      form:
        kept.length > 0 && kept.every((v) => typeof v === "string") ? stampForm(kept as string[]) : undefined,
      date: kept.length > 0 && kept.every((v) => v instanceof Date),
    };
  });
  const columns: SourceColumn[] = names.map((name, k) => {
    const { kept, form, date } = forms[k];
    const kind: ColumnKind =
      kept.length === 0
        ? "empty"
        : form !== undefined || date
          ? "stamp"
          : kept.every((v) => ["number", "bigint", "boolean"].includes(typeof v))
            ? "number"
            : "text";
    return { name, kind, samples: kept.slice(0, 20).map(String) };
  });
  return {
    path,
    format: "Arrow IPC",
    columns,
    findings: [],
    read: async (indices) => {
      const words = new Map<number, readonly string[]>();
      const origins = new Map<number, string>();
      const findings: Finding[] = [];
      const out = indices.map((k) => {
        const column = table.column(names[k]) as { at(i: number): unknown };
        const data = new Float64Array(rows);
        const map = new Map<string, number>();
        for (let i = 0; i < rows; i += 1) {
          const v = column.at(i);
          if (v === null || v === undefined) data[i] = Number.NaN;
          else if (columns[k].kind === "text") {
            const text = String(v).trim();
            if (text === "") data[i] = Number.NaN;
            else {
              const code = map.get(text) ?? map.size;
              map.set(text, code);
              data[i] = code;
            }
          } else if (columns[k].kind === "stamp")
            data[i] = v instanceof Date ? 1000 * v.getTime() : stampMoment(String(v).trim());
          else data[i] = Number(v);
        }
        if (columns[k].kind === "text") words.set(k, [...map.keys()]);
        if (columns[k].kind === "stamp") {
          const zero = zeroed(data, forms[k].form, names[k], path);
          origins.set(k, zero.origin);
          findings.push(...zero.findings);
        }
        return data;
      });
      return { columns: out, words, origins, findings };
    },
  };
}
