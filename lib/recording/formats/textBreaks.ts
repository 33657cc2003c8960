/** Texts whose lines are kept: what looks at the beginning of a text does so again and again. */
const mostKept = 2;
/** Longer texts are parted anew, characters. */
const longestKept = 2 ** 16;
const kept: { readonly text: string; readonly lines: readonly string[] }[] = [];

/**
 * Lines of a text, by any of the usual breaks; those of the last short texts are remembered.
 *
 * @example
 * linesAtBreaks("a\r\nb\nc"); // => ["a", "b", "c"]
 */
export function linesAtBreaks(text: string): readonly string[] {
  const known = kept.find((k) => k.text === text);
  if (known !== undefined) return known.lines;
  const lines = text.split(/\r\n|\n|\r/);
  if (text.length > longestKept) return lines;
  if (kept.length === mostKept) kept.shift();
  kept.push({ text, lines });
  return lines;
}
