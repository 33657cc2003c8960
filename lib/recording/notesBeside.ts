import { readdir } from "node:fs/promises";
import { join } from "node:path";
import { stampOf, statsOf } from "./formats/fileBytes.js";
import { readableEndings } from "./formats/openTable.js";
import { likelyNotes, type NotedOrder, ordersInNotes } from "./ordersInNotes.js";
import { withoutOwnDocuments } from "./ownDocuments.js";

type Noted = ReadonlyMap<string, NotedOrder>;

/** What was found of a folder, as long as neither it nor a page of it changes. */
interface Known {
  readonly folder: string;
  readonly pages: readonly string[];
  readonly pageStamps: string;
  readonly noted: Promise<Noted>;
}

const lately = new Map<string, Known>();
const mostLately = 64;

const stampAt = (path: string): string => {
  const found = statsOf(path);
  return found === undefined ? "" : stampOf(found);
};

const stampsOf = (folder: string, pages: readonly string[]): string =>
  pages.map((page) => stampAt(join(folder, page))).join("\n");

/**
 * Lead orders that notes in the folder of a file that was named give to it and to its neighbours. A study asks for each
 * of its files: the folder is listed and its pages are read again only when one of them has changed.
 */
export async function notesBeside(folder: string): Promise<Noted> {
  const stamp = stampAt(folder);
  const known = lately.get(folder);
  if (known?.folder === stamp && known.pageStamps === stampsOf(folder, known.pages)) return known.noted;
  const all = await withoutOwnDocuments(folder, await readdir(folder).catch(() => []));
  const pages = all.filter((name) => likelyNotes.test(name));
  const pageStamps = stampsOf(folder, pages);
  const noted = ordersInNotes(
    folder,
    all,
    all.filter((name) => readableEndings.test(name)),
    likelyNotes,
  );
  if (lately.size >= mostLately) lately.delete(lately.keys().next().value as string);
  lately.set(folder, { folder: stamp, pages, pageStamps, noted });
  return noted;
}
