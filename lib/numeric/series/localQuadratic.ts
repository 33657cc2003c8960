/** Where a fit is made, and into what. */
export interface LocalQuadraticRange {
  /** First sample, and the one after the last. */
  readonly from: number;
  readonly to: number;
  /** Result to write into; a new one, NaN where nothing was fitted, when absent. */
  readonly into?: LocalQuadratic;
}

/** A quadratic fitted to a window about each sample: its slope and curvature there. */
export interface LocalQuadratic {
  /** Slope at the sample, unit of the values over s; NaN where too few values are near. */
  readonly slope: Float64Array;
  /** Second derivative at the sample. */
  readonly curvature: Float64Array;
  /** Standard deviation of the slope. */
  readonly noise: Float64Array;
}

/**
 * Fits a quadratic by least squares to the `window` samples centred on each sample (one-sided at the ends), with the
 * true times: the smoothing derivatives of Savitzky and Golay, Analytical Chemistry 36, 1964, for any spacing. Missing
 * values are skipped.
 *
 * Sums over the window are carried on from sample to sample about an origin that moves along, with the straight line
 * between neighbouring origins taken out, so that the work does not grow with the window and no digits are lost.
 *
 * @param quantum step of the values; their variance is taken as no less than that of rounding to it, and while the
 * values change by less than a step from sample to sample, they count as so many independent ones as steps were crossed
 * @param range samples to fit at; all when absent
 */
export function localQuadratic(
  time: Float64Array,
  values: Float64Array,
  window: number,
  quantum: number,
  range: LocalQuadraticRange = { from: 0, to: time.length },
): LocalQuadratic {
  const n = time.length;
  const half = window >> 1;
  const { slope, curvature, noise } = range.into ?? emptyFit(n);
  const block = Math.max(8, half);
  // The window summed reaches from `first` to before `next`; the origin and the straight line that are taken out before
  // summing, and the scale of the time. Sums in variables, not in an object: this is done for every sample of a log.
  let first = 0;
  let next = 0;
  let until = -1;
  let t0 = 0;
  let y0 = 0;
  let rate = 0;
  let scale = 1;
  let count = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  let s4 = 0;
  let r0 = 0;
  let r1 = 0;
  let r2 = 0;
  let rr = 0;
  for (let i = range.from; i < range.to; i += 1) {
    const from = Math.max(0, Math.min(i - half, n - window));
    const to = Math.min(n, from + window);
    if (i >= until || from >= next) {
      until = i + block;
      const end = Math.min(n - 1, Math.max(to - 1, from + 1));
      const across = time[end] - time[from];
      t0 = finiteOr(time[i], 0);
      y0 = finiteOr(values[i], 0);
      rate = finiteOr((values[end] - values[from]) / across, 0);
      scale = across > 0 ? 2 / across : 1;
      first = from;
      next = from;
      count = s1 = s2 = s3 = s4 = r0 = r1 = r2 = rr = 0;
    }
    for (; next < to; next += 1) {
      const since = time[next] - t0;
      const y = values[next] - y0 - rate * since;
      if (y - y !== 0) continue;
      const u = since * scale;
      const uu = u * u;
      count += 1;
      s1 += u;
      s2 += uu;
      s3 += uu * u;
      s4 += uu * uu;
      r0 += y;
      r1 += y * u;
      r2 += y * uu;
      rr += y * y;
    }
    for (; first < from; first += 1) {
      const since = time[first] - t0;
      const y = values[first] - y0 - rate * since;
      if (y - y !== 0) continue;
      const u = since * scale;
      const uu = u * u;
      count -= 1;
      s1 -= u;
      s2 -= uu;
      s3 -= uu * u;
      s4 -= uu * uu;
      r0 -= y;
      r1 -= y * u;
      r2 -= y * uu;
      rr -= y * y;
    }
    if (count < 4 || values[i] - values[i] !== 0) continue;
    const u = (time[i] - t0) * scale;
    if (!solve(count, s1, s2, s3, s4, r0, r1, r2, rr, u)) continue;
    slope[i] = rate + solved[0] * scale;
    curvature[i] = solved[1] * scale * scale;
    noise[i] = deviation(count, quantum, quantum > 0 ? travelOf(values, from, to) : 0) * scale;
  }
  return { slope, curvature, noise };
}

/** Slope, curvature, variance of what is left and its share in the slope's variance, of the last sums solved. */
const solved = new Float64Array(4);

