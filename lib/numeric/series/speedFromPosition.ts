import { quantisationStep } from "./quantisationStep.js";

/** Speed derived from position, and how it was obtained. */
export interface DerivedSpeed {
  /** Speed, position unit per second, one value per sample. */
  readonly speed: Float64Array;
  /** Number of samples under each fit. */
  readonly window: number;
  /** Standard deviation that the quantisation of the position leaves in one speed value, position unit per second. */
  readonly resolution: number;
  /** In words a person reads. */
  readonly method: string;
}

/** How position is differentiated; everything is found from the data when absent. */
export interface SpeedFromPositionOptions {
  /** Window in seconds. Chosen from the quantisation when absent. */
  readonly window?: number;
  /** Size of one count, unit of the position; found from the data when absent. */
  readonly step?: number;
}

/**
 * Speed from position: the slope of the straight line of least squares through the samples of a window centred on each sample
 * (the first-order smoothing derivative of Savitzky and Golay, Analytical Chemistry 36, 1964, for any spacing of time). At the
 * ends the window is cut, not mirrored.
 *
 * The window is the shortest in which the quantisation of the position disturbs the slope by less than a hundredth of the
 * largest speed (rounding noise has the standard deviation step/sqrt(12), and a slope over m samples spaced dt the
 * standard deviation step / (dt*sqrt(m^3))), at least 3 samples and at most a fiftieth of the record.
 *
 * @param time seconds, increasing.
 * @param position unwrapped position.
 * @example
 * const angle = time.map((t) => 50 * t); // rad
 * speedFromPosition(time, angle).speed[250]; // => 50.0 (rad/s)
 */
export function speedFromPosition(
  time: Float64Array,
  position: Float64Array,
  options: SpeedFromPositionOptions = {},
): DerivedSpeed {
  const n = position.length;
  const span = n > 1 ? time[n - 1] - time[0] : Number.NaN;
  const dt = span / (n - 1);
  const found = options.step ?? quantisationStep(position);
  const step = Number.isNaN(found) ? 0 : found;
  let window = 3;
  if (options.window !== undefined && dt > 0) {
    window = Math.max(3, Math.round(options.window / dt) | 1);
  } else if (step > 0 && dt > 0) {
    let fastest = 0;
    const reach = Math.max(1, Math.round(n / 200));
    for (let i = reach; i < n; i += reach) {
      const v = Math.abs((position[i] - position[i - reach]) / (time[i] - time[i - reach]));
      if (v > fastest && v < Number.POSITIVE_INFINITY) fastest = v;
    }
    const wanted = fastest > 0 ? (step / (dt * 0.01 * fastest)) ** (2 / 3) : 3;
    window = Math.max(3, Math.min(Math.ceil(wanted), Math.floor(n / 50)) | 1);
  }
  const half = (window - 1) >> 1;
  return {
    speed: slidingSlope(time, position, half),
    window,
    resolution: step > 0 && dt > 0 ? step / (dt * Math.sqrt(window ** 3)) : 0,
    method: `slope of the least-squares line over ${window} samples`,
  };
}

/** Slope of the least-squares line over samples i-half..i+half, for every i, in one pass with running sums; NaN where there are fewer than two. */
export function slidingSlope(time: Float64Array, values: Float64Array, half: number): Float64Array {
  const n = values.length;
  const out = new Float64Array(n);
  // Sums are kept about moving origins and rebuilt now and then, so that rounding does not pile up.
  const rebuild = Math.max(64, 4 * half);
  let count = 0;
  let st = 0;
  let sv = 0;
  let stt = 0;
  let stv = 0;
  let t0 = 0;
  let v0 = 0;
  let first = 0;
  let next = 0;
  for (let i = 0; i < n; i += 1) {
    const low = Math.max(0, i - half);
    const high = Math.min(n - 1, i + half);
    if (i % rebuild === 0) {
      t0 = time[i] - time[i] === 0 ? time[i] : 0;
      v0 = values[i] - values[i] === 0 ? values[i] : 0;
      count = 0;
      st = 0;
      sv = 0;
      stt = 0;
      stv = 0;
      first = low;
      next = low;
    }
    for (; next <= high; next += 1) {
      const t = time[next] - t0;
      const v = values[next] - v0;
      if (t - t !== 0 || v - v !== 0) continue;
      count += 1;
      st += t;
      sv += v;
      stt += t * t;
      stv += t * v;
    }
    for (; first < low; first += 1) {
      const t = time[first] - t0;
      const v = values[first] - v0;
      if (t - t !== 0 || v - v !== 0) continue;
      count -= 1;
      st -= t;
      sv -= v;
      stt -= t * t;
      stv -= t * v;
    }
    const bottom = stt - (st * st) / count;
    out[i] = count > 1 && bottom > 0 ? (stv - (st * sv) / count) / bottom : Number.NaN;
  }
  return out;
}
