import { wordsOf } from "./foldedWords.js";

/** Beginnings of words for a frequency, folded, and the words of scripts without blanks between them. */
const beginnings =
  /^(f|fout|freq\p{L}*|frek\p{L}*|frec\p{L}*|czestotliw\p{L}*|kmitoc\p{L}*|taajuu\p{L}*|dazni\p{L}*|sagedus\p{L}*|частот\p{L}*|честот\p{L}*|συχνοτ\p{L}*|tanso)$/u;
const within = /频率|頻率|周波数|주파수|ความถี่|تردد|فرکانس|תדר|आवृत्ति|কম্পাঙ্ক|அதிர்வெண்/u;

/**
 * Whether a word of a heading is one for a frequency.
 *
 * @example
 * isFrequency("frequenz"); // => true
 */
export function isFrequency(word: string): boolean {
  return beginnings.test(word) || within.test(word);
}

/** Whether a heading speaks of a frequency in full: a letter may be anything. */
export function speaksOfFrequency(heading: string): boolean {
  return within.test(heading) || wordsOf(heading).some((word) => word.length > 1 && isFrequency(word));
}
