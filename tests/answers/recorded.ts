/** The recorded answers: one text for all cases, a line `# name` before the answers of each. */
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const file = join(import.meta.dirname, "recorded.txt");

/** Recorded lines by the name of their case. */
export function readRecorded(): Map<string, string[]> {
  const found = new Map<string, string[]>();
  if (!existsSync(file)) return found;
  let lines: string[] = [];
  for (const line of readFileSync(file, "utf8").split("\n")) {
    if (line.startsWith("# ")) {
      lines = [];
      found.set(line.slice(2), lines);
    } else if (line !== "") lines.push(line);
  }
  return found;
}

/** Records answers anew. */
export function writeRecorded(answers: ReadonlyMap<string, readonly string[]>): void {
  writeFileSync(file, [...answers].map(([name, lines]) => `# ${name}\n${lines.join("\n")}\n`).join("\n"));
}

const words = (line: string): string[] => line.split(/[ ,|]+/);

/** Numbers that differ by one in their fifth digit are the same: another processor or release of Node may round so. */
function sameWord(a: string, b: string): boolean {
  if (a === b) return true;
  const [x, y] = [a, b].map((word) => Number(word.replace(/^1-|^\[|\]$/g, "")));
  if (!Number.isFinite(x) || !Number.isFinite(y) || a.startsWith("1-") !== b.startsWith("1-")) return false;
  const unit = 10 ** (Math.floor(Math.log10(Math.max(Math.abs(x), Math.abs(y)))) - 4);
  return Math.abs(x - y) <= 1.001 * unit;
}

function sameLine(a: string, b: string): boolean {
  if (a === b) return true;
  const [first, second] = [words(a), words(b)];
  return first.length === second.length && first.every((word, k) => sameWord(word, second[k]));
}

/** One difference: the line it is in, what stood there before and what does now. */
export interface Difference {
  readonly where: string;
  readonly before: string;
  readonly now: string;
}

/** Differences between recorded and present lines of a case. */
export function differences(before: readonly string[], now: readonly string[]): Difference[] {
  const byName = (lines: readonly string[]): Map<string, string> =>
    new Map(lines.map((line) => [line.slice(0, Math.max(0, line.indexOf(":"))), line]));
  const [old, present] = [byName(before), byName(now)];
  return [...new Set([...old.keys(), ...present.keys()])].flatMap((where) => {
    const [a, b] = [old.get(where), present.get(where)];
    if (a !== undefined && b !== undefined) return sameLine(a, b) ? [] : [inWords(where, a, b)];
    const shown = (line?: string): string =>
      line === undefined ? "(not there)" : line.slice(where.length + 2);
    return [{ where, before: shown(a), now: shown(b) }];
  });
}

/** The words that differ, each with the word before it, where the lines are of the same length. */
function inWords(where: string, a: string, b: string): Difference {
  const [first, second] = [words(a.slice(where.length + 2)), words(b.slice(where.length + 2))];
  if (first.length !== second.length)
    return { where, before: a.slice(where.length + 2), now: b.slice(where.length + 2) };
  const changed = first.flatMap((word, k) => (sameWord(word, second[k]) ? [] : [k]));
  const told = (list: readonly string[]): string =>
    changed.map((k) => (k > 0 ? `${list[k - 1]} ${list[k]}` : list[k])).join(", ");
  return { where, before: told(first), now: told(second) };
}
