import { statSync } from "node:fs";
import { basename, dirname, isAbsolute, join, resolve, sep } from "node:path";
import { withoutOwnDocuments } from "../../recording/ownDocuments.js";

/**
 * Endings of files that may hold a recording, each perhaps with `.gz` or `.zst` behind: those of plain JSON and of
 * notes are left to who names them, for folders of recordings are full of settings.
 */
const endings =
  /\.(csv|tsv|tab|txt|log|dat|asc|prn|jsonl|ndjson|parquet|arrow|feather|ipc|mat|h5|hdf5|npy|npz|xlsx|xlsm|xls|ods|zip|tar|tgz)(\.gz|\.zst)?$/i;
/** What a workbook leaves beside it while it is open. */
const openWorkbook = /(^|[\\/])~\$[^\\/]*$/;

/**
 * Files of a study in canonical order (by path, code unit by code unit): a folder stands for every recording below it,
 * a pattern (`*`, `**`, `?`, `{a,b}`, `[...]`) for the files it matches and every recording below the folders it
 * matches, a file for itself. Hidden files and folders are left out.
 *
 * @param leaveOut - files and folders to leave out, unless they are named themselves
 * @throws Error that names the input which stands for nothing
 * @example
 * await listRecordings(["runs/2026", "more/batch-*.csv"]);
 */
export async function listRecordings(
  inputs: readonly string[],
  leaveOut: readonly string[] = [],
): Promise<string[]> {
  const { glob } = await import("tinyglobby");
  const found = new Set<string>();
  for (const input of inputs) {
    let kind: "file" | "folder" | "pattern" = "pattern";
    try {
      kind = statSync(input).isDirectory() ? "folder" : "file";
    } catch {
      // Not there as it is written: taken for a pattern.
    }
    let stands = kind === "file";
    let leftOut = false;
    if (kind === "file") found.add(input);
    else {
      const below = async (folder: string): Promise<string[]> =>
        (await glob(["**/*"], { cwd: folder, followSymbolicLinks: false })).map((name) => join(folder, name));
      const matches: string[] = [];
      if (kind === "folder") matches.push(...(await below(input)));
      else
        for (const name of await glob([input.replaceAll("\\", "/")], {
          followSymbolicLinks: false,
          onlyFiles: false,
          expandDirectories: false,
          absolute: isAbsolute(input),
        })) {
          // Folders are marked by a slash at the end.
          if (name.endsWith("/")) matches.push(...(await below(name.slice(0, -1))));
          else matches.push(name);
        }
      const named = matches.filter((name) => endings.test(name) && !openWorkbook.test(name));
      const asked = named.filter((name) => !leaveOut.some((out) => inside(name, out)));
      leftOut = asked.length < named.length;
      for (const name of await notOurs(asked)) {
        found.add(name);
        stands = true;
      }
    }
    if (!stands && leftOut)
      throw new Error(
        `every recording of ${input} lies in the folder for the results: name another folder for these, beside the recordings or below them`,
      );
    if (!stands)
      throw new Error(
        kind === "folder"
          ? `no recording was found below ${input} (looked for csv, tsv, txt, log, dat, jsonl, parquet, arrow, mat, h5, npz, xlsx, ods, zip and tar, also .gz and .zst)`
          : `nothing matches ${input}`,
      );
  }
  return [...found].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
}

/** Paths without what shaftwise wrote about recordings. */
async function notOurs(paths: readonly string[]): Promise<string[]> {
  const folders = new Map<string, string[]>();
  for (const path of paths) {
    const folder = dirname(path);
    const names = folders.get(folder) ?? [];
    folders.set(folder, names);
    names.push(basename(path));
  }
  const kept: string[] = [];
  for (const [folder, names] of folders)
    for (const name of await withoutOwnDocuments(folder, names)) kept.push(join(folder, name));
  return kept;
}

/** Whether a path is another, or lies in it. */
function inside(name: string, other: string): boolean {
  const [a, b] = [resolve(name), resolve(other)];
  return a === b || a.startsWith(`${b}${sep}`);
}
