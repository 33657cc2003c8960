/** Files after which their time is known well enough to tell whether another process pays, and how many of the last are
 * looked at. */
const first = 20;
const last = 10;
/** Milliseconds of work left for each process from which another pays: starting and compiling takes it 5 to 10 s of a
 * busy machine. */
const pays = 30_000;
/** Milliseconds after which one file alone shows that there is much to do. */
const long = 10_000;

/**
 * How many files are judged at once. Each further process compiles its code anew, which costs as much as some fifty
 * short recordings: a small study has one, and others join when what is left takes long or a single file does.
 */
export class Crew {
  #at = 1;
  #busy = 0;
  #done = 0;
  readonly #times: number[] = [];
  readonly #waiting: (() => void)[] = [];

  /**
   * @param most processes at once
   * @param files files of the study
   */
  constructor(
    private readonly most: number,
    private readonly files: number,
  ) {}

  /** Files that are judged at once now. */
  get size(): number {
    return this.#at;
  }

  /** Does a piece of work as soon as it is its turn. */
  async run<T>(work: () => Promise<T>): Promise<T> {
    if (this.#busy >= this.#at) await new Promise<void>((turn) => this.#waiting.push(turn));
    else this.#busy++;
    const begun = Date.now();
    const timer = setTimeout(() => this.#grow(this.most), long);
    timer.unref();
    try {
      return await work();
    } finally {
      clearTimeout(timer);
      this.#note(Date.now() - begun);
      const next = this.#waiting.shift();
      if (next === undefined) this.#busy--;
      else next();
    }
  }

  #note(time: number): void {
    this.#done++;
    this.#times.push(time);
    if (this.#times.length > last) this.#times.shift();
    if (this.#done < first || this.#at >= this.most) return;
    const mean = this.#times.reduce((a, b) => a + b, 0) / this.#times.length;
    this.#grow(Math.floor(((this.files - this.#done) * mean) / pays) + 1);
  }

  #grow(wanted: number): void {
    while (this.#at < Math.min(this.most, wanted)) {
      this.#at++;
      const next = this.#waiting.shift();
      if (next === undefined) continue;
      this.#busy++;
      next();
    }
  }
}
