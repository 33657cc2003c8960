import { statSync } from "node:fs";
import { isAbsolute, join, resolve, sep } from "node:path";

/** Endings of files that may hold a recording, each perhaps with `.gz` or `.zst` behind. */
const endings = /\.(csv|tsv|txt|log|jsonl|ndjson|parquet|arrow|feather|ipc|mat|h5|hdf5)(\.gz|\.zst)?$/i;

/**
 * Files of a study in canonical order (by path, code unit by code unit): a folder stands for every recording below it, a pattern
 * (`*`, `**`, `?`, `{a,b}`, `[...]`) for what it matches, a file for itself. Hidden files and folders are left out.
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
    const before = found.size;
    if (kind === "file") found.add(input);
    else {
      const matches =
        kind === "folder"
          ? (await glob(["**/*"], { cwd: input, followSymbolicLinks: false })).map((name) =>
              join(input, name),
            )
          : await glob([input.replaceAll("\\", "/")], {
              followSymbolicLinks: false,
              absolute: isAbsolute(input),
            });
      for (const name of matches)
        if (endings.test(name) && !leaveOut.some((out) => inside(name, out))) found.add(name);
    }
    if (found.size === before && kind !== "file")
      throw new Error(
        kind === "folder"
          ? `no recording was found below ${input} (looked for csv, tsv, txt, log, jsonl, parquet, arrow, mat, h5, also .gz and .zst)`
          : `nothing matches ${input}`,
      );
  }
  return [...found].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
}

/** Whether a path is another, or lies in it. */
function inside(name: string, other: string): boolean {
  const [a, b] = [resolve(name), resolve(other)];
  return a === b || a.startsWith(`${b}${sep}`);
}
