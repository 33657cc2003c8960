import { meaningOf } from "./lexicon.js";
import { wordsOfName } from "./wordsOfName.js";

/**
 * Whether the name of a current says that it is the one that makes the torque of a field-oriented drive, in whatever
 * language the rest of the name is written.
 *
 * @example
 * namesQuadrature("consigne courant q"); // => true
 * namesQuadrature("motor current"); // => false
 */
export function namesQuadrature(heading: string): boolean {
  return wordsOfName(heading).some((word) => meaningOf(word)?.alternatives.some(({ axis }) => axis === "q"));
}
