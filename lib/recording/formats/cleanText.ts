/** Lines looked at to see how numbers are dressed. */
const looked = 200;
const most = 0.8;
const number = String.raw`[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?`;
const commaCells = /^\s*[+-]?\d+(?:,\d+)?(?:,[ \t]+[+-]?\d+(?:,\d+)?)+,?\s*$/;
const ended = new RegExp(String.raw`^\s*${number}(?:[ \t]+${number})+[ \t]*;\s*$`);
const checked = /^\s*[$!][^*]{1,400}\*[\dA-F]{2}\s*$/i;
const suffixed = /\d\.?f[ \t]*[,;})]/;

/**
 * A text with the dress taken off its numbers and lines, every line kept in its place: colours of a terminal, lines of boxes, true minus signs, exponents
 * with D (`1.5D-03`), single-precision suffixes of C, checks at the end of a sentence (`*1A`), commas both between cells and within numbers (`0,5, 1,2`).
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
  if (/\d\.\d+[dD][+-]\d{2,3}\b/.test(head)) out = out.replace(/(\d\.\d{0,20})[dD](?=[+-]\d{2,3}\b)/g, "$1E");
  const lines = out
    .slice(0, 64 * 1024)
    .split(/\r\n|\n|\r/)
    .filter((l) => l.trim() !== "" && l.length < 2000)
    .slice(0, looked);
  const often = (pattern: RegExp): boolean =>
    lines.length > 4 && lines.filter((l) => pattern.test(l)).length >= most * lines.length;
  if (often(commaCells) && often(/\d,\d/)) out = out.replace(/,[ \t]+/g, ";");
  if (often(ended)) out = out.replace(/;[ \t]*$/gm, "");
  if (often(checked)) out = out.replace(/\*[\dA-F]{2}[ \t]*$/gim, "");
  if (often(suffixed)) out = out.replace(/(\d\.?)f(?=[ \t]*[,;})])/g, "$1");
  return out;
}
