import { largest, largestOfColumn } from "../../numeric/series/largest.js";
import { median } from "../../numeric/series/median.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import { derivedSpeed } from "../derivedSpeed.js";
import { noiseOf, resolutionOf } from "../resolutionOf.js";
import type { Recording } from "../types.js";

/** A stretch no trial was made of. Samples `from <= i < to`. */
export interface LeftOver {
  readonly from: number;
  readonly to: number;
  readonly start: number;
  readonly end: number;
  readonly reason: string;
}

/** The shaft's speed, and what counts as rest. */
export interface Motion {
  readonly speed: Float64Array;
  /** Speeds below this are rest. */
  readonly rest: number;
}

const motions = new WeakMap<Recording, { readonly motion: Motion | undefined }>();

/** Speed for judging rest: logged, or derived from position; rest is what its noise and quantisation allow. Worked out
 * once for a recording. */
export function motionOf(recording: Recording): Motion | undefined {
  const known = motions.get(recording);
  if (known !== undefined) return known.motion;
  const motion = motionSeen(recording);
  motions.set(recording, { motion });
  return motion;
}

function motionSeen(recording: Recording): Motion | undefined {
  const { time, channels } = recording;
  const position = channels.position;
  if (position !== undefined) {
    const step = position.resolution;
    const derived = derivedSpeed(time, position.data, step);
    const dt = (time[time.length - 1] - time[0]) / (time.length - 1);
    const one = step !== undefined && dt > 0 ? step / (dt * median(derived.windows)) : 0;
    return {
      speed: derived.speed,
      rest: Math.max(3 * one, 4 * noiseLevel(derived.speed), 0.005 * largest(derived.speed)),
    };
  }
  const speed = channels.speed;
  if (speed === undefined) return undefined;
  const step = resolutionOf(speed.data);
  return {
    speed: speed.data,
    rest: Math.max(step > 0 ? 1.5 * step : 0, 4 * noiseOf(speed.data), 0.01 * largest(speed.data)),
  };
}

/** Speed at the beginning of a stretch, by the median of its first rows: one row may be a spike. */
export function speedAt(speed: Float64Array, from: number, to: number): number {
  const first = Array.from(speed.subarray(from, Math.min(to, from + 5))).filter((v) => v - v === 0);
  first.sort((a, b) => a - b);
  return first[first.length >> 1] ?? 0;
}

/** What a moving shaft does from `from` on: decays (to `end`, exclusive), keeps its speed, or gains speed. */
export function decayFrom(
  speed: Float64Array,
  from: number,
  to: number,
  rest: number,
): { readonly kind: "coast" | "steady" | "gains"; readonly end: number } {
  const first = speedAt(speed, from, to);
  const sign = Math.sign(first);
  const start = Math.abs(first);
  const tolerance = Math.max(rest, 0.04 * start);
  let lowest = start;
  let lowestAt = from;
  let above = 0;
  let end = from;
  let gained = false;
  for (; end < to; end += 1) {
    const w = speed[end] * sign;
    if (w <= rest) break;
    if (w < lowest) {
      lowest = w;
      lowestAt = end;
    }
    // Five rows in a row well above the lowest speed so far: something speeds it up again.
    above = w > lowest + tolerance ? above + 1 : 0;
    if (above >= 5) {
      gained = true;
      break;
    }
  }
  const last = gained ? lowestAt + 1 : end;
  const rested = !gained && last < to;
  // The last of the way down is below the resolution of the speed: a little of the rest closes the stretch.
  if (rested) return { kind: "coast", end: Math.min(to, last + Math.max(2, Math.ceil((last - from) / 20))) };
  const fell = last - from >= 10 && falls(speed, sign, from, last, Math.max(rest, 0.05 * start));
  if (fell) return { kind: "coast", end: last };
  return gained ? { kind: "gains", end: last } : { kind: "steady", end: last };
}

/** Whether the speed falls all along a stretch: by `least` from its first fifth to its last, and from each third to the
 * next. */
function falls(speed: Float64Array, sign: number, from: number, to: number, least: number): boolean {
  const n = to - from;
  const mean = (a: number, b: number): number => {
    let sum = 0;
    let count = 0;
    for (let i = from + Math.floor(a * n); i < from + Math.ceil(b * n); i += 1)
      if (speed[i] - speed[i] === 0) {
        sum += sign * speed[i];
        count += 1;
      }
    return count > 0 ? sum / count : Number.NaN;
  };
  const [one, two, three] = [mean(0, 1 / 3), mean(1 / 3, 2 / 3), mean(2 / 3, 1)];
  return mean(0, 0.2) - mean(0.8, 1) >= least && one > two && two > three;
}

/**
 * Whether the measured current of a stretch is nothing: its mean is below a thirtieth of the largest current of the
 * log, or within its noise. True where none was logged.
 */
export function withoutCurrent(recording: Recording, from: number, to: number): boolean {
  const { current, currentBus, torque } = recording.channels;
  const data = (current ?? currentBus ?? torque)?.data;
  if (data === undefined) return true;
  let sum = 0;
  let count = 0;
  for (let i = from; i < to; i += 1) {
    const v = data[i];
    if (v - v !== 0) continue;
    sum += v;
    count += 1;
  }
  if (count === 0) return true;
  const mean = Math.abs(sum / count);
  if (mean <= 0.035 * largestOfColumn(data)) return true;
  const stretch = data.subarray(from, to);
  const part = count === stretch.length ? stretch : stretch.filter((v) => v - v === 0);
  return mean <= (4 * noiseLevel(part)) / Math.sqrt(count);
}

export function movedBetween(recording: Recording, from: number, to: number): number {
  const position = recording.channels.position?.data;
  if (position !== undefined) {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let i = from; i < to; i += 1) {
      if (position[i] < low) low = position[i];
      if (position[i] > high) high = position[i];
    }
    return high - low;
  }
  const speed = recording.channels.speed?.data;
  let sum = 0;
  for (let i = from + 1; i < to; i += 1) {
    const v = speed?.[i] ?? 0;
    if (v - v === 0) sum += v * (recording.time[i] - recording.time[i - 1]);
  }
  return Math.abs(sum);
}

/** A hand turn is at least some counts and a thirtieth of a turn: less is a nudge. */
export function leastHandTurn(recording: Recording): number {
  return Math.max(0.2, 8 * (recording.channels.position?.resolution ?? 0));
}
