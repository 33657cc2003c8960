/**
 * Numbers that a text of a notebook may state by itself, by notebook: settings of the bench, definitions, mathematics.
 * Whatever a notebook finds stands in an output that a cell computed. A reason is given with each; those that a file
 * can confirm are checked against it.
 */
export const givenNumbers: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  "03": {
    "1.2 A": "setting of the torque trials (datasets/parcel-sorter/make.ts)",
    "120 rad/s": "setting of the speed trials (the same)",
    "1146 rev/min": "the same in another unit",
    "0": "n, epsilon, g or a coefficient equal to zero: definitions",
    "1": "cosine of zero; the point -1",
    "90°": "zero of the cosine",
    "120°": "a third of a turn",
    "180°": "half a turn",
    "−½": "cosine of a third of a turn",
    "−1": "the point -1 of a Nyquist picture",
  },
  "05": {
    "150": "an example of a sentence that is half a sentence",
    "95 %": "level of the intervals",
    "1.5": "convention of amplitude-invariant dq",
    "60": "seconds of a minute",
    "2": "root of two, two pi: mathematics",
    "3": "root of three: mathematics",
    "8.27": "1.5*60/(2 pi sqrt(3)): mathematics",
    "9.55": "60/(2 pi): mathematics",
    "5.85": "8.27/sqrt(2): mathematics",
    "11.7": "8.27*sqrt(2): mathematics",
  },
  "06": {
    "0.5 ms": "setting of the drive (the data set's manual)",
    "1.5 ms": "setting of the drive (the same)",
    "−1": "the point -1 of a Nyquist picture",
  },
};

/** Numbers with their units in a text, formulas, code, links and numbered headings left out. */
export function numbersIn(markdown: string): readonly string[] {
  const plain = markdown
    .replace(/\$\$[\s\S]*?\$\$|\$[^$\n]*\$/g, "")
    .replace(/`[^`]*`/g, "")
    .replace(/\]\([^)]*\)/g, "]")
    .replace(/^\s*\d+\. /gm, "");
  return [
    ...plain.matchAll(
      /(?<![A-Za-z_])[−+-]?(?:\d+(?:[.,]\d+)*½?|½)(?:\s?(?:%|°|rev\/min|rad\/s|ms\b|s\b|A\b|degrees))?/g,
    ),
  ].map(([text]) => text.trim());
}
