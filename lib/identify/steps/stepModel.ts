import { cholesky } from "../../numeric/linear/cholesky.js";
import { momentGram, type UniformRecord } from "./stepMoments.js";
import { fillShape, type StepShape, shapeParameters } from "./stepShapes.js";

/** A record made ready for step fits: scaled, centred, its model-free sums taken once. */
export interface PreparedStep {
  /** Samples in all, and those before the step. */
  readonly count: number;
  readonly before: number;
  /** Scaled times after the step (step at 0, last sample at 1) and scaled values. */
  readonly t: Float64Array;
  readonly z: Float64Array;
  /** Spacing of `t` where it is uniform, else 0. */
  readonly spacing: number;
  /** What the closed-form sums need, where times are uniform and there are no weights. */
  readonly uniform?: UniformRecord;
  /** Weights of the samples after the step, and of those before; all 1 when absent. */
  readonly w?: Float64Array;
  readonly span: number;
  readonly center: number;
  readonly height: number;
  /** Weighted sums over all samples of 1, t, t², z, tz, z². */
  readonly sums: readonly [number, number, number, number, number, number];
  /** Room for the columns of a shape, made when they are first needed. */
  columns: { readonly g: Float64Array; readonly da: Float64Array; readonly db: Float64Array } | undefined;
}

/** The room for the columns of a shape: step response and its derivatives by the shape parameters. */
export function columnsOf(s: PreparedStep): NonNullable<PreparedStep["columns"]> {
  const room = (): Float64Array => new Float64Array(s.t.length);
  s.columns ??= { g: room(), da: room(), db: room() };
  return s.columns;
}

/** Sorts out, scales and centres a record (ascending, finite samples; see `cleanRecord`). */
export function prepareStep(
  time: Float64Array,
  values: Float64Array,
  stepTime: number,
  weights?: Float64Array,
): PreparedStep {
  const count = time.length;
  let before = 0;
  while (before < count && time[before] < stepTime) before++;
  const span = count > 0 && time[count - 1] > stepTime ? time[count - 1] - stepTime : 1;
  const origin = count > 0 ? values[0] : 0;
  let first = 0;
  let second = 0;
  for (let i = 0; i < count; i++) {
    const d = values[i] - origin;
    first += d;
    second += d * d;
  }
  first /= count || 1;
  const mean = origin + first;
  // A scale only: it leaves the results again as it came in.
  const height = Math.sqrt(Math.max(0, second / (count || 1) - first * first)) || 1;
  const after = count - before;
  const t = new Float64Array(after);
  const z = new Float64Array(after);
  const perSpan = 1 / span;
  const perHeight = 1 / height;
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let y0 = 0;
  let y1 = 0;
  let y2 = 0;
  // Samples after the step without weights have a quicker loop of their own.
  for (let i = 0; i < (weights ? count : before); i++) {
    const ti = (time[i] - stepTime) * perSpan;
    const zi = (values[i] - mean) * perHeight;
    const wi = weights ? weights[i] : 1;
    s0 += wi;
    s1 += wi * ti;
    s2 += wi * ti * ti;
    y0 += wi * zi;
    y1 += wi * zi * ti;
    y2 += wi * zi * zi;
    if (i >= before) {
      t[i - before] = ti;
      z[i - before] = zi;
    }
  }
  let sumT = 0;
  let sumZ = 0;
  let spacing = 0;
  if (weights) {
    spacing = uniformSpacing(t);
  } else {
    const start = after > 0 ? (time[before] - stepTime) * perSpan : 0;
    const step = after > 1 ? ((time[count - 1] - time[before]) * perSpan) / (after - 1) : 0;
    const slack = 1e-9 * step;
    let uneven = 0;
    let squares = 0;
    let products = 0;
    let energy = 0;
    for (let i = 0; i < after; i++) {
      const ti = (time[before + i] - stepTime) * perSpan;
      const zi = (values[before + i] - mean) * perHeight;
      t[i] = ti;
      z[i] = zi;
      sumT += ti;
      squares += ti * ti;
      sumZ += zi;
      products += zi * ti;
      energy += zi * zi;
      if (Math.abs(ti - start - i * step) > slack) uneven++;
    }
    s0 += after;
    s1 += sumT;
    s2 += squares;
    y0 += sumZ;
    y1 += products;
    y2 += energy;
    if (uneven === 0 && after >= fewestUniform) spacing = step;
  }
  return {
    count,
    before,
    t,
    z,
    spacing,
    uniform: spacing > 0 && !weights ? { t0: t[0], spacing, z, sumT, sumZ } : undefined,
    w: weights?.subarray(before),
    span,
    center: mean,
    height,
    sums: [s0, s1, s2, y0, y1, y2],
    columns: undefined,
  };
}

