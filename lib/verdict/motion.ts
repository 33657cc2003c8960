import type { Recording, Trial } from "../recording/types.js";

/** Angle and speed of the shaft over a recording, from whichever channel carries them. */
export interface Motion {
  /** rad, from the position channel or the integral of speed. */
  readonly angle: Float64Array;
  /** rad/s, smoothed over `window` samples. */
  readonly speed: Float64Array;
  /** Standard deviation of `speed` while nothing turns, rad/s. */
  readonly speedNoise: number;
  /** Step of the angle, rad; 0 when unknown. */
  readonly angleStep: number;
}

/** Median of finite values; NaN of none. */
export function median(values: ArrayLike<number>): number {
  const sorted = Array.from(values)
    .filter(Number.isFinite)
    .sort((a, b) => a - b);
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  return n % 2 === 1 ? sorted[(n - 1) / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
}

/** Robust standard deviation: 1.4826 times the median absolute deviation (Rousseeuw and Croux 1993). */
export function robustDeviation(values: ArrayLike<number>): number {
  const middle = median(values);
  return 1.4826 * median(Array.from(values, (value) => Math.abs(value - middle)));
}

/**
 * The shaft's motion in a recording; undefined when neither position nor speed was logged.
 */
export function shaftMotion(recording: Recording): Motion | undefined {
  const { time, channels } = recording;
  const position = channels.position;
  const logged = channels.speed;
  if (position === undefined && logged === undefined) return undefined;
  const n = time.length;
  let angle: Float64Array;
  if (position !== undefined) angle = position.data;
  else {
    angle = new Float64Array(n);
    const data = (logged as NonNullable<typeof logged>).data;
    for (let i = 1; i < n; i += 1) {
      const step = 0.5 * (data[i] + data[i - 1]) * (time[i] - time[i - 1]);
      angle[i] = angle[i - 1] + (Number.isFinite(step) ? step : 0);
    }
  }
  const angleStep = position?.resolution ?? (position === undefined ? 0 : smallestStep(position.data));
  const speed = logged === undefined ? slope(time, angle) : logged.data;
  return { angle, speed, speedNoise: noiseOf(speed), angleStep };
}

function smallestStep(values: Float64Array): number {
  let smallest = Number.POSITIVE_INFINITY;
  for (let i = 1; i < values.length; i += 1) {
    const step = Math.abs(values[i] - values[i - 1]);
    if (step > 0 && step < smallest) smallest = step;
  }
  return Number.isFinite(smallest) ? smallest : 0;
}

/** Central difference over +-4 samples. */
function slope(time: Float64Array, values: Float64Array): Float64Array {
  const n = values.length;
  const out = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    const a = Math.max(0, i - 4);
    const b = Math.min(n - 1, i + 4);
    out[i] = b > a ? (values[b] - values[a]) / (time[b] - time[a]) : 0;
  }
  return out;
}

/** Noise from second differences, which a smooth motion hardly reaches (robust, white-noise scaling 1/sqrt(6)). */
function noiseOf(values: Float64Array): number {
  const differences: number[] = [];
  for (let i = 1; i + 1 < values.length; i += 1)
    differences.push(values[i + 1] - 2 * values[i] + values[i - 1]);
  const deviation = robustDeviation(differences) / Math.sqrt(6);
  return Number.isFinite(deviation) ? deviation : 0;
}

/** A stretch of a trial over which its command stood still. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly command: number;
}

/** The stretches of constant command of a trial, in order; `undefined` when the command was not logged. */
export function stretches(
  recording: Recording,
  trial: Trial,
  role: "currentCommand" | "speedCommand" | "torqueCommand",
): Stretch[] | undefined {
  const channel = recording.channels[role];
  if (channel === undefined) return undefined;
  const data = channel.data;
  const out: Stretch[] = [];
  let from = -1;
  for (let i = trial.from; i <= trial.to; i += 1) {
    const value = i < trial.to ? data[i] : Number.NaN;
    if (from >= 0 && (i === trial.to || Number.isNaN(value) || value !== data[from])) {
      out.push({ from, to: i, command: data[from] });
      from = -1;
    }
    if (from < 0 && i < trial.to && Number.isFinite(value)) from = i;
  }
  return out;
}
