import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import { type MotorGroups, motorGroups } from "./motorGroups.js";
import { type NameEvidence, nameEvidence } from "./nameEvidence.js";
import { type Axis, type Meaning, type Quantity, roleFacts } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";
import { type Heading, splitHeading, unitOfText } from "./unitText.js";

/** The headings of a table, taken apart together: what one letter or number means shows beside the others. */
export interface Headings {
  readonly headings: readonly Heading[];
  readonly names: readonly NameEvidence[];
  /** Chance that the unit read from each heading is one. */
  readonly unitTrust: readonly number[];
  readonly groups: MotorGroups;
}

const silent: NameEvidence = { score: new Map(), told: [], namesQuantity: false, namesOther: false };

/** Takes the headings of a table apart. A unit stated by a person or a descriptor comes before that of the heading. */
export function readHeadings(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): Headings {
  const headings = table.columns.map((c, i) => headingOf(table, i, c.name, stated.get(i)));
  if (table.nameless) {
    return {
      headings,
      // Channels of a capture may have labels all the same.
      names: headings.map((h, i) => (table.columns[i].label === undefined ? silent : nameEvidence(h.words))),
      unitTrust: headings.map(() => 1),
      groups: { labels: headings.map(() => undefined), motors: [] },
    };
  }
  const plain = headings.map((h) => nameEvidence(h.words));
  const groups = motorGroups(
    headings.map((h) => h.words),
    (c) => shaftQuantities.has(roleFacts[likeliest(plain[c])].quantity),
  );
  // Numbers that tell motors apart are no phases.
  const axes = phasesByHeading(headings, table).map((axis, i) =>
    groups.labels[i] === undefined ? axis : undefined,
  );
  const names = headings.map((h, i) => (axes[i] === undefined ? plain[i] : nameEvidence(h.words, axes[i])));
  const unitTrust = headings.map((h, i) =>
    h.plain || stated.get(i)?.unit !== undefined ? 1 : trustOfLetter(headings, i, axes[i], names[i]),
  );
  return { headings, names, unitTrust, groups };
}

const shaftQuantities: ReadonlySet<Quantity> = new Set([
  "speed",
  "position",
  "current",
  "torque",
  "duty",
  "voltage",
]);

/** The meaning that the words of a heading and nothing else point to. */
function likeliest(name: NameEvidence): Meaning {
  let best: Meaning = "other";
  let high = Number.NEGATIVE_INFINITY;
  for (const [role, score] of name.score) {
    const s = score + Math.log(roleFacts[role].prior);
    if (s > high) {
      high = s;
      best = role;
    }
  }
  return best;
}

function headingOf(table: SourceTable, i: number, name: string, stated: StatedColumn | undefined): Heading {
  // A table without a heading may have labels of its channels all the same.
  const text = table.nameless ? table.columns[i].label : name;
  const own = text === undefined ? { words: "", plain: true } : splitHeading(text);
  const spelling =
    stated?.unit ??
    (own.unit === undefined && own.otherUnit === undefined ? table.columns[i].unit : undefined);
  if (spelling === undefined) return own;
  const unit = unitOfText(spelling) ?? { code: spelling, spelling };
  return { words: own.words, unit, plain: true };
}

/** Letters at the end of headings that stand side by side and count through a, b, c or u, v, w or 1, 2, 3 are phases. */
function phasesByHeading(headings: readonly Heading[], table: SourceTable): (Axis | undefined)[] {
  const sets: readonly (readonly string[])[] = [
    ["a", "b", "c"],
    ["u", "v", "w"],
    ["1", "2", "3"],
    ["l 1", "l 2", "l 3"],
    ["r", "s", "t"],
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
function trustOfLetter(
  headings: readonly Heading[],
  i: number,
  phase: Axis | undefined,
  name: NameEvidence,
): number {
  if (phase !== undefined) return 0.03;
  const unit = headings[i].unit;
  if (unit === undefined) return 0;
  const tails = headings.filter((h, k) => k !== i && h.unit !== undefined).length;
  const quantity = name.namesQuantity ? 0.2 : 0;
  return Math.min(0.97, 0.5 + 0.17 * Math.min(2, tails) + quantity);
}
