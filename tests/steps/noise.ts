/**
 * Noise of the fit tests and of the coverage tables in `docs`, from a generator (sfc32 of PractRand; normal by the
 * polar method) that is not the library's own: a flaw of one generator cannot hide in both the bootstrap and the data
 * it is tested on.
 */
export function noiseSource(seed: number): { uniform(): number; normal(): number } {
  let a = 0x9e3779b9 ^ seed;
  let b = 0x243f6a88 ^ Math.floor(seed / 0x100000000);
  let c = 0xb7e15162;
  let counter = 1;
  const next = (): number => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + t) | 0;
    return t >>> 0;
  };
  for (let i = 0; i < 15; i++) next();
  const uniform = (): number => ((next() >>> 5) * 67108864 + (next() >>> 6)) / 9007199254740992;
  let spare = Number.NaN;
  return {
    uniform,
    normal() {
      if (!Number.isNaN(spare)) {
        const kept = spare;
        spare = Number.NaN;
        return kept;
      }
      for (;;) {
        const u = 2 * uniform() - 1;
        const v = 2 * uniform() - 1;
        const s = u * u + v * v;
        if (s >= 1 || s === 0) continue;
        const f = Math.sqrt((-2 * Math.log(s)) / s);
        spare = v * f;
        return u * f;
      }
    },
  };
}
