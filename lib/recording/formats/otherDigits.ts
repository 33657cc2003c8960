/** The zeros of the decimal digits of other scripts (Unicode, general category Nd), each followed by its other nine. */
const zeros = [
  0x0660, 0x06f0, 0x07c0, 0x0966, 0x09e6, 0x0a66, 0x0ae6, 0x0b66, 0x0be6, 0x0c66, 0x0ce6, 0x0d66, 0x0de6,
  0x0e50, 0x0ed0, 0x0f20, 0x1040, 0x1090, 0x17e0, 0x1810, 0x1946, 0x19d0, 0x1a80, 0x1a90, 0x1b50, 0x1bb0,
  0x1c40, 0x1c50, 0xa620, 0xa8d0, 0xa900, 0xa9d0, 0xa9f0, 0xaa50, 0xabf0, 0xff10,
];
const digits = zeros.map((z) => `${String.fromCharCode(z)}-${String.fromCharCode(z + 9)}`).join("");
/** Marks of the direction of writing, which stand about numbers in lines from right to left. */
const direction = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069";
const other = new RegExp(`[${digits}]|\\d[٫．]|[${direction}][-+−]?\\d|\\d[${direction}]`);
/** Without any of these characters, as nearly every text is, there is nothing to look for. */
const beyond = /[\u061c-\uffff]/;
const word = new RegExp(`[\\p{L}\\p{M}\\d_${digits}]+`, "gu");
const digit = new RegExp(`[${digits}]`, "g");
const directed = new RegExp(`[${direction}]+(?=[-+−－﹣＋]?\\d)|(?<=[\\d٫.+−－-])[${direction}]+`, "g");
/** The comma and the semicolon of Arabic, where they part numbers. */
const parting = [
  { sign: "،", parts: /\d،\s*[-+.\d]/, european: "," },
  { sign: "؛", parts: /\d؛\s*[-+.\d]/, european: ";" },
];

/**
 * True where numbers are written in the digits of another script than the European one, or with its signs: to be read
 * after `europeanDigits`.
 */
export function hasOtherDigits(text: string): boolean {
  return beyond.test(text) && other.test(text);
}

/**
 * A text with the numbers of other scripts (Arabic, Persian, Devanagari, Bengali, Thai, of full width, ...) in European
 * digits, their decimal signs as points, their signs of thousands left out; every line keeps its place. Words that
 * begin with a letter stay as they are, digits and all. The signs are those of Unicode's chapters on the scripts
 * (Arabic decimal separator U+066B, thousands U+066C, comma U+060C, percent U+066A) and the full-width forms.
 *
 * @example
 * europeanDigits("٠٥:٥٠:٠١;−٠٫٥;١٬٢٣٤٫٠"); // => "05:50:01;-0.5;1234.0"
 */
export function europeanDigits(text: string): string {
  const plain = text
    .replace(word, (w) => (/^[\p{L}_]/u.test(w) ? w : w.replace(digit, digitOf)))
    .replace(directed, "")
    .replace(/(?<=\d)٬(?=\d{3})/g, "")
    .replace(/[٫．](?=\d)|(?<=\d)[٫．]/g, ".")
    .replace(/(?<=\d)：(?=\d)/g, ":")
    .replace(/(?<=\d)／(?=\d)/g, "/")
    .replace(/[−－﹣](?=[\d.])/g, "-")
    .replace(/＋(?=[\d.])/g, "+")
    .replace(/(?<=\d ?)[٪％]/g, "%");
  // Where they part numbers they part the names above them too.
  return parting.reduce(
    (t, { sign, parts, european }) => (parts.test(t) ? t.replaceAll(sign, european) : t),
    plain,
  );
}

function digitOf(character: string): string {
  const code = character.charCodeAt(0);
  return String(code - zeros.findLast((z) => z <= code)!);
}
