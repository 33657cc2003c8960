import type { WordMeaning } from "./inflections.js";

/** What a word without its vowels tells, against the word itself (judgement). */
const lessSure = 0.8;
const shortestWord = 5;

/** Meanings of the words whose consonants are these, in order, by the first four of them. */
let byConsonants: Map<string, { readonly consonants: string; readonly meaning: WordMeaning }[]> | undefined;

/**
 * Meaning of a word that is written without its vowels: `pstn`, `vltg`, `drhzl`, `gschw`. All words of these
 * consonants, or of such a beginning, mean the same, or it means nothing.
 *
 * @param word folded, and in no table itself
 */
export function ofConsonants(
  word: string,
  lexicon: ReadonlyMap<string, WordMeaning>,
): WordMeaning | undefined {
  if (!/^[bcdfghjklmnpqrstvwxz]{4,9}y?$/.test(word)) return undefined;
  byConsonants ??= skeletons(lexicon);
  const own = word.replace(/y$/, "").replace(/(.)\1+/g, "$1");
  const begins = (byConsonants.get(own.slice(0, 4)) ?? []).filter(({ consonants }) =>
    consonants.startsWith(own),
  );
  // `wnkl` is an angle and no angular speed.
  const whole = begins.filter(({ consonants }) => consonants === own);
  let found: WordMeaning | undefined;
  for (const { meaning } of whole.length > 0 ? whole : begins) {
    if (found !== undefined && !alike(found, meaning)) return undefined;
    found ??= meaning;
  }
  const [only, ...more] = found?.alternatives ?? [];
  if (found === undefined || only === undefined || more.length > 0 || only.weight < 0.8) return undefined;
  return { ...found, alternatives: [{ ...only, weight: lessSure * only.weight }] };
}

function skeletons(
  lexicon: ReadonlyMap<string, WordMeaning>,
): Map<string, { readonly consonants: string; readonly meaning: WordMeaning }[]> {
  const out = new Map<string, { readonly consonants: string; readonly meaning: WordMeaning }[]>();
  for (const [whole, meaning] of lexicon) {
    if (whole.length < shortestWord || !/^[a-z]+$/.test(whole)) continue;
    const consonants = (whole[0] + whole.slice(1).replace(/[aeiouy]/g, "")).replace(/(.)\1+/g, "$1");
    if (consonants.length < 4) continue;
    const key = consonants.slice(0, 4);
    out.set(key, [...(out.get(key) ?? []), { consonants, meaning }]);
  }
  return out;
}

function alike(a: WordMeaning, b: WordMeaning): boolean {
  const [x, y] = [a.alternatives[0], b.alternatives[0]];
  return x?.quantity === y?.quantity && x?.side === y?.side && x?.axis === y?.axis;
}
