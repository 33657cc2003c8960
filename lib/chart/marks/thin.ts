/** A thinned trace: which samples to keep, in order. */
export type Kept = Uint32Array;

/**
 * Chooses the samples that draw a long trace. The time axis is cut into `buckets` equal stretches; of each, the first
 * and the last sample and every trace's smallest, largest and first missing value are kept, so that a peak stays
 * however short, a gap stays a gap, and an edge stays where it is. A trace that holds its value (a command: one that
 * changes at most `buckets` times) keeps both samples of each of its steps, so that no step moves in time. Several
 * traces on one clock are thinned together, so that they keep common times.
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
  const keep = new Set<number>([0, count - 1]);
  for (const trace of traces) for (const at of stepsOf(trace, buckets)) keep.add(at - 1).add(at);
  const start = time[0];
  const span = time[count - 1] - start || 1;
  let from = 0;
  for (let bucket = 0; bucket < buckets && from < count; bucket++) {
    const end = start + (span * (bucket + 1)) / buckets;
    let to = from;
    while (to < count && (time[to] <= end || bucket === buckets - 1)) to++;
    if (to === from) continue;
    keep.add(from).add(to - 1);
    for (const trace of traces) for (const i of extremesOf(trace, from, to)) keep.add(i);
    from = to;
  }
  return Uint32Array.from(keep).sort();
}

/** Where a trace that holds its value changes it: none when it changes more than `most` times, as a measured trace
 * does. */
function stepsOf(trace: ArrayLike<number>, most: number): readonly number[] {
  const found: number[] = [];
  for (let i = 1; i < trace.length; i++) {
    if (Object.is(trace[i], trace[i - 1])) continue;
    found.push(i);
    if (found.length > most) return [];
  }
  return found;
}

/** The smallest, the largest and the first missing value from `from` up to `to`. */
function extremesOf(trace: ArrayLike<number>, from: number, to: number): readonly number[] {
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
  return [smallest, largest, missing].filter((i) => i >= 0);
}

/** A number as short as a drawing needs it: five significant digits. Missing values become null, which draws a gap. */
export function short(value: number, digits = 5): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(digits)) : null;
}
