import { studentT } from "../../numeric/distributions/distributions.js";
import { cholesky } from "../../numeric/linear/cholesky.js";
import type { DayLayout } from "./dayLayout.js";

/** Spreads between batches that are tried, as variance over that of a typical day's mean. */
export const spreads = [0, 0.1, 0.3, 1, 3, 10, 40] as const;
/** Parts of a typical day's variance that do not fall with its number of motors. */
const dayParts = [0, 0.25, 0.6, 1] as const;
/** Fewest batches among which one can be seen to lie apart. */
const leastBatches = 4;

/** What may have happened: a lasting step from a day on, a single day apart, a batch apart on all its days. */
export type Happening = "step" | "day" | "batch";
export const happenings: readonly Happening[] = ["step", "day", "batch"];

/** The strongest of one kind. */
export interface Strongest {
  /** Day from which the step lasts, day or batch; -1 where there is none to look at. */
  readonly at: number;
  /** Student's t of its size: of a step, with the spread between batches fitted with and without it. */
  readonly t: number;
  readonly size: number;
  readonly error: number;
}

/** What one set of daily means shows. */
export interface DaysSeen {
  readonly happened: Readonly<Record<Happening, Strongest>>;
  /** Place in `spreads` of the spread between batches when nothing happened. */
  readonly spread: number;
  readonly logLikelihood: number;
  /** Each day's size beyond what the other days let expect, and the error of that. */
  readonly off: Float64Array;
  readonly offError: Float64Array;
  /** Error of a step at each day. */
  readonly stepError: Float64Array;
}

/** One tried spread between batches: what takes out the mean and weighs (P of the mixed model), and its norms. */
interface Weighing {
  readonly p: Float64Array;
  /** n-th root of the determinant of the variances, for n days. */
  readonly size: number;
  readonly norms: Readonly<Record<Happening, Float64Array>>;
}

/** Daily means as a mixed model: a mean, batches that differ at random, days that scatter. */
export interface DayModel {
  readonly layout: DayLayout;
  readonly dayPart: number;
  /** Variance of one row of a day when that of a typical day's mean is one. */
  readonly rowVariance: number;
  readonly weighings: readonly Weighing[];
}

/**
 * The model of one layout. `dayPart`: part of a typical day's variance that does not fall with its number of motors
 * (what acts on all motors of a day alike).
 */
function dayModel(layout: DayLayout, dayPart: number): DayModel {
  const n = layout.days.length;
  const inverse = layout.ofDay.reduce((sum, count) => sum + 1 / count, 0) / n;
  const rowVariance = (1 - dayPart) / inverse;
  const own = layout.ofDay.map((count) => dayPart + rowVariance / count);
  const tried = layout.batches > 1 ? spreads : spreads.slice(0, 1);
  return { layout, dayPart, rowVariance, weighings: tried.map((spread) => weighing(layout, own, spread)) };
}

/** Models to choose from: where all days have about as many motors, the part of the day does not matter. */
export function modelsOf(layout: DayLayout): DayModel[] {
  const [least, most] = [Math.min(...layout.ofDay), Math.max(...layout.ofDay)];
  return (most <= 1.5 * least ? dayParts.slice(0, 1) : dayParts).map((part) => dayModel(layout, part));
}

function weighing(layout: DayLayout, own: Float64Array, spread: number): Weighing {
  const n = own.length;
  const v = new Float64Array(n * n);
  const shares = batchColumns(layout);
  for (let i = 0; i < n; i++) v[i * n + i] = own[i];
  if (spread > 0)
    for (const column of shares)
      for (const { day: i, part: a } of column)
        for (const { day: j, part: b } of column) v[i * n + j] += spread * a * b;
  cholesky(v, n);
  let logDeterminant = 0;
  for (let i = 0; i < n; i++) logDeterminant += 2 * Math.log(v[i * n + i]);
  const p = withoutMean(inverseOf(v, n), n);
  const norms = {
    step: new Float64Array(n),
    day: new Float64Array(n),
    batch: new Float64Array(shares.length),
  };
  for (let d = 0; d < n; d++) norms.day[d] = wholeBatch(layout, d) ? 0 : p[d * n + d];
  // Sums of the lower right corner, from the last day on.
  let corner = 0;
  for (let k = n - 1; k >= 0; k--) {
    corner += p[k * n + k];
    for (let j = k + 1; j < n; j++) corner += 2 * p[k * n + j];
    if (k >= 2 && k <= n - 2) norms.step[k] = corner;
  }
  shares.forEach((column, b) => {
    if (shares.length < leastBatches || column.length < 2) return;
    for (const { day: i, part: a } of column)
      for (const { day: j, part: c } of column) norms.batch[b] += a * c * p[i * n + j];
  });
  return { p, size: Math.exp(logDeterminant / n), norms };
}

/** True when a day is all there is of its batch and too few other batches tell how much they differ. */
function wholeBatch(layout: DayLayout, d: number): boolean {
  if (layout.batches === 1 || layout.batches >= leastBatches) return false;
  const [first] = layout.parts[d];
  return first.part === 1 && layout.ofBatch[first.batch] === layout.ofDay[d];
}

/** The days of each batch with its part of their motors. */
function batchColumns(layout: DayLayout): { day: number; part: number }[][] {
  const columns: { day: number; part: number }[][] = Array.from({ length: layout.batches }, () => []);
  layout.parts.forEach((list, day) => {
    for (const { batch, part } of list) columns[batch].push({ day, part });
  });
  return columns;
}

