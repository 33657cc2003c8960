import { join } from "node:path";
import { statsOf } from "./formats/fileBytes.js";
import { listName, readList, sha256 } from "./outputFolder.js";

/** Names of what shaftwise writes that is no recording: what was said of recordings, and the tables of a study. */
const document = /\.(jsonl?|txt|md|html)$|^(trials|recordings|motors)\.parquet$/;

/**
 * Names of a folder without what shaftwise wrote there about recordings, unchanged since: a report among the logs is no
 * log, and no note about them.
 *
 * @param names of files in the folder
 * @example
 * await withoutOwnDocuments("bench", ["report.md", "run.csv"]); // ["run.csv"] after `shaftwise report bench --out bench`
 */
export async function withoutOwnDocuments(folder: string, names: readonly string[]): Promise<string[]> {
  const list = names.some((name) => document.test(name))
    ? await readList(join(folder, listName)).catch(() => undefined)
    : undefined;
  if (list === undefined) return [...names];
  const kept: string[] = [];
  for (const name of names) {
    const marks = document.test(name) ? list.get(name) : undefined;
    if (marks === undefined || !marks.includes(await markOf(join(folder, name)))) kept.push(name);
  }
  return kept;
}

/** SHA-256 of a file; empty for what is none. */
async function markOf(path: string): Promise<string> {
  return statsOf(path)?.isFile() === true ? sha256(path).catch(() => "") : "";
}
