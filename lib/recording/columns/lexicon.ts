import { ofConsonants } from "./consonants.js";
import { fold } from "./foldedWords.js";
import { inflectedOf, type WordMeaning } from "./inflections.js";
import type { Axis, Quantity, Side } from "./roles.js";
import { quantityWords } from "./tables/quantityWords.js";
import { axisWords, commandWords, elsewhereWords, measuredWords, neutralWords } from "./tables/sideWords.js";
import { symbols } from "./tables/symbols.js";
import { type Concept, concepts, romanised, wordsOfLanguages } from "./tables/wordsOfLanguages.js";

/** Subjects of a heading in order: "torque current" is a current, "speed error" an error, "motor temperature" a
 * temperature. */
const ranks: Readonly<Record<Quantity, number>> = {
  other: 10,
  acceleration: 9,
  time: 8,
  temperature: 7,
  electricalAngle: 7,
  sweepAngle: 7,
  duty: 6,
  current: 6,
  voltage: 6,
  speed: 5,
  torque: 4,
  position: 3,
  sample: 3,
  index: 3,
  run: 2,
  ordering: 2,
  motor: 0.3,
};

/** Rank of words that are as often a prefix: anything else in the heading is its subject. */
const prefixRank = 1.5;

const lexicon = new Map<string, WordMeaning>();
const scripts = /[^\u0000-\u024f]/;

function add(words: string, meaning: WordMeaning): void {
  for (const raw of words.split(" ")) {
    const word = fold(raw);
    if (word === "") continue;
    const known = lexicon.get(word);
    if (known === undefined) lexicon.set(word, meaning);
    // A word of two meanings (a language's `moment`, another's) keeps both.
    else if (known.alternatives !== meaning.alternatives && !known.elsewhere) {
      lexicon.set(word, {
        alternatives: [...known.alternatives, ...meaning.alternatives],
        rank: Math.max(known.rank, meaning.rank),
      });
    }
  }
}

function build(): void {
  for (const [quantity, lists] of Object.entries(quantityWords)) {
    const alternatives = [{ quantity: quantity as Quantity, weight: 1 }];
    for (const [kind, words] of Object.entries(lists ?? {}))
      add(words, { alternatives, rank: kind === "prefix" ? prefixRank : ranks[quantity as Quantity] });
  }
  const sides: readonly [Side, Readonly<Record<string, string>>][] = [
    ["command", commandWords],
    ["measured", measuredWords],
  ];
  for (const [side, lists] of sides) {
    const alternatives = [{ side, weight: 1 }];
    for (const words of Object.values(lists)) add(words, { alternatives, rank: 0 });
  }
  for (const [axis, words] of Object.entries(axisWords)) {
    add(words ?? "", { alternatives: [{ axis: axis as Axis, weight: 1 }], rank: 0 });
  }
  add(elsewhereWords, { alternatives: [], rank: 0, elsewhere: true });
  for (const word of neutralWords.split(" "))
    if (!lexicon.has(fold(word))) lexicon.set(fold(word), { alternatives: [], rank: 0 });
  for (const list of [...Object.values(wordsOfLanguages), romanised])
    for (const [k, words] of list.split("|").entries()) addUnknown(words, meaningOfConcept(concepts[k]));
  // Letters and short names come last and decide alone: their table holds all they may mean.
  for (const [symbol, alternatives] of Object.entries(symbols)) {
    const rank = Math.max(
      ...alternatives.map((a) =>
        a.quantity === undefined ? 0 : (a.quantity === "other" ? 2 : ranks[a.quantity]) * a.weight,
      ),
    );
    // A letter beside a word describes it: `m_power` is a power.
    lexicon.set(fold(symbol), { alternatives, rank: symbol.length === 1 ? 0.2 * rank : rank });
  }
}

/** Shortest word of Latin letters that a language adds: a shorter one is an abbreviation of something as often. */
const shortestAdded = 4;

/** Shortest such word that is looked for within another: `pare` is no part of `spare`. */
const shortestWithin = 6;
const neverWithin = new Set<string>();

/** What no other table has; what one has keeps its meaning. */
function addUnknown(words: string, meaning: WordMeaning): void {
  for (const raw of words.split(/\s+/)) {
    const word = fold(raw);
    const latin = !scripts.test(word);
    if ((latin && word.length < shortestAdded) || lexicon.has(word)) continue;
    lexicon.set(word, meaning);
    if (latin && word.length < shortestWithin) neverWithin.add(word);
  }
}

function meaningOfConcept(concept: Concept): WordMeaning {
  if (concept === "motor") return { alternatives: [], rank: 0 };
  if (concept === "bus") return { alternatives: [{ axis: "bus", weight: 1 }], rank: 0 };
  if (concept === "command" || concept === "measured")
    return { alternatives: [{ side: concept, weight: 1 }], rank: 0 };
  const quantity = concept === "error" || concept === "power" ? "other" : concept;
  return { alternatives: [{ quantity, weight: 1 }], rank: ranks[quantity] };
}

/** The meaning of one word, or undefined when it is in no table. A word of four letters or more may be the beginning of
 * one. */
