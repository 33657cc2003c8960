import { existsSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { carryOn } from "../../lib/recording/columns/clockWraps.js";
import { openTables } from "../../lib/recording/formats/openTable.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import { arranged } from "../../lib/recording/readJob.js";
import { fieldColumns } from "./fieldColumns.js";
import { type Truth, truthsIn } from "./score.js";

/** A table whose headings, labels and units are hidden, with the values of its columns. */
export interface HiddenTable {
  readonly table: SourceTable;
  readonly values: ReadonlyMap<number, Float64Array>;
  /** The headings that are hidden, to find the columns again. */
  readonly names: readonly string[];
  /** It had none: nothing is hidden but what the reader made up. */
  readonly nameless: boolean;
}

/** A file with its truth, and the collection it is of: what one author wrote stays together. */
export interface Log {
  readonly file: string;
  readonly truth: Truth;
  readonly collection: string;
}

/** No table needs more columns than this to be understood. */
const mostRead = 64;

/** Tables of a file as they are read without options, with nothing but their numbers; empty where it cannot be read. */
export async function hiddenTables(file: string): Promise<HiddenTable[]> {
  const out: HiddenTable[] = [];
  try {
    for (const table of await arranged(await openTables(file, {}), {})) {
      const indices = table.columns
        .flatMap(({ kind }, i) => (kind === "number" || kind === "stamp" ? [i] : []))
        .slice(0, mostRead);
      const data = await table.read(indices).catch(() => undefined);
      await table.close?.();
      if (data === undefined || (data.columns[0]?.length ?? 0) < 3) continue;
      const values = new Map(
        indices.map((i, k) => {
          const clock = table.columns[i].kind === "number" ? carryOn(data.columns[k], 1) : undefined;
          return [i, clock?.time ?? data.columns[k]] as const;
        }),
      );
      out.push({
        table: unnamed(table),
        values,
        names: table.columns.map((c) => c.name),
        nameless: table.nameless === true,
      });
    }
  } catch {
    return out;
  }
  return out;
}

/** The table without what its headings, labels and rows of units say. */
function unnamed(table: SourceTable): SourceTable {
  const columns = table.columns.map(({ kind, samples }) => ({ name: "", kind, samples }));
  const { path, format, read } = table;
  return { path, format, read, columns, findings: [], nameless: true };
}

/** Logs of a folder and of the folders in it; `field` is the folder of real logs, whose truth is a table of ours. */
export function logsIn(folder: string, collection: string): Log[] {
  if (existsSync(join(folder, "two-motor-dyno")))
    return Object.entries(fieldColumns).map(([name, roles]) => ({
      file: join(folder, name),
      truth: {
        columns: roles
          .split(" ")
          .map(fieldTruth)
          .filter((c) => c.role !== "?"),
      },
      collection,
    }));
  const within = readdirSync(folder)
    .map((name) => join(folder, name))
    .filter((path) => statSync(path).isDirectory());
  const own = truthsIn(folder).map((log) => ({ ...log, collection }));
  return [...own, ...within.flatMap((path) => logsIn(path, collection))];
}

function fieldTruth(roles: string, k: number): Truth["columns"][number] {
  const [role, ...accept] = roles.split("|");
  return { name: `column ${k + 1}`, role, accept };
}
