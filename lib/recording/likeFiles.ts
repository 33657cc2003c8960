import { lstat, readdir, stat } from "node:fs/promises";
import { dirname, extname, join } from "node:path";

/** So many files of a folder are asked what its columns mean. */
const mostLike = 7;
/** Beyond this a file is not read for what it says of another. */
const mostBytes = 4 * 2 ** 20;
const plainText = /^\.(csv|tsv|txt|tab|dat|log|asc|prn)$/i;

/** What was found of folders that did not change since. */
const known = new Map<string, { readonly changed: number; readonly files: Map<string, readonly string[]> }>();
const mostKnown = 64;

/** The files of one job, and whether a descriptor speaks of them. */
interface Files {
  readonly files: readonly string[];
  readonly resource?: unknown;
}

/**
 * Gives each job the first small text files of its folder: the same ones whether a file is read alone or with the whole
 * folder. Where each file has a folder of its own, those of the other jobs.
 */
export async function withLikeFiles<Job extends Files>(
  jobs: readonly Job[],
): Promise<readonly (Job & { readonly like?: readonly string[] })[]> {
  const out: (Job & { readonly like?: readonly string[] })[] = [];
  const apart = jobs.flatMap(({ files }) => files).filter((file) => plainText.test(extname(file)));
  for (const job of jobs) {
    const [file] = job.files;
    if (job.resource !== undefined || !plainText.test(extname(file))) {
      out.push(job);
      continue;
    }
    const within = await firstLike(dirname(file), extname(file).toLowerCase());
    const like = within.length > 1 ? within : apart.slice(0, mostLike);
    out.push(like.length > 1 ? { ...job, like } : job);
  }
  return out;
}

/** The first small files with an ending in a folder, in the order of their names. */
async function firstLike(folder: string, ending: string): Promise<readonly string[]> {
  const changed = (await stat(folder).catch(() => undefined))?.mtimeMs ?? 0;
  const before = known.get(folder);
  const own = before?.changed === changed ? before : { changed, files: new Map<string, readonly string[]>() };
  const found = own.files.get(ending);
  if (found !== undefined) return found;
  const names = (await readdir(folder).catch(() => []))
    .filter((name) => extname(name).toLowerCase() === ending)
    .sort((a, b) => a.localeCompare(b, "en", { numeric: true }));
  const files: string[] = [];
  for (const name of names.slice(0, 4 * mostLike)) {
    if (files.length >= mostLike) break;
    const file = join(folder, name);
    // A link may lead anywhere: what was not named is not followed.
    const kind = await lstat(file).catch(() => undefined);
    if (kind?.isFile() === true && kind.size <= mostBytes) files.push(file);
  }
  if (known.size >= mostKnown) known.clear();
  own.files.set(ending, files);
  known.set(folder, own);
  return files;
}
