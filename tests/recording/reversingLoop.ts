/** One row of a speed loop, in SI; `n` lies between -0.5 and 0.5, the same in every run, for noise. */
export interface LoopRow {
  readonly k: number;
  readonly ref: number;
  /** Acceleration up to this row, and speed and angle at it. */
  readonly a: number;
  readonly v: number;
  readonly x: number;
  readonly n: number;
}

/** A speed loop of first order under a reference: 600 rows, 10 ms apart. */
export function reversingLoop(reference: (k: number) => number): LoopRow[] {
  const out: LoopRow[] = [];
  let [v, x] = [0, 0];
  for (let k = 0; k < 600; k += 1) {
    const ref = reference(k);
    const a = 8 * (ref - v);
    const wave = Math.sin(k * 12.9898) * 43_758.5453;
    v += 0.01 * a;
    x += 0.01 * v;
    out.push({ k, ref, a, v, x, n: wave - Math.floor(wave) - 0.5 });
  }
  return out;
}
