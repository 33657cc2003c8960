import type { WordMeaning } from "./inflections.js";
import { MarksOfName } from "./marksOfName.js";
import { type Axis, meanings, type Quantity, roleFacts, type Side } from "./roles.js";
import { commandHandedOn, processValue, type SymbolMeaning, setPoint } from "./tables/symbols.js";
import { sideOf, type WordInContext } from "./wordsInContext.js";

/** What the words of a heading say together. */
export class SaidByWords {
  /** How far the heading speaks of each quantity. */
  readonly quantity = new Map<Quantity, number>();
  readonly marks = new MarksOfName();
  /** Words that were understood and told something, as they stand in the heading. */
  readonly told: string[] = [];
  /** A word of no table is among them. */
  unknown = false;
  /** They name another part than the motor. */
  elsewhere = false;
  namesQuantity = false;
  /** Likelihood that is left to quantities that are not named. */
  leftOpen = 0;
  /** A set or actual value of something that is not named. */
  open = false;
  /** The highest rank of a word: that of the subject of the heading. */
  private readonly subject: number;
  /** Quantities that the subject surely is. */
  private readonly subjects: ReadonlySet<Quantity | undefined>;

  constructor(
    readonly words: readonly string[],
    readonly read: readonly WordInContext[],
  ) {
    this.subject = Math.max(0, ...read.map(({ meaning }) => meaning?.rank ?? 0));
    this.subjects = new Set(
      read.flatMap(({ meaning }) =>
        meaning !== undefined && this.isSubject(meaning) && meaning.alternatives.length === 1
          ? meaning.alternatives.map((a) => a.quantity)
          : [],
      ),
    );
    for (const { word, meaning } of read) this.add(word, meaning);
  }

  /** Adds what is said of the phase. */
  addPhase(phase: Axis | undefined): void {
    if (phase !== undefined) this.marks.add({ axis: phase, weight: 1 }, 1);
    const letter = phaseLetter(this.words);
    if (letter !== undefined) this.marks.add({ axis: letter, weight: 0.95 }, 0.95);
  }

  /** A heading that says nothing but set or actual value: of what a loop controls, mostly a speed or a position. */
  addBareSide(): void {
    const bare = this.namesQuantity || this.unknown || this.elsewhere ? undefined : bareSide(this.read);
    if (bare === undefined) return;
    this.namesQuantity = true;
    this.open = true;
    this.leftOpen = 0.02;
    const manual = bare === "command" && this.words.some((w) => handedOn.has(w));
    mix(this.quantity, manual ? commandHandedOn : bare === "command" ? setPoint : processValue, {
      alternatives: [],
      rank: 1,
    });
  }

  /** A last `d` is the desired value of what moves a shaft; of a current it is the direct axis. */
  addDesired(): void {
    if (this.words.length > 1 && this.words.at(-1) === "d")
      for (const q of ["speed", "position", "torque"] as const)
        this.marks.add({ quantity: q, side: "command", weight: 0.75 }, 0.75);
  }

  private add(word: string, meaning: WordMeaning | undefined): void {
    if (meaning === undefined) {
      if (/\p{L}{2,}/u.test(word)) this.unknown = true;
      return;
    }
    if (meaning.elsewhere) this.elsewhere = true;
    if (meaning.alternatives.length > 0) this.told.push(word === "ucontrol" ? "u" : word);
    for (const a of meaning.alternatives) this.addMark(a, word, meaning);
    const mine = meaning.alternatives.filter((a) => a.quantity !== undefined);
    if (mine.length === 0 || !this.isSubject(meaning)) return;
    this.namesQuantity = true;
    mix(this.quantity, mine, meaning);
    // With the weight of what it says of no quantity, a word leaves all of them open.
    this.leftOpen = Math.max(this.leftOpen, 0.1 * weightOf(undefined, meaning));
    if (Math.max(...mine.map((a) => a.weight)) <= 0.5 && sideOf(meaning) !== undefined) this.open = true;
  }

