/** A seeded source of uniform and normal numbers, the same on every machine. */
export interface RandomSource {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Standard normal. */
  next(): number;
}

/**
 * The mulberry32 generator with the polar form of Box and Muller (Marsaglia 1964).
 *
 * @example
 * const random = randomNormal(7);
 * random.next(); // the same number on every machine
 */
export function randomNormal(seed: number): RandomSource {
  let state = seed >>> 0;
  let spare = Number.NaN;
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  return {
    uniform,
    next() {
      if (!Number.isNaN(spare)) {
        const kept = spare;
        spare = Number.NaN;
        return kept;
      }
      let [u, v, s] = [0, 0, 0];
      do {
        u = 2 * uniform() - 1;
        v = 2 * uniform() - 1;
        s = u * u + v * v;
      } while (s >= 1 || s === 0);
      const scale = Math.sqrt((-2 * Math.log(s)) / s);
      spare = v * scale;
      return u * scale;
    },
  };
}