/** Samples from which on a uniform grid is made use of. */
const fewestUniform = 16;

/** Spacing of times that are uniform to 1e-9 of their spacing, else 0. */
function uniformSpacing(t: Float64Array): number {
  const m = t.length;
  if (m < fewestUniform) return 0;
  const h = (t[m - 1] - t[0]) / (m - 1);
  for (let i = 1; i < m; i++) if (Math.abs(t[i] - t[0] - i * h) > 1e-9 * h) return 0;
  return h;
}

/** Outcome of one model's fit, in scaled units (`a`, `b` scaled by the span: multiply `a` and a dead time by it). */
export interface StepModelFit {
  readonly shape: StepShape;
  readonly drift: boolean;
  readonly a: number;
  readonly b: number;
  readonly initial: number;
  readonly slope: number;
  readonly amplitude: number;
  /** Scaled residual sum of squares. */
  readonly sumOfSquares: number;
  /** Fitted parameters in all. */
  readonly parameters: number;
  readonly converged: boolean;
  readonly iterations: number;
  /** Upper triangular factor of the Gram matrix over the columns in `use` (1, t, g, dg/da, dg/db by number), row-major
   * by six. */
  readonly factor: Float64Array;
  readonly use: readonly number[];
}

/** Column order of the Gram matrix: 1, t, g, dg/da, dg/db, z. */
const width = 6;

/** Sums of products of one column with 1, t and z, and with one or two others; `w` are weights (all 1 when absent). */
function columnSums(
  x: Float64Array,
  t: Float64Array,
  z: Float64Array,
  other: Float64Array,
  third: Float64Array,
  w: Float64Array | undefined,
  out: Float64Array,
): void {
  const m = t.length;
  let s1 = 0;
  let st = 0;
  let sz = 0;
  let so = 0;
  let s3 = 0;
  let sx = 0;
  if (w) {
    for (let i = 0; i < m; i++) {
      const v = x[i];
      const u = w[i] * v;
      s1 += u;
      st += u * t[i];
      sz += u * z[i];
      so += u * other[i];
      s3 += u * third[i];
      sx += u * v;
    }
  } else {
    for (let i = 0; i < m; i++) {
      const v = x[i];
      s1 += v;
      st += v * t[i];
      sz += v * z[i];
      so += v * other[i];
      s3 += v * third[i];
      sx += v * v;
    }
  }
  out[0] = s1;
  out[1] = st;
  out[2] = sz;
  out[3] = so;
  out[4] = s3;
  out[5] = sx;
}

const sumsOf = new Float64Array(6);

/** Products of the shape columns with each other, with 1, t and z. */
function fillGram(s: PreparedStep, two: boolean, gram: Float64Array): void {
  const { t, z, w, sums } = s;
  const { g, da, db } = columnsOf(s);
  gram[0] = sums[0];
  gram[1] = sums[1];
  gram[width + 1] = sums[2];
  gram[5] = sums[3];
  gram[width + 5] = sums[4];
  gram[5 * width + 5] = sums[5];
  columnSums(g, t, z, da, db, w, sumsOf);
  gram[2] = sumsOf[0];
  gram[width + 2] = sumsOf[1];
  gram[2 * width + 5] = sumsOf[2];
  gram[2 * width + 3] = sumsOf[3];
  gram[2 * width + 4] = sumsOf[4];
  gram[2 * width + 2] = sumsOf[5];
  columnSums(da, t, z, db, db, w, sumsOf);
  gram[3] = sumsOf[0];
  gram[width + 3] = sumsOf[1];
  gram[3 * width + 5] = sumsOf[2];
  gram[3 * width + 4] = sumsOf[3];
  gram[3 * width + 3] = sumsOf[5];
  if (!two) return;
  columnSums(db, t, z, db, db, w, sumsOf);
  gram[4] = sumsOf[0];
  gram[width + 4] = sumsOf[1];
  gram[4 * width + 5] = sumsOf[2];
  gram[4 * width + 4] = sumsOf[5];
}

const packed = new Float64Array(width * width);

/**
 * Cholesky factor of the Gram matrix over the columns in use (others skipped); false where a column depends on those
 * before it. The last diagonal entry holds the sum of squares left by all columns, not its root.
 */