  /** What a word says of side and axis, by one of its meanings. */
  private addMark(a: SymbolMeaning, word: string, meaning: WordMeaning): void {
    const general = sideOf(meaning);
    // A letter behind a word may stand for anything: the `r` of the rotor, of the right one, of a reference.
    if (general !== undefined) {
      const sure = word.length === 1 && this.words.length > 1 ? 0.5 : 1;
      this.marks.add({ side: general, weight: sure }, sure);
      return;
    }
    // What is said of side and axis holds given the quantity: `id` may be no current, but a current of that name is
    // the d current.
    const alike = weightOf(a.quantity, meaning);
    // A word that is not the subject only describes it.
    const describes = a.quantity === undefined && !this.isSubject(meaning);
    const weight = describes ? 1 : a.quantity === undefined ? a.weight : Math.min(1, a.weight / alike);
    // Only the subject of the heading speaks for its own quantity; an encoder says all the same that a position is
    // measured; beside a word for the same quantity a symbol says which one (`courant Id mesuré`).
    const speaks =
      a.quantity === undefined ||
      this.isSubject(meaning) ||
      a.weight > 0.8 ||
      (a.axis !== undefined && this.subjects.has(a.quantity));
    if (speaks) this.marks.add(a, weight);
  }

  private isSubject({ rank }: WordMeaning): boolean {
    return rank >= this.subject - 1e-9;
  }
}

/** The weight of all that a word says of a quantity. */
function weightOf(quantity: Quantity | undefined, { alternatives }: WordMeaning): number {
  return alternatives.reduce((sum, b) => sum + (b.quantity === quantity ? b.weight : 0), 0);
}

/** The phase of a heading that says `phase` and a letter, whatever stands beside it. */
function phaseLetter(words: readonly string[]): Axis | undefined {
  if (!words.some((w) => phaseWords.has(w))) return undefined;
  const letters = words.filter((w) => phaseLetters[w] !== undefined);
  return letters.length === 1 ? phaseLetters[letters[0]] : undefined;
}

const phaseWords = new Set(["phase", "phasen", "phasenstrom", "fase", "faza", "faze", "фаза", "фазы", "相"]);
const phaseLetters: Readonly<Record<string, Axis>> = { u: "u", v: "v", w: "w", a: "u", b: "v", c: "w" };

/** The side that all words of a heading speak of, where they speak of nothing else. */
function bareSide(
  known: readonly { readonly word: string; readonly meaning?: WordMeaning }[],
): Side | undefined {
  const sides = new Set<Side | undefined>();
  for (const { word, meaning } of known) {
    // A number tells one of several apart.
    if (/^\d+$/.test(word)) continue;
    if (meaning === undefined) return undefined;
    if (meaning.alternatives.some((a) => a.axis !== undefined || a.quantity !== undefined)) return undefined;
    for (const a of meaning.alternatives) sides.add(a.side);
  }
  return sides.size === 1 ? [...sides][0] : undefined;
}

/** Words for what is handed on to a motor or an amplifier as often as to a loop. */
const handedOn = new Set(
  "command commands cmd cmds commanded commande comando comandada comandado comandata comandato mando".split(
    " ",
  ),
);

/**
 * Two words of the same rank share the likelihood: each alternative counts where any word speaks of it. The weights of
 * a word of several meanings say how often a column of that name is this or that; how common the quantity is anyway is
 * divided out, since it is counted elsewhere.
 */
function mix(
  quantity: Map<Quantity, number>,
  alternatives: WordMeaning["alternatives"],
  meaning: WordMeaning,
): void {
  const total = alternatives.reduce((sum, a) => sum + a.weight, 0);
  const scale = total > 1 || meaning.rank >= 1 ? 1 / Math.max(1, total) : 1;
  const several = new Set(alternatives.map((a) => a.quantity)).size > 1;
  const own = alternatives.map((a) => a.weight * (several ? commonness(a.quantity as Quantity) ** -0.75 : 1));
  const all = own.reduce((sum, w) => sum + w, 0);
  for (const [k, a] of alternatives.entries()) {
    const q = a.quantity as Quantity;
    quantity.set(q, Math.max(quantity.get(q) ?? 0, (own[k] * scale * total) / all));
  }
}

/** How common columns of a quantity are before anything is looked at. */
function commonness(quantity: Quantity): number {
  let sum = 0;
  for (const role of meanings) if (roleFacts[role].quantity === quantity) sum += roleFacts[role].prior;
  return Math.max(sum, 0.02);
}