/** The normal equations of 1, u, u^2 by cofactors, at u; false where the times do not bear a quadratic. */
function solve(
  count: number,
  s1: number,
  s2: number,
  s3: number,
  s4: number,
  r0: number,
  r1: number,
  r2: number,
  rr: number,
  u: number,
): boolean {
  const c00 = s2 * s4 - s3 * s3;
  const c01 = s2 * s3 - s1 * s4;
  const c02 = s1 * s3 - s2 * s2;
  const det = count * c00 + s1 * c01 + s2 * c02;
  if (!(Math.abs(det) > 1e-12 * count * s2 * s4)) return false;
  const c11 = count * s4 - s2 * s2;
  const c12 = s1 * s2 - count * s3;
  const c22 = count * s2 - s1 * s1;
  const a0 = (c00 * r0 + c01 * r1 + c02 * r2) / det;
  const a1 = (c01 * r0 + c11 * r1 + c12 * r2) / det;
  const a2 = (c02 * r0 + c12 * r1 + c22 * r2) / det;
  solved[0] = a1 + 2 * a2 * u;
  solved[1] = 2 * a2;
  solved[2] = Math.max(0, rr - a0 * r0 - a1 * r1 - a2 * r2) / Math.max(1, count - 3);
  solved[3] = (c11 + 4 * u * c12 + 4 * u * u * c22) / det;
  return true;
}

/** Standard deviation of the slope that was last solved. */
function deviation(count: number, quantum: number, travel: number): number {
  const variance = Math.max(solved[2], quantum ** 2 / 12);
  const crossed = quantum > 0 ? 1 + travel / quantum : count;
  const correlated = count / Math.max(1, Math.min(count, crossed));
  return Math.sqrt(Math.max(0, variance * correlated * solved[3]));
}

/** Slopes of the fits over windows of several lengths, and their standard deviations. */
export type LocalSlopes = Pick<LocalQuadratic, "slope" | "noise">;

/**
 * The slopes of `localQuadratic` over windows of several lengths at every stride-th sample. A window holds the shorter
 * ones, so that the work is that of the longest.
 *
 * @param windows rising
 */
export function localSlopes(
  time: Float64Array,
  values: Float64Array,
  windows: readonly number[],
  quantum: number,
  stride: number,
): LocalSlopes[] {
  const n = time.length;
  const out = windows.map(() => emptyFit(Math.ceil(n / stride)));
  const widest = Math.min(n, windows[windows.length - 1]);
  for (let i = 0; i < n; i += stride) {
    if (values[i] - values[i] !== 0) continue;
    const begin = Math.max(0, Math.min(i - (widest >> 1), n - widest));
    const end = Math.min(n - 1, begin + widest - 1);
    const across = time[end] - time[begin];
    const t0 = finiteOr(time[i], 0);
    const y0 = values[i];
    const rate = finiteOr((values[end] - values[begin]) / across, 0);
    const scale = across > 0 ? 2 / across : 1;
    let first = -1;
    let next = -1;
    let count = 0;
    let s1 = 0;
    let s2 = 0;
    let s3 = 0;
    let s4 = 0;
    let r0 = 0;
    let r1 = 0;
    let r2 = 0;
    let rr = 0;
    for (let w = 0; w < windows.length; w += 1) {
      const from = Math.max(0, Math.min(i - (windows[w] >> 1), n - windows[w]));
      const to = Math.min(n, from + windows[w]);
      if (w === 0) {
        first = from;
        next = from;
      }
      // Rows behind those that are summed, then those before them.
      for (let added = to - next + first - from; added > 0; added -= 1) {
        const k = next < to ? next++ : --first;
        const since = time[k] - t0;
        const y = values[k] - y0 - rate * since;
        if (y - y !== 0) continue;
        const u = since * scale;
        const uu = u * u;
        count += 1;
        s1 += u;
        s2 += uu;
        s3 += uu * u;
        s4 += uu * uu;
        r0 += y;
        r1 += y * u;
        r2 += y * uu;
        rr += y * y;
      }
      if (count < 4 || !solve(count, s1, s2, s3, s4, r0, r1, r2, rr, 0)) continue;
      const at = i / stride;
      out[w].slope[at] = rate + solved[0] * scale;
      out[w].noise[at] = deviation(count, quantum, quantum > 0 ? travelOf(values, from, to) : 0) * scale;
    }
  }
  return out;
}

/** A result in which nothing was fitted yet. */
export function emptyFit(n: number): LocalQuadratic {
  const none = (): Float64Array => new Float64Array(n).fill(Number.NaN);
  return { slope: none(), curvature: none(), noise: none() };
}

const finiteOr = (value: number, other: number): number => (value - value === 0 ? value : other);

/** Distance between the first and the last finite value of a window. */
function travelOf(values: Float64Array, from: number, to: number): number {
  let a = from;
  let b = to - 1;
  while (a < b && values[a] - values[a] !== 0) a += 1;
  while (b > a && values[b] - values[b] !== 0) b -= 1;
  return Math.abs(values[b] - values[a]);
}
