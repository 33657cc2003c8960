/** Counts results per second over the last half minute. */
export class RateClock {
  #ticks: number[] = [];
  #start = Date.now();
  #shown = 0;

  tick(): void {
    const now = Date.now();
    this.#ticks.push(now);
    if (this.#ticks.length > 4096) this.#ticks.splice(0, 2048);
    while (now - this.#ticks[0] > 30_000) this.#ticks.shift();
  }

  rate(): number {
    const span = Math.min(30_000, Date.now() - this.#start);
    const first = this.#ticks[0];
    if (first === undefined || span < 500) return 0;
    const window = this.#ticks.length >= 2048 ? Date.now() - first : span;
    return this.#ticks.length / (window / 1000);
  }

  due(): boolean {
    if (Date.now() - this.#shown < 250) return false;
    this.#shown = Date.now();
    return true;
  }
}
