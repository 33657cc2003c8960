/** A seeded source of uniform and normal numbers, the same on every machine. */
export interface RandomSource {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Standard normal. */
  next(): number;
}

/** Kept as a class so that every source has the same methods: the simulator's loop stays compiled from run to run. */
class Mulberry implements RandomSource {
  private state: number;
  private spare = 0.5;
  private hasSpare = false;

  constructor(seed: number) {
    this.state = seed | 0;
  }

  uniform(): number {
    const state = (this.state + 0x6d2b79f5) | 0;
    this.state = state;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  next(): number {
    if (this.hasSpare) {
      this.hasSpare = false;
      return this.spare;
    }
    let u = 0;
    let v = 0;
    let s = 0;
    do {
      u = 2 * this.uniform() - 1;
      v = 2 * this.uniform() - 1;
      s = u * u + v * v;
    } while (s >= 1 || s === 0);
    const scale = Math.sqrt((-2 * Math.log(s)) / s);
    this.spare = v * scale;
    this.hasSpare = true;
    return u * scale;
  }
}

/**
 * The mulberry32 generator with the polar form of Box and Muller (Marsaglia 1964).
 *
 * @example
 * const random = randomNormal(7);
 * random.next(); // the same number on every machine
 */
export function randomNormal(seed: number): RandomSource {
  return new Mulberry(seed);
}
