import { range } from "../numeric/series/range.js";
import type { Recording, Trial } from "../recording/types.js";

/** What the channels of a recording did over a trial, in coarse strokes. */
export interface TrialPicture {
  /** s */
  readonly length: number;
  /** Mean and spread of each channel over each part of the trial, as parts of the channel's whole range (a position
   * counted from where the trial begins), and the fraction that is missing. */
  readonly strokes: Float64Array;
}

/** Parts of a trial. */
const parts = 24;

/** What two pictures of one thing may be apart: in a stroke as a part of the channel's range, and in length (common
 * practice, no source). */
const apart = { stroke: 0.02, length: 0.02 };

/**
 * Draws pictures of the trials of a recording, by which those are found that went alike.
 *
 * @returns the picture of a trial; undefined where it is too short for one
 */
export function picturesOf(
  recording: Recording,
  trials: readonly Trial[],
): (trial: Trial) => TrialPicture | undefined {
  const channels = Object.values(recording.channels).map(({ role, data }) => {
    const fromStart = role === "position";
    const ranges = fromStart
      ? trials.map(({ from, to }) => rangeOf(data.subarray(from, to)))
      : [rangeOf(data)];
    return { data, fromStart, whole: ranges.reduce((a, b) => Math.max(a, b), 0) || 1 };
  });
  return ({ from, to, start, end }) => {
    if (to - from < 4 * parts) return undefined;
    const strokes = new Float64Array(3 * parts * channels.length);
    let at = 0;
    for (const { data, fromStart, whole } of channels)
      for (let k = 0; k < parts; k += 1, at += 3) {
        const first = from + Math.floor((k * (to - from)) / parts);
        const last = from + Math.floor(((k + 1) * (to - from)) / parts);
        const base = fromStart && data[from] - data[from] === 0 ? data[from] : 0;
        stroke(data, first, last, base, strokes.subarray(at, at + 3));
        strokes[at] /= whole;
        strokes[at + 1] /= whole;
      }
    return { length: end - start, strokes };
  };
}

/** Whether two trials went alike as far as their pictures tell. */
export function looksLike(a: TrialPicture, b: TrialPicture): boolean {
  if (Math.abs(a.length - b.length) > apart.length * a.length) return false;
  for (let k = 0; k < a.strokes.length; k += 1)
    if (!(Math.abs(a.strokes[k] - b.strokes[k]) <= apart.stroke)) return false;
  return true;
}

/** Mean and spread of a part of a channel, and what is missing of it. */
function stroke(data: Float64Array, from: number, to: number, base: number, into: Float64Array): void {
  let count = 0;
  let sum = 0;
  let squares = 0;
  for (let i = from; i < to; i += 1) {
    const v = data[i] - base;
    if (v - v !== 0) continue;
    count += 1;
    sum += v;
    squares += v * v;
  }
  const mean = count > 0 ? sum / count : 0;
  into[0] = mean;
  into[1] = count > 0 ? Math.sqrt(Math.max(0, squares / count - mean * mean)) : 0;
  into[2] = 1 - count / (to - from);
}

/** Highest less lowest value; 0 where there is none, or one is infinite. */
function rangeOf(data: Float64Array): number {
  const span = range(data);
  return span < Number.POSITIVE_INFINITY ? span : 0;
}
