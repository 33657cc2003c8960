/** A thinned trace: which samples to keep, in order. */
export type Kept = Uint32Array;

/**
 * Chooses the samples that draw a long trace: the time axis is cut into `buckets` equal stretches and from each the first, the smallest,
 * the largest and the last sample are kept. Every peak stays, however short, and a gap stays a gap (a bucket's first missing value is kept).
 * Several traces on one clock are thinned together, so that they keep common times.
 *
 * @param time - Sample times, ascending.
 * @param traces - Values on that clock; NaN where missing.
 * @param buckets - Stretches, about one per drawn pixel; 500 when absent.
 * @returns Indices to keep, ascending; all of them when there are few.
 * @example
 * const kept = thin(time, [values], 60);
 * const drawn = Array.from(kept, (i) => ({ time: time[i], value: values[i] }));
 */
export function thin(time: ArrayLike<number>, traces: readonly ArrayLike<number>[], buckets = 500): Kept {
  const count = time.length;
  if (count <= 2 * buckets) return Uint32Array.from({ length: count }, (_, i) => i);
  const start = time[0];
  const span = time[count - 1] - start || 1;
  const keep = new Set<number>([0, count - 1]);
  let from = 0;
  for (let bucket = 0; bucket < buckets && from < count; bucket++) {
    const end = start + (span * (bucket + 1)) / buckets;
    let to = from;
    while (to < count && (time[to] <= end || bucket === buckets - 1)) to++;
    if (to === from) continue;
    for (const trace of traces) {
      let smallest = -1;
      let largest = -1;
      let missing = -1;
      for (let i = from; i < to; i++) {
        const value = trace[i];
        if (Number.isNaN(value)) {
          if (missing < 0) missing = i;
          continue;
        }
        if (smallest < 0 || value < trace[smallest]) smallest = i;
        if (largest < 0 || value > trace[largest]) largest = i;
      }
      for (const i of [smallest, largest, missing]) if (i >= 0) keep.add(i);
    }
    keep.add(from);
    from = to;
  }
  return Uint32Array.from(keep).sort();
}

/** A number as short as a drawing needs it: five significant digits. Missing values become null, which draws a gap. */
export function short(value: number, digits = 5): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(digits)) : null;
}