export function meaningOf(word: string): WordMeaning | undefined {
  const told = known(word) ?? beginningOf(word);
  if (told !== undefined) return told;
  const other = inflectedOf(word, lexicon);
  if (other !== undefined) return guessed(other);
  const without = ofConsonants(word, lexicon);
  return without === undefined ? undefined : guessed(without);
}

/**
 * Part of a word that means no channel, or another form of it, is no subject of a heading beside a word that means one:
 * `Band1.Velocity` is no bandwidth, `stator` no state.
 */
function guessed(meaning: WordMeaning): WordMeaning {
  return meaning.alternatives[0]?.quantity === "other" ? { ...meaning, rank: guessedRank } : meaning;
}

const guessedRank = 0.2;

/** The meaning of a word as it stands in a table, not as the beginning of one. */
export function known(word: string): WordMeaning | undefined {
  if (lexicon.size === 0) build();
  return lexicon.get(word);
}

const beginnings = new Map<string, WordMeaning | undefined>();
const mostBeginnings = 5000;

/** `veloc`, `temper`, `geschwind`: when all words that begin so speak of one quantity, or of one side, the abbreviation does too. */
function beginningOf(word: string): WordMeaning | undefined {
  if (word.length < 4 || word.length > 20 || scripts.test(word)) return undefined;
  if (beginnings.has(word)) return beginnings.get(word);
  let found: WordMeaning | undefined;
  let one = true;
  const told = (meaning: WordMeaning | undefined): string | undefined =>
    meaning?.alternatives[0]?.quantity ?? meaning?.alternatives[0]?.side;
  for (const [whole, meaning] of lexicon) {
    if (!whole.startsWith(word)) continue;
    if (told(meaning) === undefined || meaning.alternatives.length !== 1) one = false;
    if (found !== undefined && told(found) !== told(meaning)) one = false;
    found ??= meaning;
  }
  const meaning =
    one && found !== undefined
      ? guessed({ ...found, alternatives: [{ ...found.alternatives[0], weight: 0.85 }] })
      : undefined;
  if (beginnings.size < mostBeginnings) beginnings.set(word, meaning);
  return meaning;
}

/**
 * Parts of a word written together (`drehzahlistwert`, `iqref`, `目标转速`), longest known parts first; undefined when too
 * little of it is known.
 *
 * @example
 * partsOf("drehzahlsollwert"); // => ["drehzahl", "sollwert"]
 */
export function partsOf(word: string): readonly string[] | undefined {
  if (meaningOf(word) !== undefined) return [word];
  const n = word.length;
  if (n > 60 || n < 2) return undefined;
  const script = scripts.test(word);
  for (const symbol of [/^(iq|id|ia|ib|ic|iu|iv|iw|uq|ud|vq|vd)(.{2,})$/, /^([iunmwvp])(.{2,})$/]) {
    const short = symbol.exec(word);
    if (short !== null && isSide(short[2])) return [short[1], short[2]];
  }
  // Cheapest way through: a known part costs one, an unknown letter three.
  const cost = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  const from = new Int32Array(n + 1);
  cost[0] = 0;
  for (let end = 1; end <= n; end += 1) {
    for (let start = Math.max(0, end - 24); start < end; start += 1) {
      const piece = word.slice(start, end);
      const length = end - start;
      const isKnown = length >= (script ? 1 : 3) && known(piece) !== undefined && !neverWithin.has(piece);
      const price = cost[start] + (isKnown ? 1 : 3 * length);
      if (price < cost[end]) {
        cost[end] = price;
        from[end] = start;
      }
    }
  }
  const parts: string[] = [];
  let unknown = 0;
  for (let end = n; end > 0; end = from[end]) {
    const piece = word.slice(from[end], end);
    if (known(piece) === undefined || neverWithin.has(piece) || piece.length < (script ? 1 : 3))
      unknown += piece.length;
    parts.unshift(piece);
  }
  // Letters that are left over are no words; a short word has none to spare but its first (`jpos`).
  const first = parts[0].length === 1 && parts.slice(1).every((p) => known(p) !== undefined);
  const spare = script ? 0.5 : n < 6 && !first ? 0 : 0.3;
  if (unknown <= spare * n) return parts.filter((p) => script || (known(p) !== undefined && p.length > 1));
  const last = script ? undefined : lastPart(word);
  return last === undefined ? undefined : [last];
}

/** The word a compound ends in, where that plainly names a quantity: `wirkstrom`, `achsposition`,
 * `ausgangsspannung`. */
function lastPart(word: string): string | undefined {
  const short = /^.{2,}(temp|volt|curr|torq|amps|rpms)$/.exec(word);
  if (short !== null) return short[1];
  for (let from = 2; from <= Math.min(10, word.length - 5); from += 1) {
    const piece = word.slice(from);
    const alternatives = known(piece)?.alternatives;
    if (neverWithin.has(piece)) continue;
    if (alternatives?.length === 1 && alternatives[0].quantity !== undefined && alternatives[0].weight === 1)
      return piece;
  }
  return undefined;
}

function isSide(word: string): boolean {
  return meaningOf(word)?.alternatives.some((a) => a.side !== undefined && a.quantity === undefined) === true;
}
