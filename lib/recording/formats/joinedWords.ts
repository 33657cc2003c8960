/** Most words of one name, and most words that a heading may have. */
const longestName = 3;
const mostWords = 80;

/** What speaks for two neighbours being one name (common practice, no source). */
const joins = {
  /** `Current [A]`, `speed (rpm)`. */
  unit: 4,
  /** Two plain words: `control error`; more where the first alone begins with a capital. */
  plain: 1,
  capital: 1,
  /** A symbol (`t`, `w`) beside a word. */
  symbol: -2,
  /** A name with a mark, a digit or an underscore is whole: `w_ref_rad/s`. */
  whole: -4,
};

/** Ways to share the words out are told apart by so much. */
const margin = 0.5;

/**
 * The names of a heading whose words are parted by blanks as its columns are (`t_s Control error w_rad/s`): the
 * neighbours that most likely are one name are joined, so that there are as many names as columns. Undefined where
 * there are no more words than columns, where all are plain words, or where two ways are as likely.
 *
 * @example
 * joinedWords(["t_s", "Control", "error", "w_rad/s"], 3); // => ["t_s", "Control error", "w_rad/s"]
 * joinedWords(["t_s", "motor", "speed", "error"], 3); // => undefined
 */
export function joinedWords(words: readonly string[], columns: number): string[] | undefined {
  if (words.length <= columns || words.length > Math.min(mostWords, longestName * columns)) return undefined;
  // A sentence has plain words alone.
  if (words.every(isPlain)) return undefined;
  let ways: Way[][] = [[{ score: 0, ends: [] }]];
  for (let column = 0; column < columns; column += 1) {
    const next: Way[][] = [];
    ways.forEach((known, from) => {
      for (let to = from + 1; to <= Math.min(words.length, from + longestName); to += 1) {
        let score = 0;
        for (let k = from + 1; k < to; k += 1) score += together(words[k - 1], words[k]);
        const more = known.map((way) => ({ score: way.score + score, ends: [...way.ends, to] }));
        next[to] = [...(next[to] ?? []), ...more].sort((a, b) => b.score - a.score).slice(0, 2);
      }
    });
    ways = next;
  }
  const [best, second] = ways[words.length] ?? [];
  if (best === undefined || best.score <= 0 || (second !== undefined && best.score < second.score + margin))
    return undefined;
  return best.ends.map((end, k) => words.slice(best.ends[k - 1] ?? 0, end).join(" "));
}

/** Words shared out over the first columns: where each name ends, and what speaks for it. */
interface Way {
  readonly score: number;
  readonly ends: readonly number[];
}

function together(one: string, other: string): number {
  if (/^[[(].*[\])]$/.test(other)) return joins.unit;
  if (!isPlain(one) || !isPlain(other)) return joins.whole;
  if (/^[a-z\p{Lu}]$/u.test(one) || /^[a-z\p{Lu}]$/u.test(other)) return joins.symbol;
  const capital = /^\p{Lu}/u.test(one) && /^\p{Ll}/u.test(other);
  return joins.plain + (capital ? joins.capital : 0);
}

const isPlain = (word: string): boolean => /^\p{L}+$/u.test(word);
