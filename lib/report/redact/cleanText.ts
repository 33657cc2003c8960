import { ourWords } from "./vocabulary.js";

/** A private name and what stands for it. */
export interface Pseudonym {
  readonly name: string;
  readonly put: string;
  /** Kind of thing, for the count. */
  readonly what: string;
}

/** Private text that is known by its form, most specific first. */
const forms: readonly { readonly what: string; readonly pattern: RegExp; readonly put: string }[] = [
  {
    what: "mail addresses",
    pattern: /[\p{L}\p{N}._+-]+@[\p{L}\p{N}-]+(?:\.[\p{L}\p{N}-]+)+/gu,
    put: "[mail address]",
  },
  {
    what: "serial numbers",
    pattern: /\b(?:s\/n|sn|ser(?:ial)?(?:[ _.-]?(?:no|number|nr))?)\b\.?\s*[:#=]?\s*(?=[\w-]*\d)[\w-]+/gi,
    put: "[serial number]",
  },
  {
    what: "dates and times of day",
    pattern:
      /\b(?:19|20)\d{2}[-/.](?:0?[1-9]|1[0-2])[-/.](?:0?[1-9]|[12]\d|3[01])(?:[T _]\d{1,2}[:h]\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?(?!\d)|\b(?:0?[1-9]|[12]\d|3[01])[-/.](?:0?[1-9]|1[0-2])[-/.](?:19|20)\d{2}\b|\b(?:19|20)\d{2}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])\b|\b\d{1,2}:\d{2}:\d{2}(?:\.\d+)?\b/g,
    put: "[date]",
  },
  {
    what: "numbers that may name something",
    pattern: /(?<![\d.,eE+-])\d{7,}(?![\d.]*\d)|\b\d{2,}(?:-\d{2,})+\b/g,
    put: "[number]",
  },
];

/** Short marks of our own that are no words: units and symbols as our texts write them. */
const marks = new Set(
  "A V W Hz kHz rad deg s ms us min h d N m kg Nm mN uN mA kA kV mV Wb mH uH H rpm rev turns Ohm kp ki Kt kv Ke g e n i iq id uq ud J B Tc Ts p x y z b t L R K C F UVW VWU WUV VUW UWV WVU U V W q k c f j N CSV JSON MB kB GiB MiB"
    .split(" ")
    .map((mark) => mark.toLowerCase()),
);

/** A word that our own texts use, or a mark of ours. */
function isOurs(word: string, vocabulary: ReadonlySet<string>): boolean {
  const lower = word.toLowerCase();
  return (
    vocabulary.has(lower) || marks.has(lower) || (lower.endsWith("s") && vocabulary.has(lower.slice(0, -1)))
  );
}

/**
 * A name that says nothing of anybody, since it is one of our own words, or several in small letters (`log`, `Speed`,
 * `torque trial`). Our texts are full of them: putting a pseudonym for each would spoil them.
 *
 * @example
 * saysNothing("torque trial"); // => true
 */
export function saysNothing(name: string): boolean {
  const vocabulary = ourWords();
  const words = name.match(/[\p{L}\p{M}]+/gu) ?? [];
  return (
    words.every((word) => isOurs(word, vocabulary)) &&
    (words.length === 1 || name === name.toLowerCase()) &&
    words.length > 0
  );
}

/**
 * Lets through what our own texts can say: our words, numbers, units, signs. Known names become their pseudonyms, known
 * forms (mail, serial number, date) their kind, and every other word "[name]", so that a name is out even where nobody
 * foresaw it.
 *
 * @param note - Told of everything that is taken out.
 */
export function textCleaner(
  names: readonly Pseudonym[],
  note: (what: string) => void,
): (text: string) => string {
  const vocabulary = ourWords();
  const known = [...names]
    .sort((a, b) => b.name.length - a.name.length)
    .map(({ name, put, what }) => ({
      pattern: new RegExp(`(?<![\\p{L}\\p{N}])${escaped(name)}(?![\\p{L}\\p{N}])`, "giu"),
      put,
      what,
    }));
  const allowed = (word: string): boolean => isOurs(word, vocabulary);
  return (text) => {
    // Each thing taken out is held apart, so that nothing after it reads what stands for it.
    const held: string[] = [];
    const hold = (put: string, what: string): string => {
      note(what);
      held.push(put);
      return `\u{f0000}${held.length - 1}\u{f0001}`;
    };
    let out = text;
    for (const { pattern, put, what } of forms.slice(0, 2)) out = out.replace(pattern, () => hold(put, what));
    for (const { pattern, put, what } of known) out = out.replace(pattern, () => hold(put, what));
    for (const { pattern, put, what } of forms.slice(2)) out = out.replace(pattern, () => hold(put, what));
    out = out.replace(/(?<![\p{L}\u{f0000}\d])(?=[\d]*\p{L})[\p{L}\p{N}][\p{L}\p{M}\p{N}]*/gu, (token) =>
      measure(token) || token.split(/\d+/).every((part) => part === "" || allowed(part))
        ? token
        : hold("[name]", "words that are not ours"),
    );
    out = out.replace(/\u{f0000}(\d+)\u{f0001}/gu, (_, at) => held[Number(at)]);
    return out.replace(/\[name\](?:[\s_.-]*\[name\])+/g, "[name]");
  };
}

/** A number with a power of ten or a unit written to it. */
const measure = (token: string): boolean => /^\d+(?:e\d+)?(?:ms|us|s|A|V|Hz|rad|deg|x)?$/.test(token);

function escaped(text: string): string {
  return text.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");
}
