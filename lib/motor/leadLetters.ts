import type { LeadOrder } from "./facts.js";

/** Letters in which the three leads of a motor are written. */
export type LeadLetters = "UVW" | "ABC" | "RST" | "L1L2L3" | "T1T2T3" | "M1M2M3" | "123";

/** A lead order as somebody wrote it. */
export interface WrittenOrder {
  readonly order: LeadOrder;
  readonly letters: LeadLetters;
}

/**
 * The three names of each set, in the order that stands for U, V, W.
 *
 * Sources: U, V, W by IEC 60034-8; L1, L2, L3 by IEC 60445; T1, T2, T3 by NEMA MG 1 (all from memory); A, B, C, R, S,
 * T, M1, M2, M3 and bare numbers: common practice, no source.
 */
const names: Readonly<Record<LeadLetters, readonly [string, string, string]>> = {
  UVW: ["U", "V", "W"],
  ABC: ["A", "B", "C"],
  RST: ["R", "S", "T"],
  L1L2L3: ["L1", "L2", "L3"],
  T1T2T3: ["T1", "T2", "T3"],
  M1M2M3: ["M1", "M2", "M3"],
  "123": ["1", "2", "3"],
};

/** Three of U, V, W within a longer text, a word of their own, possibly parted by one sign: `VUW`, `v-u-w`,
 * `order_WUV`. */
export const leadsWithin = /(?<![a-z])([uvw])([-_ /]?)([uvw])\2([uvw])(?![a-z])/gi;

/** Three of the other letters within a longer text, parted by one sign or none: `acb`, `L2-L1-L3`, `213`. */
export const otherWithin =
  /(?<![a-z0-9])(?:[abc][-_ ]?[abc][-_ ]?[abc]|[rst][-_ ]?[rst][-_ ]?[rst]|(?:[ltm][123][-_ ]?){2}[ltm][123]|[123]-?[123]-?[123])(?![a-z0-9])/gi;

/** `U1-V1-W1` are the beginnings of the three windings (IEC 60034-8), and as good as `UVW`. */
const beginnings = /^U1([^A-Z0-9]*)V1\1W1$|^([UVW])1([^A-Z0-9]*)([UVW])1\3([UVW])1$/;

/**
 * A text that is a lead order and nothing else, in any of the usual letters: `VUW`, `a-c-b`, `L2 L1 L3`, `213`.
 * Undefined where it is none.
 *
 * @example
 * readLeadOrder("T2-T1-T3"); // => { order: "VUW", letters: "T1T2T3" }
 */
export function readLeadOrder(text: string): WrittenOrder | undefined {
  if (text.length > 24) return undefined;
  let word = text
    .trim()
    .replace(/^["'([{]+|["')\]}]+$/g, "")
    .toUpperCase();
  if (beginnings.test(word)) word = word.replace(/([UVW])1/g, "$1");
  const m = /^([A-Z]?\d|[A-Z])([^A-Z0-9]*)([A-Z]?\d|[A-Z])\2([A-Z]?\d|[A-Z])$/.exec(word);
  if (m === null) return undefined;
  const given = [m[1], m[3], m[4]];
  for (const [letters, own] of Object.entries(names) as [LeadLetters, readonly string[]][]) {
    const at = given.map((name) => own.indexOf(name));
    if (at.includes(-1) || new Set(at).size < 3) continue;
    return { order: at.map((k) => "UVW"[k]).join("") as LeadOrder, letters };
  }
  return undefined;
}

/** How a set of letters stands for U, V, W, in words: `A, B, C stand for U, V, W`. */
export function lettersInWords(letters: LeadLetters): string {
  return `${names[letters].join(", ")} stand for U, V, W`;
}
