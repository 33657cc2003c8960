import { readFile, stat } from "node:fs/promises";
import { basename, join } from "node:path";
import type { LeadOrder } from "../motor/facts.js";
import { leadsWithin, otherWithin } from "../motor/leadLetters.js";
import { factsFromNames, lettersOfNames } from "./factsFromNames.js";

/** The lead order of a file as notes beside it say, and the notes. */
export interface NotedOrder {
  readonly ordering: LeadOrder;
  readonly notes: string;
}

/** Notes are short, and of few files. */
const mostBytes = 16 * 1024;
const mostFiles = 200;
const anyText = /(^[^.]+|\.(txt|md|csv|tsv|rst))$/i;
/** Names of pages that are looked into for a file that was named alone. */
export const likelyNotes =
  /^[^.]*(note|read ?me|index|list|order|lead|wiring|plan|info|protokoll|notiz|remark|about)[^.]*(\.(txt|md|csv|tsv|rst))?$/i;
/** Leads as they are put on terminals: `u -> v`. */
const putOn = /u *(?:->|→|=|:)/i;

/** A line without anything like an order is not looked at more closely: most pages are logs. */
const likeOrder = (line: string): boolean =>
  line.search(leadsWithin) >= 0 || line.search(otherWithin) >= 0 || putOn.test(line);

/** So many files must be named with an order each: one alone may be an example. */
const fewest = 2;

/**
 * Lead orders that a page of notes in a folder gives its files: `run 3: leads VWU` beside `run_03.csv`. A line counts
 * where it names one file of the folder and one order; where two pages or lines say different orders of a file, none is
 * taken.
 *
 * @param all names of everything in the folder
 * @param names files of it that may be recordings
 */
export async function ordersInNotes(
  folder: string,
  all: readonly string[],
  names: readonly string[],
  pages: RegExp = anyText,
): Promise<ReadonlyMap<string, NotedOrder>> {
  const out = new Map<string, NotedOrder>();
  if (names.length < fewest || names.length > mostFiles || all.length > 2 * mostFiles) return out;
  const said = new Map<string, Set<LeadOrder>>();
  const from = new Map<string, string>();
  for (const page of all.filter((name) => pages.test(name))) {
    const noted = await ordersOf(
      join(folder, page),
      names.filter((name) => name !== page),
    );
    if (noted.size < fewest) continue;
    for (const [name, ordering] of noted) {
      said.set(name, (said.get(name) ?? new Set()).add(ordering));
      from.set(name, page);
    }
  }
  for (const [name, orders] of said)
    if (orders.size === 1) out.set(name, { ordering: [...orders][0], notes: from.get(name) as string });
  return out;
}

async function ordersOf(page: string, names: readonly string[]): Promise<Map<string, LeadOrder>> {
  const size = await stat(page).catch(() => undefined);
  if (size === undefined || !size.isFile() || size.size > mostBytes) return new Map();
  const lines = (await readFile(page, "utf8").catch(() => ""))
    .split(/\r\n|\n|\r/)
    .filter((l) => l.length < 300 && likeOrder(l));
  if (lines.length < fewest) return new Map();
  const patterns = names.map((name) => [name, named(name)] as const);
  const rests = lines.flatMap((line) => {
    const files = patterns.filter(([, pattern]) => pattern.test(line));
    return files.length === 1 ? [{ name: files[0][0], rest: line.replace(files[0][1], " ") }] : [];
  });
  const letters = lettersOfNames(rests.map(({ rest }) => rest));
  const orders = new Map<string, LeadOrder>();
  const twice = new Set<string>();
  for (const { name, rest } of rests) {
    const { ordering } = factsFromNames([rest], letters);
    if (ordering === undefined) continue;
    if (orders.has(name) && orders.get(name) !== ordering) twice.add(name);
    orders.set(name, ordering);
  }
  for (const name of twice) orders.delete(name);
  return orders;
}

/** A file's name within a line as people write it: with or without its ending, words parted in any way, numbers without
 * their zeros. */
function named(name: string): RegExp {
  const stem = basename(name).replace(/\.[a-z0-9]{1,7}(\.gz)?$/i, "");
  const parts = stem.match(/\p{L}+|\p{N}+/gu) ?? [stem];
  const words = parts.map((p) => (/^\d+$/.test(p) ? `0*${p.replace(/^0+(?=\d)/, "")}` : escaped(p)));
  const body = words.join("[\\s_#.()-]{0,3}");
  // A number alone names a file only at the beginning of a line.
  const before = /^\d+$/.test(stem) ? "^[\\s*#-]*" : "(?<![\\p{L}\\p{N}])";
  return new RegExp(`${before}${body}(?:\\.[a-z0-9]{1,7})?(?![\\p{L}\\p{N}])`, "iu");
}

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

const pages = /\.(txt|md|rst)$/i;
/** A line that could be a row of a log: it begins with a number, and another follows. */
const rowOfNumbers = /^[\s"']*[-+]?[\d.,:T/-]+[^\p{L}]*[\s;,|]+["']?[-+]?[\d.]/u;

/**
 * Whether a file in a folder is a letter or a page of notes rather than a log: short text of more words than numbers,
 * in which no line could be a row.
 */
export async function isLetter(path: string): Promise<boolean> {
  if (!pages.test(path)) return false;
  const size = await stat(path).catch(() => undefined);
  if (size === undefined || !size.isFile() || size.size > mostBytes || size.size === 0) return false;
  const text = await readFile(path, "utf8").catch(() => "");
  const words = text.match(/\p{L}{2,}/gu)?.length ?? 0;
  const numbers = text.match(/\d+/g)?.length ?? 0;
  return words > 3 && words > numbers && !text.split(/\r\n|\n|\r/).some((line) => rowOfNumbers.test(line));
}
