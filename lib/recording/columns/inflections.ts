import type { SymbolMeaning } from "./tables/symbols.js";

/** What one word of a heading may mean. */
export interface WordMeaning {
  readonly alternatives: readonly SymbolMeaning[];
  /** Rank of what the word speaks of: the highest of a heading is its subject, the others describe it. */
  readonly rank: number;
  /** The word marks something other than the shaft or winding of the motor. */
  readonly elsewhere?: boolean;
}

/** Endings by which the forms of one noun or participle differ in the languages of the tables (from memory). */
const endings = new Set(
  (
    "|a|e|i|o|u|y|s|n|m|t|em|er|es|en|ou|om|ej|ie|ia|in|na|ne|ni|at|et|ot|as|os|is|us|ek|an|un|nak|ban|nek|" +
    "aja|aan|een|ta|ja|k|gi|" +
    "а|я|о|е|и|і|у|ю|ы|ь|ий|ый|ой|ая|яя|ое|ее|ие|ые|ого|ему|ому|ою|ия|ии|ів|ов|ом|ем|ам|ями|ах|ості|ість|" +
    "η|ης|ο|ος|ου|ον|α|ας|ες|ων|ι|ια|ιας|ς"
  ).split("|"),
);
const shortestStem = 4;
const longestWord = 20;
/** What another form of a word tells, against the word itself (judgement). */
const lessSure = 0.9;

const found = new Map<string, WordMeaning | undefined>();
const mostFound = 5000;

/**
 * Meaning of another form of one word of the tables: `motora`, `torku`, `заданий`. Forms of two words that mean
 * different things are none.
 *
 * @param word folded, and in no table itself
 */
export function inflectedOf(
  word: string,
  lexicon: ReadonlyMap<string, WordMeaning>,
): WordMeaning | undefined {
  if (word.length <= shortestStem || word.length > longestWord) return undefined;
  if (found.has(word)) return found.get(word);
  const meaning = closest(word, lexicon);
  if (found.size < mostFound) found.set(word, meaning);
  return meaning;
}

function closest(word: string, lexicon: ReadonlyMap<string, WordMeaning>): WordMeaning | undefined {
  let longest = 0;
  let nearest: WordMeaning | undefined;
  let one = true;
  for (const [whole, meaning] of lexicon) {
    const same = sharedStem(word, whole);
    if (same === 0 || same < longest) continue;
    if (same > longest) {
      longest = same;
      nearest = meaning;
      one = true;
    } else if (nearest !== undefined && !alike(nearest, meaning)) one = false;
  }
  const [only, ...more] = nearest?.alternatives ?? [];
  if (!one || nearest === undefined || only === undefined || more.length > 0 || only.weight < 0.8)
    return undefined;
  return { ...nearest, alternatives: [{ ...only, weight: lessSure * only.weight }] };
}

/** Letters that two words have in common when they differ by an ending only, else 0. A short stem of Latin letters
 * bears no more than another vowel (`start` is no form of `star`). */
function sharedStem(word: string, whole: string): number {
  if (whole.length < shortestStem || whole[0] !== word[0] || Math.abs(whole.length - word.length) > 3)
    return 0;
  let same = 0;
  while (same < whole.length && whole[same] === word[same]) same += 1;
  const [rest, own] = [whole.slice(same), word.slice(same)];
  if (same < shortestStem || !endings.has(rest) || !endings.has(own)) return 0;
  if (same === shortestStem && /^[a-z]/.test(word) && !/^[aeiouy]*$/.test(own + rest)) return 0;
  return same;
}

function alike(a: WordMeaning, b: WordMeaning): boolean {
  const [x, y] = [a.alternatives[0], b.alternatives[0]];
  return x?.quantity === y?.quantity && x?.side === y?.side && x?.axis === y?.axis;
}
