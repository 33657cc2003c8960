import { readLeadOrder } from "../../motor/leadLetters.js";
import type { ColumnFacts } from "./columnFacts.js";
import type { Meaning } from "./roles.js";
import { unitLikelihoods } from "./tables/unitLikelihoods.js";

/**
 * How much speaks for lead orders: U, V, W hardly stand for anything else; other letters do, unless several orders of
 * them follow each other (three letters of an alphabet at random are a permutation in 6 of 27).
 */
export function ordersAmong(words: readonly string[]): number {
  if (words.length === 0) return -3;
  const letters = new Set<string>();
  for (const word of words) {
    const written = readLeadOrder(word);
    if (written === undefined) return -3;
    letters.add(written.letters);
  }
  if (letters.size > 1) return -3;
  // The letters in their own order may only list the phases.
  if (letters.has("UVW")) return words.every((w) => readLeadOrder(w)?.order === "UVW") ? 3 : 7;
  if (new Set(words).size > 2) return 3;
  return words.every((word) => /[^a-z]/i.test(word)) ? 7 : 1;
}

const dateAlone = /^(\d{4}[-/.]\d\d?[-/.]\d\d?|\d\d?[-/.]\d\d?[-/.](\d{4}|\d\d))$/;

/** Log likelihood that a column of a role is of this kind: a stamp, a text or numbers, and in which place. */
export function kindScore(column: ColumnFacts, role: Meaning): number {
  if (column.kind === "stamp") {
    const { time, other, rest } = unitLikelihoods.stamp;
    return role === "time" ? time : role === "other" ? other : rest;
  }
  if (column.kind === "text") {
    const { label, other, rest } = unitLikelihoods.text;
    const words = column.samples.filter((s) => s.trim() !== "");
    if (role === "ordering") return label + ordersAmong(words);
    if (role === "run" || role === "motor") return label;
    // A day beside a time of day.
    if (words.length > 0 && words.every((s) => dateAlone.test(s.trim())))
      return role === "time" ? 2.5 : role === "other" ? 0 : -9;
    return role === "other" ? other : rest;
  }
  if (role === "ordering") return ordersAmong(column.samples) > 0 ? 1 : -6;
  // Numbers under such a heading that are no orders count the orders that were tried.
  if (role === "run" && ordersAmong(column.samples) <= 0) {
    const { score } = column.name;
    return Math.max(0, (score.get("ordering") ?? 0) - (score.get("run") ?? 0) - 1);
  }
  if (column.devices !== undefined && (role === "motor" || role === "other")) return role === "motor" ? 7 : 0;
  // Time stands first in most tables.
  if (role === "time") return column.index === 0 ? 1 : -0.5;
  return role === "sample" && column.index === 0 ? 0.7 : 0;
}
