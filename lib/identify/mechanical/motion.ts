/** Speed and acceleration worked out from position, with their noise. */
export interface Motion {
  /** rad/s, one per sample. */
  readonly speed: Float64Array;
  /** rad/s2, one per sample. */
  readonly acceleration: Float64Array;
  /** Standard deviation of each speed value, rad/s: quantisation and measured noise, slow motion allowed for. */
  readonly speedNoise: Float64Array;
  /** Length of the local polynomial, samples. */
  readonly window: number;
  /** The estimator, in words. */
  readonly method: string;
}

/** Options of `motionFromPosition`. */
export interface MotionOptions {
  /** One count, rad; read from the data when absent. */
  readonly resolution?: number;
  /** Samples of the local polynomial (odd); chosen from the data when absent. */
  readonly window?: number;
}

/**
 * Speed and acceleration from a quantised position by a local quadratic, fitted by least squares to a window centred on
 * each sample (Savitzky and Golay, Analytical Chemistry 36, 1964, with the true times, so that jitter does no harm). A
 * difference of two counts would have a noise of resolution/(sqrt(6) dt), which for a thousand-line encoder at 1 kHz is half a radian a
 * second; the quadratic over m samples lowers it by about m^1.5. Near the ends the window is one-sided.
 *
 * The window, when not given, is the one of a ladder (5 to 129 samples) with the smallest estimated error of
 * speed: its variance is known from the noise, its bias from the difference to shorter windows.
 * The stated noise does not hold that bias, which at the chosen window is about as large.
 * Quantisation errors repeat while the shaft creeps within one count; the noise is therefore stated with as many
 * independent samples as counts were crossed, never more than samples in the window.
 *
 * @param time s, rising
 * @param position rad, unwrapped; NaN is skipped
 * @example
 * const angle = time.map((t) => (Math.round((50 * t * 4096) / (2 * Math.PI)) * 2 * Math.PI) / 4096); // 50 rad/s in counts
 * motionFromPosition(time, angle).speed[250]; // => 50.0 (rad/s)
 */
export function motionFromPosition(
  time: Float64Array,
  position: Float64Array,
  options: MotionOptions = {},
): Motion {
  const resolution = options.resolution ?? smallestStep(position);
  const ladder = [5, 9, 15, 25, 41, 65, 97, 129].filter((m) => m <= Math.max(5, time.length / 4));
  let window = options.window ?? 0;
  if (window === 0) {
    const stride = Math.max(1, Math.floor(time.length / 1500));
    let best = Number.POSITIVE_INFINITY;
    const passes = ladder.map((m) => localQuadratic(time, position, m, resolution, stride));
    window = ladder[0];
    for (let k = 0; k < ladder.length; k++) {
      let own = 0;
      let apart = 0;
      let count = 0;
      const shorter = Math.max(0, k - 2);
      const reference = passes[shorter];
      for (let i = 0; i < time.length; i += stride) {
        const s = passes[k].speed[i];
        const r = reference.speed[i];
        if (!Number.isFinite(s) || !Number.isFinite(r)) continue;
        own += passes[k].noise[i] ** 2;
        // What noise puts between a fit and one over part of its samples is the difference of their variances.
        apart += (s - r) ** 2 - reference.noise[i] ** 2 + passes[k].noise[i] ** 2;
        count++;
      }
      // The bias of a slope goes as the square of the window: the shorter window has its share of it too.
      const seen = k === 0 ? 1 : 1 - (ladder[shorter] / ladder[k]) ** 2;
      const error = (own + Math.max(0, apart) / seen ** 2) / Math.max(1, count);
      if (error < best) {
        best = error;
        window = ladder[k];
      }
    }
  }
  const { speed, acceleration, noise } = localQuadratic(time, position, window, resolution, 1);
  return {
    speed,
    acceleration,
    speedNoise: noise,
    window,
    method: `local quadratic over ${window} samples of position`,
  };
}

/** Smallest step between neighbouring different values: one count, for a quantised signal. */
export function smallestStep(values: Float64Array): number {
  let range = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  range = high - low;
  let least = Number.POSITIVE_INFINITY;
  let repeats = 0;
  for (let i = 1; i < values.length; i++) {
    const step = Math.abs(values[i] - values[i - 1]);
    if (step > 1e-9 * range) least = Math.min(least, step);
    else repeats++;
  }
  // A signal that never repeats a value is not quantised coarsely enough to matter.
  return Number.isFinite(least) && repeats > 0 ? least : 0;
}

function localQuadratic(
  time: Float64Array,
  position: Float64Array,
  window: number,
  resolution: number,
  stride: number,
): { speed: Float64Array; acceleration: Float64Array; noise: Float64Array } {
  const n = time.length;
  const half = window >> 1;
  const speed = new Float64Array(n).fill(Number.NaN);
  const acceleration = new Float64Array(n).fill(Number.NaN);
  const noise = new Float64Array(n).fill(Number.NaN);
  for (let i = 0; i < n; i += stride) {
    const from = Math.max(0, Math.min(i - half, n - window));
    const to = Math.min(n, from + window);
    let count = 0;
    let s1 = 0;
    let s2 = 0;
    let s3 = 0;
    let s4 = 0;
    let y0 = 0;
    let y1 = 0;
    let y2 = 0;
    const t0 = time[i];
    const span = Math.max(time[to - 1] - t0, t0 - time[from]) || 1;
    const base = position[i];
    let first = Number.NaN;
    let last = Number.NaN;
    for (let k = from; k < to; k++) {
      const y = position[k] - base;
      if (!Number.isFinite(y)) continue;
      const u = (time[k] - t0) / span;
      count++;
      const uu = u * u;
      s1 += u;
      s2 += uu;
      s3 += uu * u;
      s4 += uu * uu;
      y0 += y;
      y1 += y * u;
      y2 += y * uu;
      if (Number.isNaN(first)) first = y;
      last = y;
    }
    if (count < 4 || !Number.isFinite(base)) continue;
    // Normal equations of 1, u, u^2, solved by cofactors.
    const c00 = s2 * s4 - s3 * s3;
    const c01 = s2 * s3 - s1 * s4;
    const c02 = s1 * s3 - s2 * s2;
    const det = count * c00 + s1 * c01 + s2 * c02;
    if (!(Math.abs(det) > 1e-12)) continue;
    const c11 = count * s4 - s2 * s2;
    const c12 = s1 * s2 - count * s3;
    const c22 = count * s2 - s1 * s1;
    const a0 = (c00 * y0 + c01 * y1 + c02 * y2) / det;
    const a1 = (c01 * y0 + c11 * y1 + c12 * y2) / det;
    const a2 = (c02 * y0 + c12 * y1 + c22 * y2) / det;
    speed[i] = a1 / span;
    acceleration[i] = (2 * a2) / (span * span);
    let rss = 0;
    for (let k = from; k < to; k++) {
      const y = position[k] - base;
      if (!Number.isFinite(y)) continue;
      const u = (time[k] - t0) / span;
      rss += (y - a0 - a1 * u - a2 * u * u) ** 2;
    }
    const variance = Math.max(rss / Math.max(1, count - 3), resolution ** 2 / 12);
    const crossed = resolution > 0 ? 1 + Math.abs(last - first) / resolution : count;
    const correlated = count / Math.max(1, Math.min(count, crossed));
    noise[i] = Math.sqrt(Math.max(0, (variance * correlated * c11) / det)) / span;
  }
  return { speed, acceleration, noise };
}
