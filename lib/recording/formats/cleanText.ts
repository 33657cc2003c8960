import { linesAtBreaks } from "./textBreaks.js";

/** Lines looked at to see how numbers are dressed. */
const looked = 200;
const most = 0.8;
const number = String.raw`[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?`;
const commaCells = /^\s*[+-]?\d+(?:,\d+)?(?:,[ \t]+[+-]?\d+(?:,\d+)?)+,?\s*$/;
const ended = new RegExp(String.raw`^\s*${number}(?:[ \t]+${number})+[ \t]*;\s*$`);
const checked = /^\s*[$!][^*]{1,400}\*[\dA-F]{2}\s*$/i;
const enclosed = /^[ \t]*[([{]\s*[\p{L}_][\p{L}\p{N}_ ./]*[=:].*[)\]}][ \t]*$/u;
const suffixed = /\d\.?f[ \t]*[,;})]/;

/**
 * A text with the dress taken off its numbers and lines, every line kept in its place: colours of a terminal, lines of
 * boxes, true minus signs, exponents with D (`1.5D-03`), single-precision suffixes of C, checks at the end of a
 * sentence (`*1A`), commas both between cells and within numbers (`0,5, 1,2`).
 *
 * @example
 * cleanText("│ 0.1 │ −2.5 │\n└─────┘\n"); // => "| 0.1 | -2.5 |\n\n"
 */
export function cleanText(text: string): string {
  let out = text;
  if (out.includes("\u001b")) out = out.replace(/\u001b(?:\[[0-9;?]{0,20}[ -/]{0,4}[@-~]|[@-Z\\^_-])/g, "");
  if (out.includes("\u2212")) out = out.replace(/\u2212(?=[\d.,])/g, "-");
  const head = out.slice(0, 64 * 1024);
  if (/[\u2500-\u257f]/.test(head))
    out = out
      .replace(/^[\u2500-\u257f \t]+$/gm, "")
      .replace(/[\u2502\u2503\u2551]/g, "|")
      .replace(/^[ \t]*\|(.*)\|[ \t]*$/gm, "|$1|");
  if (/\d，\s*[-+\d]/.test(head)) out = out.replaceAll("，", ",");
  if (/\d\.\d+[dD][+-]\d{1,3}\b/.test(head)) out = out.replace(/(\d\.\d{0,20})[dD](?=[+-]\d{1,3}\b)/g, "$1E");
  const lines = linesAtBreaks(out.slice(0, 64 * 1024))
    .filter((l) => l.trim() !== "" && l.length < 2000)
    .slice(0, looked);
  const often = (pattern: RegExp): boolean =>
    lines.length > 4 && lines.filter((l) => pattern.test(l)).length >= most * lines.length;
  if (often(commaCells) && often(/\d,\d/)) out = out.replace(/,[ \t]+/g, ";");
  if (often(ended)) out = out.replace(/;[ \t]*$/gm, "");
  if (often(checked)) out = out.replace(/\*[\dA-F]{2}[ \t]*$/gim, "");
  if (often(/^\s*'[^',;]*'[ \t]*([,;\t])[ \t]*'[^',;]*'/))
    out = out.replace(/'([^'\n\r,;\t]{0,200})'(?=[ \t]*(?:[,;\t]|$))/gm, "$1");
  if (often(enclosed)) out = out.replace(/^[ \t]*[([{](.*)[)\]}][ \t]*$/gm, "$1");
  const sign = oddSign(lines);
  if (sign !== undefined) out = out.replaceAll(sign, "\t");
  const twice = twiceAsMany(lines);
  if (twice) out = out.replace(/^[-\d,]+[ \t]*$/gm, (l) => l.replace(/([+-]?\d+),(\d+)/g, "$1.$2"));
  if (/^[ \t]*\d+\.\d*[eE][+-]\d+[ \t]*\*[ \t]*$/m.test(head)) out = withFactor(out);
  if (/^\s*\[\[?[^\][\n\r]*[\n\r][^\][]*\]/.test(head))
    out = out.replace(/\[[^\][]{0,20000}\]/g, (m) => m.replace(/\s*[\n\r]+\s*/g, " "));
  if (often(suffixed)) out = out.replace(/(\d\.?)f(?=[ \t]*[,;})])/g, "$1");
  return out;
}

/** A sign between the numbers of nearly every line that is none of the usual ones; three numbers at least, some with a
 * fraction. */
function oddSign(lines: readonly string[]): string | undefined {
  if (lines.length < 5) return undefined;
  for (const sign of [":", "/", "^", "~", "&", "@", "!", "_"]) {
    const fit = lines.filter((l) => {
      if (!l.includes(sign)) return false;
      const cells = l.trim().split(sign);
      if (cells.length === 3 && /^\s*\d\d?:\d\d:\d\d(\.\d+)?\s*$/.test(l)) return false;
      return cells.length > 2 && /\d\.\d/.test(l) && cells.every((c) => wholeNumber.test(c.trim()));
    });
    if (fit.length >= most * lines.length) return sign;
  }
  return undefined;
}

const wholeNumber = new RegExp(`^${number}$`);

/** Commas both between cells and within numbers, without blanks: rows of whole numbers, twice as many as the heading
 * has words. */
function twiceAsMany(given: readonly string[]): boolean {
  const lines = given.filter((l) => !/^\s*(#|%|\/\/|!|\*|;)/.test(l));
  const head = lines[0]?.split(",") ?? [];
  if (lines.length < 5 || head.length < 2 || head.some((c) => c.trim() === "" || /^\s*[+-]?\d/.test(c)))
    return false;
  const fit = lines.slice(1).filter((l) => {
    const cells = l.trim().split(",");
    return (
      cells.length === 2 * head.length &&
      cells.every((c, k) => (k % 2 === 0 ? /^[+-]?\d+$/ : /^\d+$/).test(c))
    );
  });
  return fit.length >= 0.95 * (lines.length - 1);
}

/** Numbers below a common factor (`1.0e+03 *`), as some programs print a matrix, with that factor. */
function withFactor(text: string): string {
  let power = "";
  return text
    .split("\n")
    .map((line) => {
      const m = /^[ \t]*1\.0*[eE]([+-]\d+)[ \t]*\*[ \t]*\r?$/.exec(line);
      if (m !== null) {
        power = m[1];
        return "";
      }
      if (power === "" || !/\d/.test(line)) return line;
      if (!/^[-+\d. \t\r]+$/.test(line)) {
        power = "";
        return line;
      }
      return line.replace(/\d+(?:\.\d*)?/g, `$&e${power}`);
    })
    .join("\n");
}
