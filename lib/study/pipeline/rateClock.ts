/** Milliseconds over which the rate is taken, and results that are kept for it in any case. */
const span = 60_000;
const fewest = 8;
/** The first results are slow (threads start, code is compiled): what is left is said after so many, or so many
 * milliseconds. */
const warm = { results: 120, milliseconds: 30_000 };

/** Counts results per second over the last minute; while that has not passed, over the second half of the results,
 * which are warm. */
export class RateClock {
  #ticks: number[] = [];
  #begun = Number.NaN;
  #count = 0;
  #shown = 0;

  tick(): void {
    const now = Date.now();
    if (this.#count++ === 0) this.#begun = now;
    this.#ticks.push(now);
    if (this.#ticks.length > 8192) this.#ticks.splice(0, 4096);
    while (this.#ticks.length > fewest && now - this.#ticks[0] > span) this.#ticks.shift();
  }

  rate(): number {
    const n = this.#ticks.length;
    const from = Date.now() - this.#begun < span ? Math.floor(n / 2) : 0;
    const passed = Date.now() - this.#ticks[from];
    return n - from < 2 || passed < 200 ? 0 : (n - from - 1) / (passed / 1000);
  }

  /** Seconds for so many more; null until the first results have become warm. */
  left(more: number): number | null {
    const isWarm =
      this.#count >= warm.results || (this.#count >= 4 && Date.now() - this.#begun > warm.milliseconds);
    const rate = isWarm ? this.rate() : 0;
    return rate > 0 ? more / rate : null;
  }

  due(): boolean {
    if (Date.now() - this.#shown < 250) return false;
    this.#shown = Date.now();
    return true;
  }
}
