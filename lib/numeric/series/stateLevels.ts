/** The two levels between which a two-state waveform moves. */
export interface StateLevels {
  readonly low: number;
  readonly high: number;
  /** Width of one histogram bin: the resolution of both. */
  readonly binWidth: number;
}

/**
 * State levels by the mode of a histogram: the range from the smallest to the largest value is cut into `bins`, and the
 * fullest bin of the lower and of the upper half gives each level (IEEE Std 181, histogram-mode method). Each level is
 * then the mean of the samples in the fullest bin and its two neighbours, which resolves more finely than a bin.
 *
 * Meant for records that dwell in both states; a mode means nothing where the signal never rests.
 *
 * @returns undefined for a record without two different finite values
 * @example
 * stateLevels([0, 0, 0, 0.5, 1, 1, 1])?.high; // => 1
 */
export function stateLevels(values: ArrayLike<number>, bins = 100): StateLevels | undefined {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    const v = values[i];
    if (!Number.isFinite(v)) continue;
    if (v < lowest) lowest = v;
    if (v > highest) highest = v;
  }
  if (!(highest > lowest)) return undefined;
  const binWidth = (highest - lowest) / bins;
  const counts = new Float64Array(bins);
  const sums = new Float64Array(bins);
  for (let i = 0; i < values.length; i++) {
    const v = values[i];
    if (!Number.isFinite(v)) continue;
    const bin = Math.min(bins - 1, Math.floor((v - lowest) / binWidth));
    counts[bin]++;
    sums[bin] += v;
  }
  const mode = (from: number, to: number): number => {
    let best = from;
    for (let b = from; b < to; b++) if (counts[b] > counts[best]) best = b;
    let n = 0;
    let sum = 0;
    for (let b = Math.max(from, best - 1); b <= Math.min(to - 1, best + 1); b++) {
      n += counts[b];
      sum += sums[b];
    }
    return sum / n;
  };
  const half = Math.floor(bins / 2);
  return { low: mode(0, half), high: mode(half, bins), binWidth };
}
