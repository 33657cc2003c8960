import { ordersIn } from "../factsFromNames.js";
import { wordsOf } from "./foldedWords.js";
import { meaningOf } from "./lexicon.js";

/** Words that tell one of several motors by itself: sides of a machine, in several languages. */
const sides = new Set(
  "left right links rechts gauche droite izquierda derecha izq der sinistra destra sx dx esquerda direita esquerdo direito izquierdo derecho vanster hoger venstre hoyre lewy prawy lewa prawa kiri kanan sol sag links rechtes linker rechter fl fr rl rr bl br ll lr ul ur 左 右 front rear lt rt master slave upper lower oben unten vorne hinten l r".split(
    " ",
  ),
);

/** Headings of one motor within a table of several. */
export interface MotorGroups {
  /** Label of the motor each column belongs to, as logged; undefined for what all share. */
  readonly labels: readonly (string | undefined)[];
  /** All labels, in the order they come; empty when there is one motor. */
  readonly motors: readonly string[];
}

interface Place {
  readonly column: number;
  readonly base: string;
  readonly label: string;
}

/**
 * Finds several motors in one table by headings that differ in one word only (`pos1 pos2 vel1 vel2`, `left_velocity
 * right_velocity`,
 * `Axis0_Ref Axis1_Ref`). The same words must tell at least two different quantities apart, or be words for sides; three numbered currents or voltages
 * are phases.
 *
 * @param headings without their units
 * @param moving whether a column may be a speed, position, current, torque... of its own motor
 */
export function motorGroups(headings: readonly string[], moving: (column: number) => boolean): MotorGroups {
  const none: MotorGroups = { labels: headings.map(() => undefined), motors: [] };
  const places: Place[] = [];
  for (const [column, heading] of headings.entries()) {
    const words = wordsOf(heading);
    // A text of so many words is no name.
    if (words.length > mostWords) continue;
    for (const [k, word] of words.entries()) {
      if (!mayLabel(word)) continue;
      const base = words.map((w, i) => (i === k ? "*" : w)).join(" ");
      // A side alone is the motor's name with only a unit behind it (`Left_RPM`); a number or letter alone is nothing.
      if (base !== "*" || (sides.has(word) && word.length > 2)) places.push({ column, base, label: word });
    }
  }
  const bases = new Map<string, Map<string, number>>();
  for (const { base, label, column } of places) {
    const labels = bases.get(base) ?? new Map<string, number>();
    labels.set(label, column);
    bases.set(base, labels);
  }
  let best: { labels: string[]; columns: Map<number, string> } | undefined;
  const families = new Map<string, Map<string, number>[]>();
  for (const labels of bases.values()) {
    if (labels.size < 2) continue;
    const key = [...labels.keys()].sort().join(" ");
    families.set(key, [...(families.get(key) ?? []), labels]);
  }
  for (const [key, list] of families) {
    const labels = key.split(" ");
    const useful = list.filter((m) => [...m.values()].some(moving));
    const plain = labels.every((l) => sides.has(l));
    const numbered = labels.every((l) => /^\d+$/.test(l));
    const letters = labels.every((l) => /^[a-z]$/.test(l));
    // One quantity alone: only sides, or two numbered shafts. Three of one kind are phases, or sensors.
    if (
      useful.length === 0 ||
      (useful.length === 1 && !plain && !(numbered && labels.length !== 3 && shafts(list, headings)))
    )
      continue;
    // Behind a word for a motor or an axis letters name it, and no phase.
    const machines = letters && list.every((m) => [...m].every(([l, c]) => namesMachine(headings[c], l)));
    if (machines) {
      // Nothing speaks against it.
    } else if (letters && labels.some((l) => "abcuvwdq".includes(l)) && labels.length <= 3) continue;
    // Phases, axes and the supply behind the letter of a current or a voltage: `iA`, `iB`, `iDC`.
    if (!machines && labels.some((l) => /^[abcuvwdq]$/.test(l)) && list.some((m) => hasLetter(m, headings)))
      continue;
    // Left and right: `l` and `r` together; one of them with another letter is something else.
    if (!machines && letters && labels.some((l) => "lr".includes(l)) && labels.join("") !== "lr") continue;
    const columns = new Map<number, string>();
    for (const member of list) for (const [label, column] of member) columns.set(column, label);
    if (best === undefined || columns.size > best.columns.size) best = { labels, columns };
  }
  if (best === undefined) return none;
  const found = withBare(best, headings);
  const order = [...found.columns].sort((a, b) => a[0] - b[0]).map(([, label]) => label);
  return { labels: headings.map((_, c) => found.columns.get(c)), motors: [...new Set(order)] };
}

interface Family {
  readonly labels: readonly string[];
  readonly columns: ReadonlyMap<number, string>;
}

/** What is called by the name of its motor alone, with nothing but a unit behind it (`FL_A` beside `FL_set_rpm`), is of
 * that motor, where several have such a column. */
function withBare({ labels, columns }: Family, headings: readonly string[]): Family {
  const bare = new Map<number, string>();
  for (const [column, heading] of headings.entries()) {
    const words = wordsOf(heading);
    if (words.length === 1 && words[0].length > 1 && labels.includes(words[0]) && !columns.has(column))
      bare.set(column, words[0]);
  }
  return new Set(bare.values()).size < 2
    ? { labels, columns }
    : { labels, columns: new Map([...columns, ...bare]) };
}

/** A letter beside a word for a machine: `Motor A current`, `A轴电流`. */
function namesMachine(heading: string, letter: string): boolean {
  const words = wordsOf(heading);
  const at = words.indexOf(letter);
  const behind = words[at + 1] ?? "";
  return at >= 0 && (machine.test(words[at - 1] ?? "") || /^(axis|achse|轴|軸|축|电机|電機)/.test(behind));
}

const machine =
  /^(motor|axis|drive|joint|wheel|servo|achse|antrieb|moteur|axe|motore|asse|eje|eixo|os|ось|轴|軸|축|电机|電機|モータ|모터)$/;

const mostWords = 40;

/** True when the word beside the label is the letter of a current or a voltage. */
function hasLetter(members: ReadonlyMap<string, number>, headings: readonly string[]): boolean {
  return [...members.values()].every((c) => /^[iuve] /.test(wordsOf(headings[c]).join(" ")));
}

/** True when the only numbered quantity is one that every shaft has its own of. */
function shafts(list: readonly ReadonlyMap<string, number>[], headings: readonly string[]): boolean {
  return list.some((m) =>
    [...m.values()].every((c) =>
      wordsOf(headings[c]).some((w) =>
        meaningOf(w)?.alternatives.some((a) => a.quantity === "speed" || a.quantity === "position"),
      ),
    ),
  );
}

/** Numbers, letters, names and sides may tell motors apart; words for quantities and for set and actual may not. */
function mayLabel(word: string): boolean {
  if (/^\d{1,3}$/.test(word) || sides.has(word) || ordersIn(word).length > 0) return true;
  const meaning = meaningOf(word);
  if (meaning === undefined) return true;
  return /^([xyzab]|load|motor|joint|wheel|main|gearbox)$/.test(word);
}
