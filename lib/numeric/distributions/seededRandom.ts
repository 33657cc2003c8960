/** A seeded source of uniform and normal numbers, the same on every machine. */
export interface SeededRandom {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Standard normal: mean 0, standard deviation 1. */
  normal(): number;
}

/** Kept as a class so that every source has the same methods: the simulator's loop stays compiled from run to run. */
class Mulberry implements SeededRandom {
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

  normal(): number {
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
 * A seeded source of uniform and of standard normal numbers: the mulberry32 generator, and the polar method for the
 * normal ones (Marsaglia and Bray, 1964). The one generator of the whole library; 2^32 numbers before it repeats.
 *
 * @param seed whole number; only its lowest 32 bits count
 * @example
 * const random = seededRandom(7);
 * const normal = random.normal(); // the same number on every machine
 * seededRandom(7).normal() === normal; // => true
 */
export function seededRandom(seed: number): SeededRandom {
  return new Mulberry(seed);
}
