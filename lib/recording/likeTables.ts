import { stat } from "node:fs/promises";
import { basename, resolve } from "node:path";
import { leadsWithin, otherWithin } from "../motor/leadLetters.js";
import {
  columnKey,
  type LikeTable,
  type LikeTables,
  namesInCommon,
  type TableSays,
} from "./columns/likeColumns.js";
import type { ReadOptions } from "./columns/readOptions.js";
import { openTables } from "./formats/openTable.js";
import type { SourceTable } from "./formats/sourceTable.js";
import { whatItSays } from "./interpret/understoodLog.js";
import type { ReadingJob } from "./planReading.js";

/** Tables of one file: their columns, and what they say of them, worked out when it is first asked. */
interface Heard {
  readonly keys: readonly ReadonlySet<string>[];
  says?: Promise<readonly TableSays[]>;
}

/** What is known of files, by file, its last change and the options: each is read once for all its neighbours. */
const heard = new Map<string, Promise<Heard>>();
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
  const stem = stemOf(job.files[0]);
  return async (table) => {
    const keys = keysOf(table);
    // Without words nothing says that two tables hold the same (tried: units of rare kinds took over, and unrelated
    // logs of as many columns spoke for each other).
    if (table.columns.every(({ name }) => placeholder.test(name.trim()))) return [];
    const own = tables
      .filter((t) => t !== table && namesInCommon(keysOf(t), keys) !== undefined)
      .slice(0, mostTables);
    const out: LikeTable[] = [];
    for (const t of own) for (const says of await saysOf([t], options)) out.push({ says, alike: true });
    for (const file of beside) {
      const alike = stemOf(file) === stem;
      for (const says of await fileSays(file, keys, options)) out.push({ says, alike });
    }
    return out;
  };
}

/** A heading that only counts: `CH2`, `Kanal 3`, `column_1`, or nothing. */
const placeholder = /^(\p{L}{0,8}[\s_.#-]*\d+)?$/u;

/** The name of a file without numbers and lead orders: `run 3 VWU.csv` and `run 4 WUV.csv` are named alike. */
function stemOf(file: string): string {
  return basename(file)
    .toLowerCase()
    .replace(leadsWithin, "#")
    .replace(otherWithin, "#")
    .replace(/\d+/g, "#");
}

const keysOf = (table: SourceTable): ReadonlySet<string> =>
  new Set(table.columns.map((_, index) => columnKey(table, index)));

async function fileSays(
  file: string,
  keys: ReadonlySet<string>,
  options: ReadOptions,
): Promise<readonly TableSays[]> {
  const kind = await stat(file).catch(() => undefined);
  if (kind === undefined) return [];
  const { limits: _, ordering: __, orderings: ___, leadLetters: ____, ...relevant } = options;
  const key = `${resolve(file)} ${kind.mtimeMs} ${kind.size} ${JSON.stringify(relevant)}`;
  const asked = ({ keys: own }: Pick<Heard, "keys">): boolean =>
    own.some((names) => namesInCommon(names, keys) !== undefined);
  let known = heard.get(key);
  if (known === undefined) {
    if (heard.size >= mostHeard) heard.clear();
    // Opened once where its columns are called alike, as they mostly are beside the first that asks.
    known = withTables(file, options, async (tables): Promise<Heard> => {
      const own = { keys: tables.map(keysOf) };
      return asked(own) ? { ...own, says: Promise.resolve(await saysOf(tables, options)) } : own;
    });
    heard.set(key, known);
  }
  const found = await known;
  if (!asked(found)) return [];
  found.says ??= withTables(file, options, (tables) => saysOf(tables, options));
  return found.says;
}

async function saysOf(tables: readonly SourceTable[], options: ReadOptions): Promise<TableSays[]> {
  const out: TableSays[] = [];
  for (const table of tables) {
    const says = await whatItSays(table, options).catch(() => undefined);
    if (says !== undefined) out.push(says);
  }
  return out;
}

async function withTables<Result>(
  file: string,
  options: ReadOptions,
  use: (tables: readonly SourceTable[]) => Promise<Result>,
): Promise<Result> {
  const tables = await openTables(file, options).catch(() => []);
  try {
    return await use(tables.slice(0, mostTables));
  } finally {
    for (const table of tables) await table.close?.();
  }
}
