/**
 * Answers to texts that were asked for lately: files of one logger have the same headings, and each is asked for by
 * many. When there are too many, all are forgotten.
 *
 * @example
 * const lengths = new Kept<number>(100);
 * lengths.of("speed", (text) => text.length); // => 5, worked out once
 */
export class Kept<Answer> {
  readonly #answers = new Map<string, Answer>();

  /**
   * @param most answers that are kept
   * @param longest texts with more characters are answered anew each time
   */
  constructor(
    private readonly most: number,
    private readonly longest = Number.POSITIVE_INFINITY,
  ) {}

  /** The answer to a text, worked out where it is not kept. */
  of(text: string, workOut: (text: string) => Answer): Answer {
    const known = this.#answers.get(text);
    if (known !== undefined || this.#answers.has(text)) return known as Answer;
    const answer = workOut(text);
    if (text.length > this.longest) return answer;
    if (this.#answers.size >= this.most) this.#answers.clear();
    this.#answers.set(text, answer);
    return answer;
  }
}
