import { wordsOf } from "./foldedWords.js";
import { isFrequency } from "./frequencyWords.js";
import { meaningOf } from "./lexicon.js";

/** Units in which a quantity is written where only a scale of ten stands behind its name (common practice, no
 * source). */
const unitOf = new Map<string, string>([
  ["current", "A"],
  ["voltage", "V"],
  ["torque", "N.m"],
  ["temperature", "Cel"],
  ["speed", "{rev}/min"],
]);

/**
 * The unit, with its scale, of whole numbers that are so many times a quantity whose unit nobody says: `Current x100`
 * is in hundredths of an ampere. Nothing where the words name no quantity, or several.
 *
 * @example
 * scaleOfTen("Current", 100); // => "0.01 A"
 */
export function scaleOfTen(words: string, times: number): string | undefined {
  const named = new Set(
    wordsOf(words).flatMap((word) => {
      if (isFrequency(word)) return ["Hz"];
      const quantity = meaningOf(word)?.alternatives.find((a) => a.weight > 0.8)?.quantity;
      return quantity === undefined ? [] : [unitOf.get(quantity)];
    }),
  );
  const [unit] = named;
  return named.size === 1 && unit !== undefined ? `${1 / times} ${unit}` : undefined;
}