/** Inverse from a lower Cholesky factor. */
function inverseOf(factor: Float64Array, n: number): Float64Array {
  const lower = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    lower[j * n + j] = 1 / factor[j * n + j];
    for (let i = j + 1; i < n; i++) {
      let sum = 0;
      for (let k = j; k < i; k++) sum -= factor[i * n + k] * lower[k * n + j];
      lower[i * n + j] = sum / factor[i * n + i];
    }
  }
  const inverse = new Float64Array(n * n);
  for (let k = 0; k < n; k++)
    for (let i = 0; i <= k; i++)
      for (let j = 0; j <= k; j++) inverse[i * n + j] += lower[k * n + i] * lower[k * n + j];
  return inverse;
}

function withoutMean(v: Float64Array, n: number): Float64Array {
  const sums = new Float64Array(n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) sums[i] += v[i * n + j];
  const total = sums.reduce((a, b) => a + b, 0);
  return v.map((one, k) => one - (sums[Math.floor(k / n)] * sums[k % n]) / total);
}

/** Looks for what happened in one set of daily means. */
export function lookAtDays(model: DayModel, y: Float64Array): DaysSeen {
  const n = y.length;
  const best = {
    step: new Candidates(n, n),
    day: new Candidates(n, n),
    batch: new Candidates(model.layout.batches, n),
  };
  const pulls = {
    step: new Float64Array(n),
    day: new Float64Array(n),
    batch: new Float64Array(model.layout.batches),
  };
  let [spread, least] = [0, Number.POSITIVE_INFINITY];
  model.weighings.forEach(({ p, size, norms }, g) => {
    const left = pullsOf(model.layout, p, y, pulls);
    if (size * left < least) [spread, least] = [g, size * left];
    for (const kind of happenings) best[kind].take(pulls[kind], norms[kind], left, size);
  });
  const strongest = (kind: Happening) => best[kind].strongest(kind === "step" ? least : undefined);
  return {
    happened: { step: strongest("step"), day: strongest("day"), batch: strongest("batch") },
    spread,
    logLikelihood: (-n / 2) * Math.log(least),
    off: best.day.size,
    offError: best.day.error,
    stepError: best.step.error,
  };
}

/** What each candidate pulls at, and the squares that are left about the mean. */
function pullsOf(
  layout: DayLayout,
  p: Float64Array,
  y: Float64Array,
  pulls: Readonly<Record<Happening, Float64Array>>,
): number {
  const n = y.length;
  pulls.batch.fill(0);
  let left = 0;
  let sum = 0;
  for (let i = n - 1; i >= 0; i--) {
    const z = productOf(p, i * n, y);
    left += z * y[i];
    sum += z;
    pulls.day[i] = z;
    pulls.step[i] = sum;
    if (layout.batches === 1) continue;
    const parts = layout.parts[i];
    for (let k = 0; k < parts.length; k++) pulls.batch[parts[k].batch] += parts[k].part * z;
  }
  return Math.max(left, 1e-300);
}

/** A row of a matrix, from a place on, times a vector; four sums, so that no addition waits for the one before it. */
function productOf(p: Float64Array, from: number, y: Float64Array): number {
  const n = y.length;
  let a = 0;
  let b = 0;
  let c = 0;
  let d = 0;
  let j = 0;
  for (; j + 3 < n; j += 4) {
    a += p[from + j] * y[j];
    b += p[from + j + 1] * y[j + 1];
    c += p[from + j + 2] * y[j + 2];
    d += p[from + j + 3] * y[j + 3];
  }
  for (; j < n; j++) a += p[from + j] * y[j];
  return a + b + (c + d);
}

/** All candidates of one kind, each with the spread between batches that makes it likeliest: that at which the squares
 * that are left, times the n-th root of the determinant, are least. */
class Candidates {
  private readonly least: Float64Array;
  readonly size: Float64Array;
  readonly error: Float64Array;

  constructor(
    count: number,
    private readonly days: number,
  ) {
    this.least = new Float64Array(count).fill(Number.POSITIVE_INFINITY);
    this.size = new Float64Array(count);
    this.error = new Float64Array(count).fill(Number.POSITIVE_INFINITY);
  }

  take(pull: Float64Array, norm: Float64Array, left: number, size: number) {
    const { least, days } = this;
    for (let c = 0; c < pull.length; c++) {
      if (!(norm[c] > 1e-9)) continue;
      const step = pull[c] / norm[c];
      const rest = Math.max(1e-12 * left, left - pull[c] * step);
      if (size * rest >= least[c]) continue;
      least[c] = size * rest;
      this.size[c] = step;
      this.error[c] = Math.sqrt(rest / (days - 2) / norm[c]);
    }
  }

  /** `nothing`: the same without a happening, when the likelihoods are to be compared. */
  strongest(nothing: number | undefined): Strongest {
    const { least, size, error, days } = this;
    let at = -1;
    let most = 0;
    for (let c = 0; c < size.length; c++) {
      const t =
        nothing === undefined
          ? Math.abs(size[c]) / error[c]
          : Math.sqrt((days - 2) * Math.max(0, nothing / least[c] - 1));
      if (t > most) [at, most] = [c, t];
    }
    return { at, t: most, size: at < 0 ? 0 : size[at], error: at < 0 ? 0 : error[at] };
  }
}

/** A t of daily means on a scale on which its chance falls by the factor e with each unit, and back. */
export const surpriseOf = (t: number, days: number) => -Math.log(2 * studentT.upper(t, days - 2));
export const tOfSurprise = (surprise: number, days: number) =>
  -studentT.quantile(Math.exp(-surprise) / 2, days - 2);
