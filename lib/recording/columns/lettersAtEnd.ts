import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import type { NameEvidence } from "./nameEvidence.js";
import type { Axis } from "./roles.js";
import type { Heading } from "./unitText.js";

/** Letters at the end of headings that stand side by side and count through a, b, c or u, v, w or 1, 2, 3 are
 * phases. */
export function phasesByHeading(headings: readonly Heading[], table: SourceTable): (Axis | undefined)[] {
  const sets: readonly (readonly string[])[] = [
    ["a", "b", "c"],
    ["u", "v", "w"],
    ["1", "2", "3"],
    ["l 1", "l 2", "l 3"],
    ["r", "s", "t"],
    // Cyrillic letters of the same look.
    ["а", "в", "с"],
    ["а", "б", "в"],
  ];
  const axes: readonly Axis[] = ["u", "v", "w"];
  const all = table.columns.map((c, i) =>
    table.nameless ? "" : wordsOf(headings[i].plain ? headings[i].words : c.name).join(" "),
  );
  return all.map((words) => {
    for (const set of sets) {
      for (const [k, letter] of set.entries()) {
        if (
          !words
            .split(" ")
            .some((w) => w === letter || (w.length === 2 && w.endsWith(letter) && "iuv".includes(w[0])))
        )
          continue;
        const others = set.filter((l) => l !== letter);
        const there = others.filter((l) => all.includes(swap(words, letter, l)));
        // Letters alone are symbols of something, unless all three stand there.
        if (there.length < 2 && words === letter) continue;
        if (
          there.length === 2 ||
          (there.length === 1 && set !== sets[2] && set !== sets[0]) ||
          (there.length === 1 && set === sets[0] && k < 2 && /\bi/.test(words))
        )
          return axes[k];
      }
    }
    return undefined;
  });
}

function swap(words: string, from: string, to: string): string {
  const list = words.split(" ");
  const at = list.findLastIndex(
    (w) => w === from || (w.length === 2 && w.endsWith(from) && "iuv".includes(w[0])),
  );
  if (at < 0) return words;
  list[at] = list[at] === from ? to : `${list[at][0]}${to}`;
  return list.join(" ");
}

/** Chance that a single letter at the end of a heading is its unit. */
export function trustOfLetter(
  headings: readonly Heading[],
  i: number,
  phases: readonly (Axis | undefined)[],
  name: NameEvidence,
): number {
  const unit = headings[i].unit;
  // `iU_A`, `iV_A`: a letter that several phases end in is no phase.
  const shared = headings.some(
    (h, k) => phases[k] !== undefined && phases[k] !== phases[i] && h.unit?.spelling === unit?.spelling,
  );
  if (phases[i] !== undefined && !shared) return 0.03;
  if (unit === undefined) return 0;
  // Other units in the headings, above all other letters, make this one a unit; a small letter is one less often.
  const letter = unit.spelling;
  const others = headings.filter(
    (h, k) => k !== i && h.unit !== undefined && h.unit.spelling !== letter,
  ).length;
  const large = letter === letter.toUpperCase() && letter !== letter.toLowerCase();
  const base = large ? 0.75 : letter === "s" ? 0.7 : 0.5;
  // Volts and amperes of one thing: nobody calls two things V and A.
  const ofOneThing =
    /^[AV]$/.test(letter) &&
    headings.some(
      (h) =>
        h.unit !== undefined &&
        /^[AV]$/.test(h.unit.spelling) &&
        h.unit.spelling !== letter &&
        h.words === headings[i].words,
    );
  if (ofOneThing) return 0.995;
  return Math.min(0.97, base + (others > 0 ? 0.2 : 0) + (name.namesQuantity ? 0.1 : 0));
}
