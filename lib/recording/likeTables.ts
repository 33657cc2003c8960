import { stat } from "node:fs/promises";
import { basename, resolve } from "node:path";
import { whatItSays } from "./columns/interpret.js";
import type { LikeTables, TableSays } from "./columns/likeColumns.js";
import type { ReadOptions } from "./columns/readOptions.js";
import { openTables } from "./formats/openTable.js";
import type { SourceTable } from "./formats/sourceTable.js";
import type { ReadingJob } from "./planReading.js";

/** What files said before, by file, its last change and the options: each is read once for all its neighbours. */
const heard = new Map<string, Promise<readonly TableSays[]>>();
const mostHeard = 256;
/** Tables of one file that are asked. */
const mostTables = 7;

/**
 * What is asked where a column of a table is open: the other tables of the job, and those of the files beside it. One
 * that cannot be read says nothing.
 */
export function likeTables(
  job: ReadingJob,
  tables: readonly SourceTable[],
  options: ReadOptions,
): LikeTables | undefined {
  const mine = new Set(job.files.map((file) => resolve(file)));
  const beside = (job.like ?? []).filter((file) => !mine.has(resolve(file)));
  if (tables.length < 2 && beside.length === 0) return undefined;
  return async (table) => {
    const names = new Set(table.columns.map(({ name }) => name.trim()));
    const own = tables.filter((t) => t !== table && shares(t, table, names)).slice(0, mostTables);
    const said: TableSays[] = [];
    for (const t of own)
      said.push(
        ...(await whatItSays(t, options).then(
          (s) => [s],
          () => [],
        )),
      );
    // Without headings only files that are named alike are of one hand.
    const asked = table.nameless ? beside.filter((file) => stemOf(file) === stemOf(job.files[0])) : beside;
    for (const file of asked) said.push(...(await fileSays(file, options)));
    return said;
  };
}

/** The name of a file without numbers and lead orders: `run 3 VWU.csv` and `run 4 WUV.csv` are named alike. */
function stemOf(file: string): string {
  return basename(file)
    .toLowerCase()
    .replace(/(?<![a-z])(?:[uvw][-_ ]?){2}[uvw](?![a-z])|(?<![a-z])(?:[abc]{3}|[rst]{3})(?![a-z])/g, "#")
    .replace(/\d+/g, "#");
}

function shares(other: SourceTable, table: SourceTable, names: ReadonlySet<string>): boolean {
  if (table.nameless || other.nameless) return other.columns.length === table.columns.length;
  return other.columns.some(({ name }) => names.has(name.trim()));
}

async function fileSays(file: string, options: ReadOptions): Promise<readonly TableSays[]> {
  const kind = await stat(file).catch(() => undefined);
  if (kind === undefined) return [];
  const { limits: _, ordering: __, orderings: ___, leadLetters: ____, ...relevant } = options;
  const key = `${resolve(file)} ${kind.mtimeMs} ${kind.size} ${JSON.stringify(relevant)}`;
  let said = heard.get(key);
  if (said === undefined) {
    if (heard.size >= mostHeard) heard.clear();
    said = asked(file, options);
    heard.set(key, said);
  }
  return said;
}

async function asked(file: string, options: ReadOptions): Promise<readonly TableSays[]> {
  const tables = await openTables(file, options).catch(() => []);
  const said: TableSays[] = [];
  try {
    for (const table of tables.slice(0, mostTables))
      said.push(
        ...(await whatItSays(table, options).then(
          (s) => [s],
          () => [],
        )),
      );
  } finally {
    for (const table of tables) await table.close?.();
  }
  return said;
}
