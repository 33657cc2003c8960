/** Where a fit is made, and into what. */
export interface LocalQuadraticRange {
  /** First sample, and the one after the last. */
  readonly from: number;
  readonly to: number;
  /** Fit every so many samples only; the result then holds those alone, one after another. */
  readonly stride?: number;
  /** Result to write into (not with a stride); a new one, NaN where nothing was fitted, when absent. */
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
  const stride = range.stride ?? 1;
  const result = range.into ?? emptyFit(stride === 1 ? n : Math.ceil((range.to - range.from) / stride));
  const rounding = quantum ** 2 / 12;
  const block = Math.max(stride, Math.max(8, half));
  const sums = new WindowSums(time, values);
  let until = -1;
  for (let i = range.from; i < range.to; i += stride) {
    const from = Math.max(0, Math.min(i - half, n - window));
    const to = Math.min(n, from + window);
    if (i >= until || from >= sums.next) {
      until = i + block;
      sums.begin(i, from, to);
    }
    sums.moveTo(from, to);
    if (sums.count < 4 || values[i] - values[i] !== 0 || !sums.solve(i)) continue;
    const at = stride === 1 ? i : (i - range.from) / stride;
    const { count } = sums;
    const variance = Math.max(sums.left / Math.max(1, count - 3), rounding);
    const crossed = quantum > 0 ? 1 + travelOf(values, from, to) / quantum : count;
    const correlated = count / Math.max(1, Math.min(count, crossed));
    result.slope[at] = sums.slope;
    result.curvature[at] = sums.curvature;
    result.noise[at] = Math.sqrt(Math.max(0, variance * correlated * sums.spread)) * sums.scale;
  }
  return result;
}

/** Sums over a window of a series that moves along, less a straight line through an origin, and the fit they give. */
class WindowSums {
  /** Values summed. */
  count = 0;
  /** First sample that was not yet added. */
  next = 0;
  private first = 0;
  /** Origin and straight line that are taken out before summing, and the scale of the time. */
  private t0 = 0;
  private y0 = 0;
  private rate = 0;
  scale = 1;
  private s1 = 0;
  private s2 = 0;
  private s3 = 0;
  private s4 = 0;
  private r0 = 0;
  private r1 = 0;
  private r2 = 0;
  private rr = 0;
  /** The fit: slope and curvature, residual sum of squares, variance of the slope over theirs in scaled time. */
  slope = 0;
  curvature = 0;
  left = 0;
  spread = 0;

  constructor(
    private readonly time: Float64Array,
    private readonly values: Float64Array,
  ) {}

  /** Begins an empty window with its origin at a sample. */
  begin(i: number, from: number, to: number): void {
    const { time, values } = this;
    const end = Math.min(time.length - 1, Math.max(to - 1, from + 1));
    const across = time[end] - time[from];
    this.t0 = finiteOr(time[i], 0);
    this.y0 = finiteOr(values[i], 0);
    this.rate = finiteOr((values[end] - values[from]) / across, 0);
    this.scale = across > 0 ? 2 / across : 1;
    this.count = 0;
    this.s1 = 0;
    this.s2 = 0;
    this.s3 = 0;
    this.s4 = 0;
    this.r0 = 0;
    this.r1 = 0;
    this.r2 = 0;
    this.rr = 0;
    this.first = from;
    this.next = from;
  }

  /** Moves the ends of the window on. */
  moveTo(from: number, to: number): void {
    for (; this.next < to; this.next += 1) this.add(this.next, 1);
    for (; this.first < from; this.first += 1) this.add(this.first, -1);
  }

  private add(k: number, sign: 1 | -1): void {
    const v = this.values[k];
    const t = this.time[k];
    if (v - v !== 0 || t - t !== 0) return;
    const since = t - this.t0;
    const u = since * this.scale;
    const y = v - this.y0 - this.rate * since;
    const uu = u * u;
    this.count += sign;
    this.s1 += sign * u;
    this.s2 += sign * uu;
    this.s3 += sign * (uu * u);
    this.s4 += sign * (uu * uu);
    this.r0 += sign * y;
    this.r1 += sign * (y * u);
    this.r2 += sign * (y * uu);
    this.rr += sign * (y * y);
  }

  /** Solves the normal equations of 1, u, u^2 by cofactors; false where the times do not bear a quadratic. */
  solve(i: number): boolean {
    const { count, s1, s2, s3, s4, r0, r1, r2, scale } = this;
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
    const u = (this.time[i] - this.t0) * scale;
    this.slope = this.rate + (a1 + 2 * a2 * u) * scale;
    this.curvature = 2 * a2 * scale * scale;
    this.left = Math.max(0, this.rr - a0 * r0 - a1 * r1 - a2 * r2);
    this.spread = (c11 + 4 * u * c12 + 4 * u * u * c22) / det;
    return true;
  }
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
