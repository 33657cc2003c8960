/** How a counter or an angle wraps. */
export interface Wrap {
  /** Size of one wrap, in the unit of the values. */
  readonly size: number;
  /** How often it wrapped. */
  readonly times: number;
  /** Largest movement between two samples after unwrapping, as a share of half a wrap: near 1 the direction is a
   * guess. */
  readonly closest: number;
}

/**
 * Finds whether values wrap, and at what size, among the sizes that are possible: the smallest that holds all values
 * (either from 0 or centred on 0) and that some jump between neighbours exceeds by half.
 *
 * @param sizes possible wraps, for instance 65536, 2^32, counts per turn, 360.
 * @example
 * wrapOf(Float64Array.of(65534, 65535, 0, 1), [65536]); // { size: 65536, times: 1, closest: 0.00003 }
 */
export function wrapOf(values: Float64Array, sizes: readonly number[]): Wrap | undefined {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let jump = 0;
  let last = Number.NaN;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    if (v < low) low = v;
    if (v > high) high = v;
    const d = Math.abs(v - last);
    if (d > jump) jump = d;
    last = v;
  }
  for (const size of [...sizes].sort((a, b) => a - b)) {
    const slack = size * 1e-6;
    const fits = (low >= 0 && high <= size + slack) || (low >= -size / 2 - slack && high <= size / 2 + slack);
    // Something that wraps comes near both ends of its range.
    if (!fits || jump <= size / 2 || high - low < 0.75 * size) continue;
    let times = 0;
    let closest = 0;
    last = Number.NaN;
    for (let i = 0; i < values.length; i += 1) {
      const v = values[i];
      if (v - v !== 0) continue;
      if (last - last === 0) {
        const d = v - last;
        const turns = Math.round(d / size);
        times += Math.abs(turns);
        closest = Math.max(closest, Math.abs(d - turns * size) / (size / 2));
      }
      last = v;
    }
    return { size, times, closest };
  }
  return undefined;
}

/**
 * Whether a command wraps because it moves through the end of its range, and not because it steps across most of it:
 * rows next to such a jump move too, by less than half a wrap. A position step from 0 to 350 degrees is no step of -10.
 */
export function crossedInMotion(values: Float64Array, size: number, reach = 20): boolean {
  let crossed = 0;
  let moving = 0;
  for (let i = 1; i < values.length; i += 1) {
    if (!(Math.abs(values[i] - values[i - 1]) > size / 2)) continue;
    crossed += 1;
    let near = false;
    for (let k = Math.max(1, i - reach); k < Math.min(values.length, i + reach) && !near; k += 1) {
      const step = Math.abs(values[k] - values[k - 1]);
      near = k !== i && step > 0 && step <= size / 2;
    }
    if (near) moving += 1;
  }
  return moving > 0.5 * crossed;
}