function factorGram(gram: Float64Array, use: readonly number[], r: Float64Array): boolean {
  const n = use.length - 1;
  for (let j = 0; j < n; j++) for (let i = 0; i <= j; i++) packed[j * n + i] = gram[use[i] * width + use[j]];
  if (!cholesky(packed, n)) return false;
  let left = gram[5 * width + 5];
  for (let j = 0; j < n; j++) {
    const row = j * n;
    const cj = use[j];
    const pivot = packed[row + j];
    if (!(pivot * pivot > 1e-13 * gram[cj * width + cj])) return false;
    let sum = gram[cj * width + 5];
    for (let k = 0; k < j; k++) {
      r[use[k] * width + cj] = packed[row + k];
      sum -= packed[row + k] * r[use[k] * width + 5];
    }
    r[cj * width + cj] = pivot;
    const share = sum / pivot;
    r[cj * width + 5] = share;
    left -= share * share;
  }
  r[5 * width + 5] = Math.max(0, left);
  return true;
}

export interface StepModelOptions {
  readonly drift?: boolean;
  /** Scaled initial value held fixed (else fitted). */
  readonly heldInitial?: number;
  /** Stop when the minimum is nearer than this many standard errors, 1e-6 when absent. */
  readonly tolerance?: number;
  /** Most iterations, 60 when absent. */
  readonly most?: number;
}

/** A second order whose b is below this share of a² cannot be told from the first order, and a time constant of so many
 * records from a line. */
const collapsed = 2e-4;
const slowest = 50;

/**
 * Least-squares fit of one step response: the linear parameters (initial value, slope, amplitude) are eliminated
 * exactly at every step (variable projection, Golub and Pereyra 1973, in Kaufman's 1975 form) and only the one or two
 * shape parameters are searched, from the Cholesky factor of the Gram matrix of the columns. One pass over the samples
 * per trial.
 *
 * @returns undefined where the columns depend on each other (nothing to fit), where a second order collapses into the
 * first, or where the response becomes a line
 */
