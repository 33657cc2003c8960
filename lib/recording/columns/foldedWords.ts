import { Kept } from "./kept.js";

const letters: Readonly<Record<string, string>> = {
  ß: "ss",
  ł: "l",
  ø: "o",
  đ: "d",
  ı: "i",
  æ: "ae",
  œ: "oe",
};

/** Lower case without accents; other scripts as they are. Full-width and half-width forms become one. */
export function fold(text: string): string {
  return text
    .normalize("NFKD")
    .replace(/[\u0300-\u036f]/g, "")
    .normalize("NFC")
    .toLowerCase()
    .replace(/[ßłøđıæœ]/g, (c) => letters[c]);
}

/**
 * Words of a heading, in order: split at punctuation, at changes of case and between letters and digits; folded.
 *
 * @example
 * wordsOf("Status_RPM_V1"); // => ["status", "rpm", "v", "1"]
 */
export function wordsOf(heading: string): readonly string[] {
  return lately.of(heading, parted);
}

/** Names parted lately; longer texts are no names. */
const lately = new Kept<readonly string[]>(2000, 300);

function parted(heading: string): string[] {
  return (
    heading
      .replace(/\*/g, " star ")
      // French and Italian: `d'alimentation`, `dell'asse`.
      .replace(/(^|[\s_])(d|l|dell|all)['’](?=\p{L}{3})/giu, "$1")
      .replace(/([A-Za-z])(?=[相轴軸축상])/g, "$1 ")
      .replace(/([\p{Ll}])([\p{Lu}])/gu, "$1 $2")
      .replace(/([\p{Lu}]+)([\p{Lu}][\p{Ll}]{2})/gu, "$1 $2")
      .replace(/(\p{L})(\p{N})/gu, "$1 $2")
      .replace(/(\p{N})(\p{L})/gu, "$1 $2")
      .split(/[^\p{L}\p{N}\p{M}#]+/u)
      .map(fold)
      .filter((w) => w !== "")
  );
}
