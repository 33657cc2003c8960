import { wordsOf } from "./foldedWords.js";
import { workedOutWords } from "./tables/sideWords.js";

/** Languages that are written without blanks between words. */
const joinedScripts: ReadonlySet<string> = new Set(["zh", "ja", "ko", "th"]);

const written = Object.entries(workedOutWords).flatMap(([language, words]) =>
  words.split(" ").map((word) => ({ word, joined: joinedScripts.has(language) })),
);
const apart = new Set(written.map(({ word }) => word));
const within = written.filter(({ joined }) => joined).map(({ word }) => word);

/**
 * The heading of a column says that its values were worked out from others: an estimated torque follows the current
 * that it is estimated from, whatever the shaft does.
 *
 * @example
 * workedOut("torque_est"); // => true
 * workedOut("shaft torque [N.m]"); // => false
 */
export function workedOut(heading: string): boolean {
  return wordsOf(heading).some((word) => apart.has(word)) || within.some((word) => heading.includes(word));
}
