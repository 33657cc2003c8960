const point = 46;
const comma = 44;

/**
 * True for digits with at most one decimal sign, a sign before them and an exponent behind: `-1.25e3`. Read character
 * by character, which costs a fraction of a pattern: every cell of a table is asked several times.
 *
 * @param decimal the decimal sign; either of point and comma when absent
 * @example
 * isPlain("1,5", ","); // => true
 */
export function isPlain(text: string, decimal?: "." | ","): boolean {
  const sign = decimal === "," ? comma : point;
  const other = decimal === undefined ? comma : sign;
  const n = text.length;
  let at = isSign(text.charCodeAt(0)) ? 1 : 0;
  const whole = digitsFrom(text, at);
  let digits = whole - at;
  at = whole;
  const c = text.charCodeAt(at);
  if (c === sign || c === other) {
    const end = digitsFrom(text, at + 1);
    digits += end - at - 1;
    at = end;
  }
  if (digits === 0) return false;
  if (at < n && (text.charCodeAt(at) | 32) === 101) {
    const from = isSign(text.charCodeAt(at + 1)) ? at + 2 : at + 1;
    at = digitsFrom(text, from);
    if (at === from) return false;
  }
  return at === n;
}

/** True where nothing but digits, signs, points and commas stands: no unit, no word, no exponent. */
export function isBare(text: string): boolean {
  for (let i = 0; i < text.length; i += 1) {
    const c = text.charCodeAt(i);
    if (c < 43 || c > 57 || c === 47) return false;
  }
  return true;
}

const isSign = (c: number): boolean => c === 43 || c === 45;

function digitsFrom(text: string, from: number): number {
  let at = from;
  while (at < text.length) {
    const c = text.charCodeAt(at);
    if (c < 48 || c > 57) break;
    at += 1;
  }
  return at;
}
