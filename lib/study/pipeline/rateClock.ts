/** Milliseconds over which the rate is taken, and results that are kept for it in any case. */
const span = 60_000;
const fewest = 8;
/** The first results are slow (processes start, code is compiled): what is left is told from those that come after so
 * many for each process, or after so many milliseconds. */
const cold = { results: 120, milliseconds: 30_000 };
/** What is left is said once so many warm results are there, or so many milliseconds have passed with a few. */
const enough = { results: 60, milliseconds: 20_000 };
/** Fastest against slowest quarter of the warm results beyond which nothing is said yet, until a fifth is done. */
const uneven = 2.5;
const fifth = 0.2;

/** Bytes that take as long as the start of any file does: 30 kB take 45 ms, 1.7 MB some 850 ms (measured). */
const fixed = 80_000;

/** How much work a file of so many bytes is, against the start of any. */
export const workOf = (bytes: number): number => 1 + bytes / fixed;

interface Tick {
  readonly time: number;
  readonly work: number;
}

/** Counts results, and the work behind them, over the last minute. What is left is told from warm results alone. */
export class RateClock {
  #ticks: Tick[] = [];
  #done = 0;
  #shown = 0;
  #workers = 0;
  /** Since when so many processes have been at work, and results since then. */
  #since = Number.NaN;
  #sinceCount = 0;

  /**
   * Notes a result.
   *
   * @param work of its file, as `workOf` tells it
   * @param workers processes at work
   */
  tick(work = 1, workers = 1): void {
    const now = Date.now();
    if (workers !== this.#workers) {
      [this.#since, this.#sinceCount, this.#workers] = [now, 0, workers];
      this.#ticks = [];
    }
    this.#done += work;
    this.#sinceCount++;
    this.#ticks.push({ time: now, work });
    if (this.#ticks.length > 8192) this.#ticks.splice(0, 4096);
    while (this.#ticks.length > fewest && now - this.#ticks[0].time > span) this.#ticks.shift();
  }

  /** Results a second; 0 while that is not known. */
  rate(): number {
    const n = this.#ticks.length;
    const passed = n === 0 ? 0 : Date.now() - this.#ticks[0].time;
    return n < 2 || passed < 200 ? 0 : (n - 1) / (passed / 1000);
  }

  /** True when `left` may know an answer: what lies ahead need not be looked at before. */
  get warm(): boolean {
    return this.#warm().length > 0;
  }

  /**
   * Seconds for so much more work; null until that can be known.
   *
   * @param more as `workOf` tells it
   */
  left(more: number): number | null {
    const ticks = this.#warm();
    if (ticks.length === 0) return null;
    const quarters = [0, 1, 2, 3].map((k) => {
      const [from, to] = [k, k + 1].map((part) => Math.floor((part * (ticks.length - 1)) / 4));
      return speed(ticks.slice(from, to + 1));
    });
    const early = this.#done < fifth * (this.#done + more);
    if (early && Math.max(...quarters) > uneven * Math.min(...quarters)) return null;
    // Time goes on while no result comes.
    const passed = (Date.now() - ticks[0].time) / 1000;
    const work = ticks.slice(1).reduce((sum, tick) => sum + tick.work, 0);
    return passed > 0 && work > 0 ? (more * passed) / work : null;
  }

  /** Warm results of the last minute; none while they are too few. */
  #warm(): readonly Tick[] {
    const now = Date.now();
    const skip = Math.max(0, cold.results * this.#workers - (this.#sinceCount - this.#ticks.length));
    const late = this.#ticks.findIndex(({ time }) => time - this.#since >= cold.milliseconds);
    const from = Math.min(skip, late < 0 ? Number.POSITIVE_INFINITY : late);
    const ticks = this.#ticks.slice(from);
    if (ticks.length < fewest) return [];
    return ticks.length >= enough.results || now - ticks[0].time >= enough.milliseconds ? ticks : [];
  }

  due(): boolean {
    if (Date.now() - this.#shown < 250) return false;
    this.#shown = Date.now();
    return true;
  }
}

/** Work in each second between the first and the last of these results. */
function speed(ticks: readonly Tick[]): number {
  const passed = ((ticks.at(-1)?.time ?? 0) - (ticks[0]?.time ?? 0)) / 1000;
  return passed > 0 ? ticks.slice(1).reduce((sum, tick) => sum + tick.work, 0) / passed : 0;
}