export function fitStepModel(
  s: PreparedStep,
  shape: StepShape,
  startA: number,
  startB: number,
  options: StepModelOptions = {},
): StepModelFit | undefined {
  const drift = options.drift ?? false;
  const held = options.heldInitial;
  const two = shapeParameters[shape] === 2;
  const use: number[] = [];
  if (held === undefined) use.push(0);
  if (drift) use.push(1);
  use.push(2, 3);
  if (two) use.push(4);
  use.push(5);
  const linear = use.filter((c) => c < 3);
  const parameters = use.length - 1;
  const degrees = Math.max(1, s.count - parameters);
  const gram = new Float64Array(width * width);
  let r = new Float64Array(width * width);
  let trial = new Float64Array(width * width);
  const lowestB = shape === "second-order" ? 1e-9 : 0;

  const evaluate = (a: number, b: number, into: Float64Array): boolean => {
    if (s.uniform && momentGram(s.uniform, shape, a, b, gram)) {
      gram[0] = s.sums[0];
      gram[1] = s.sums[1];
      gram[width + 1] = s.sums[2];
      gram[5] = s.sums[3];
      gram[width + 5] = s.sums[4];
      gram[5 * width + 5] = s.sums[5];
    } else {
      const { g, da, db } = columnsOf(s);
      fillShape(shape, a, b, s.t, s.spacing, g, da, db);
      fillGram(s, two, gram);
    }
    if (held !== undefined) {
      // z - held in place of z.
      const z0 = gram[5];
      gram[2 * width + 5] -= held * gram[2];
      gram[3 * width + 5] -= held * gram[3];
      gram[4 * width + 5] -= held * gram[4];
      gram[1 * width + 5] -= held * gram[1];
      gram[5 * width + 5] += held * held * gram[0] - 2 * held * z0;
    }
    return factorGram(gram, use, into);
  };
  const coefficients = (from: Float64Array): Float64Array => {
    const c = new Float64Array(3);
    for (let i = linear.length - 1; i >= 0; i--) {
      const ci = linear[i];
      let sum = from[ci * width + 5];
      for (let j = i + 1; j < linear.length; j++) sum -= from[ci * width + linear[j]] * c[linear[j]];
      c[ci] = sum / from[ci * width + ci];
    }
    return c;
  };

  /** Residual sum of squares of the model: what the shape derivatives could still remove is part of it. */
  const total = (from: Float64Array): number =>
    from[35] + from[3 * width + 5] ** 2 + (two ? from[4 * width + 5] ** 2 : 0);

  /**
   * Close to the minimum the sum of squares is flat to the last digit and its rounding would stop the search at random:
   * there a step counts that brings the minimum clearly nearer.
   */
  const nearer = (to: Float64Array, rss: number, offset: number, heldB: boolean): boolean => {
    const left = total(to);
    if (offset > 1e-2 || left > rss * (1 + 1e-7) + 1e-15 * s.sums[5]) return false;
    const e1 = to[3 * width + 5];
    const e2 = two && !heldB ? to[4 * width + 5] : 0;
    return Math.sqrt((e1 * e1 + e2 * e2) / (two ? 2 : 1) / (left / degrees)) < 0.5 * offset;
  };

  let a = startA;
  let b = two ? Math.max(lowestB, startB) : 0;
  if (!evaluate(a, b, r)) return undefined;
  let lambda = 0;
  let iterations = 0;
  let converged = false;
  const tolerance = options.tolerance ?? 1e-6;
  const most = options.most ?? 60;
  for (; iterations < most; iterations++) {
    if (a > slowest) return undefined;
    if (shape === "second-order" && b < collapsed * a * a) return undefined;
    const rss = total(r);
    const amplitude = coefficients(r)[2];
    if (amplitude === 0) break;
    // Tangent part of the residual along the shape derivatives.
    const e1 = r[3 * width + 5];
    let e2 = two ? r[4 * width + 5] : 0;
    // A dead time of none that wants to be less is held.
    const heldB = shape === "first-order-dead-time" && b === 0 && e2 * amplitude < 0;
    if (heldB) e2 = 0;
    const offset = Math.sqrt((e1 * e1 + e2 * e2) / (two ? 2 : 1) / (rss / degrees));
    if (offset < tolerance || rss <= 1e-26 * s.sums[5]) {
      converged = true;
      break;
    }
    let moved = false;
    let tiny = false;
    for (let tries = 0; tries < 25; tries++) {
      const r11 = r[3 * width + 3];
      let stepA: number;
      let stepB = 0;
      if (!two || heldB) stepA = e1 / (r11 * (1 + lambda));
      else {
        const r12 = r[3 * width + 4];
        const r22 = r[4 * width + 4];
        const h11 = r11 * r11 * (1 + lambda);
        const h12 = r11 * r12;
        const h22 = (r12 * r12 + r22 * r22) * (1 + lambda);
        const f1 = r11 * e1;
        const f2 = r12 * e1 + r22 * e2;
        const det = h11 * h22 - h12 * h12;
        stepA = (h22 * f1 - h12 * f2) / det;
        stepB = (h11 * f2 - h12 * f1) / det;
      }
      let nextA = a + stepA / amplitude;
      let nextB = b + stepB / amplitude;
      if (!(nextA > 0.1 * a)) nextA = 0.1 * a;
      else if (nextA > 10 * a) nextA = 10 * a;
      if (two) {
        if (shape === "second-order") {
          if (!(nextB > 0.1 * b)) nextB = Math.max(lowestB, 0.1 * b);
          else if (nextB > 10 * b && b > 0) nextB = 10 * b;
        } else if (!(nextB > 0)) nextB = 0;
        else if (nextB > 0.9) nextB = 0.9;
      }
      tiny =
        Math.abs(nextA - a) <= 1e-11 * a && (!two || Math.abs(nextB - b) <= 1e-11 * Math.max(b, 1e-3 * a));
      if (tiny) break;
      if (
        evaluate(nextA, nextB, trial) &&
        (total(trial) <= rss * (1 + 1e-13) || nearer(trial, rss, offset, heldB))
      ) {
        a = nextA;
        b = nextB;
        [r, trial] = [trial, r];
        lambda = lambda < 1e-4 ? 0 : lambda / 10;
        moved = true;
        break;
      }
      lambda = lambda === 0 ? 1e-3 : lambda * 8;
    }
    if (!moved) {
      converged = tiny || offset < 1e-3;
      break;
    }
  }
  const c = coefficients(r);
  return {
    shape,
    drift,
    a,
    b,
    initial: held ?? c[0],
    slope: drift ? c[1] : 0,
    amplitude: c[2],
    sumOfSquares: total(r),
    parameters,
    converged,
    iterations,
    factor: r,
    use: use.slice(0, -1),
  };
}

/**
 * Covariance of the scaled parameters per unit of residual variance, in the order of `use`: initial, slope, amplitude,
 * a, b. Row-major.
 */
export function scaledCovariance(fit: StepModelFit): Float64Array {
  const { use, factor, amplitude } = fit;
  const n = use.length;
  // Inverse of the factor, columns of shape derivatives multiplied by the amplitude.
  const inverse = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    for (let i = j; i >= 0; i--) {
      let sum = i === j ? 1 : 0;
      for (let k = i + 1; k <= j; k++) sum -= factor[use[i] * width + use[k]] * inverse[k * n + j];
      inverse[i * n + j] = sum / factor[use[i] * width + use[i]];
    }
  }
  const out = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = i; k < n; k++) sum += inverse[i * n + k] * inverse[j * n + k];
      if (use[i] > 2) sum /= amplitude;
      if (use[j] > 2) sum /= amplitude;
      out[i * n + j] = sum;
      out[j * n + i] = sum;
    }
  return out;
}
