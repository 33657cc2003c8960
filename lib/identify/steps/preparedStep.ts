/** What sums in closed form need of a record with uniform times. */
export interface UniformRecord {
  /** First scaled time after the step, spacing, number of samples after the step. */
  readonly t0: number;
  readonly spacing: number;
  readonly z: Float64Array;
  /** Sums over the samples after the step of t and z. */
  readonly sumT: number;
  readonly sumZ: number;
}

/** Times at which a response is wanted: their spacing where they are uniform, else 0. */
export interface ShapeTimes {
  readonly t: Float64Array;
  readonly spacing: number;
}

/** A unit-step response and its derivatives by the shape parameters, at given times. */
export interface ShapeColumns {
  readonly g: Float64Array;
  readonly da: Float64Array;
  readonly db: Float64Array;
}

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
  readonly sums: Sums;
  /** Room for the columns of a shape, made when they are first needed. */
  columns: ShapeColumns | undefined;
}

/** The room for the columns of a shape: step response and its derivatives by the shape parameters. */
export function columnsOf(s: PreparedStep): ShapeColumns {
  const room = (): Float64Array => new Float64Array(s.t.length);
  s.columns ??= { g: room(), da: room(), db: room() };
  return s.columns;
}

/** Sums of 1, t, t², z, tz, z². */
type Sums = readonly [number, number, number, number, number, number];

/** A record on its way: how its samples are scaled, and where those after the step go. */
interface Scaling {
  readonly time: Float64Array;
  readonly values: Float64Array;
  readonly stepTime: number;
  readonly mean: number;
  readonly perSpan: number;
  readonly perHeight: number;
  readonly before: number;
  readonly t: Float64Array;
  readonly z: Float64Array;
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
  const { mean, height } = locationOf(values);
  const t = new Float64Array(count - before);
  const z = new Float64Array(count - before);
  const perSpan = 1 / span;
  const scaling = { time, values, stepTime, mean, perSpan, perHeight: 1 / height, before, t, z };
  const common = { count, before, t, z, span, center: mean, height, columns: undefined };
  if (weights) {
    const sums = weightedSums(scaling, weights);
    return { ...common, spacing: uniformSpacing(t), w: weights.subarray(before), sums };
  }
  const first = weightedSums(scaling, undefined);
  const { spacing, sums } = sumsAfter(scaling);
  return {
    ...common,
    spacing,
    uniform: spacing > 0 ? { t0: t[0], spacing, z, sumT: sums[1], sumZ: sums[3] } : undefined,
    sums: [
      first[0] + sums[0],
      first[1] + sums[1],
      first[2] + sums[2],
      first[3] + sums[3],
      first[4] + sums[4],
      first[5] + sums[5],
    ],
  };
}

/** Mean and standard deviation; they scale only, and leave the results again as they came in. */
function locationOf(values: Float64Array): { readonly mean: number; readonly height: number } {
  const count = values.length;
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
  return { mean, height: Math.sqrt(Math.max(0, second / (count || 1) - first * first)) || 1 };
}

/** Weighted sums over all samples, which are scaled on the way; without weights over those before the step only. */
function weightedSums(s: Scaling, weights: Float64Array | undefined): Sums {
  const { time, values, stepTime, mean, perSpan, perHeight, before, t, z } = s;
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let y0 = 0;
  let y1 = 0;
  let y2 = 0;
  for (let i = 0; i < (weights ? time.length : before); i++) {
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
  return [s0, s1, s2, y0, y1, y2];
}

/** Sums over the samples after the step, which are scaled on the way, and their spacing where it is uniform. */
function sumsAfter(s: Scaling): { readonly spacing: number; readonly sums: Sums } {
  const { time, values, stepTime, mean, perSpan, perHeight, before, t, z } = s;
  const after = t.length;
  const start = after > 0 ? (time[before] - stepTime) * perSpan : 0;
  const step = after > 1 ? ((time[time.length - 1] - time[before]) * perSpan) / (after - 1) : 0;
  const slack = 1e-9 * step;
  let uneven = 0;
  let sumT = 0;
  let squares = 0;
  let sumZ = 0;
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
  const spacing = uneven === 0 && after >= fewestUniform ? step : 0;
  return { spacing, sums: [after, sumT, squares, sumZ, products, energy] };
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
