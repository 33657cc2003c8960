import { deviationPerMedian } from "../../numeric/series/median.js";
import { medianOf } from "./sample.js";

/** Who was measured when, and from which batch. */
export interface DayLayout {
  readonly days: readonly string[];
  /** Day and batch of each row. */
  readonly day: Int32Array;
  readonly batch: Int32Array;
  readonly batches: number;
  /** Rows of each day. */
  readonly ofDay: Float64Array;
  readonly ofBatch: Float64Array;
  /** For each day, its batches with their parts of its rows. */
  readonly parts: readonly (readonly { readonly batch: number; readonly part: number }[])[];
}

/** One motor on a chart. */
export interface DayRow {
  readonly date: string;
  readonly batch: string;
  readonly value: number;
}

/** Most days that are charted one by one; of more, as many as needed follow each other in one point. */
const mostDays = 400;

/** Sorts rows into days and batches. */
export function dayLayout(rows: readonly DayRow[]): DayLayout {
  const dates = [...new Set(rows.map((r) => r.date))].sort();
  const together = Math.ceil(dates.length / mostDays);
  const days = dates.filter((_, i) => i % together === 0);
  const dayPlace = new Map(dates.map((date, i) => [date, Math.floor(i / together)]));
  const names = [...new Set(rows.map((r) => r.batch))].sort();
  const batchPlace = new Map(names.map((name, i) => [name, i]));
  const day = Int32Array.from(rows, (r) => dayPlace.get(r.date) as number);
  const batch = Int32Array.from(rows, (r) => batchPlace.get(r.batch) as number);
  const ofDay = new Float64Array(days.length);
  const ofBatch = new Float64Array(names.length);
  const counts = days.map(() => new Map<number, number>());
  for (let i = 0; i < rows.length; i++) {
    ofDay[day[i]]++;
    ofBatch[batch[i]]++;
    counts[day[i]].set(batch[i], (counts[day[i]].get(batch[i]) ?? 0) + 1);
  }
  const parts = counts.map((of, d) => [...of].map(([b, count]) => ({ batch: b, part: count / ofDay[d] })));
  return { days, day, batch, batches: names.length, ofDay, ofBatch, parts };
}

/** How far from the middle a single value may pull, in deviations: a reversed sign or a lost decimal point is for the
 * list of motors and must not hide what the days do. */
const held = 6;

/** Where values are held: `far` on either side of the middle. */
export interface Held {
  readonly middle: number;
  readonly far: number;
}

/** The bounds of values as they are; of values whose standard deviation is known. */
export function heldBounds(values: Float64Array): Held {
  const middle = medianOf(values);
  const far = held * deviationPerMedian * medianOf(values.map((v) => Math.abs(v - middle)));
  return { middle, far: far > 0 ? far : Number.POSITIVE_INFINITY };
}
export const knownBounds = (deviation: number): Held => ({ middle: 0, far: held * deviation });

/** Means of the days. */
export function dayMeans({ day, ofDay }: DayLayout, values: Float64Array, bounds: Held): Float64Array {
  const [low, high] = [bounds.middle - bounds.far, bounds.middle + bounds.far];
  const mean = new Float64Array(ofDay.length);
  for (let i = 0; i < values.length; i++) {
    const v = values[i];
    mean[day[i]] += v < low ? low : Math.min(v, high);
  }
  for (let d = 0; d < mean.length; d++) mean[d] /= ofDay[d];
  return mean;
}

/** What each value has beyond its batch, written to `beyond` where that is given. */
export function beyondBatch(
  { batch, ofBatch }: DayLayout,
  values: Float64Array,
  beyond = new Float64Array(values.length),
): Float64Array {
  const mean = new Float64Array(ofBatch.length);
  for (let i = 0; i < values.length; i++) mean[batch[i]] += values[i];
  for (let b = 0; b < mean.length; b++) mean[b] /= ofBatch[b];
  for (let i = 0; i < values.length; i++) beyond[i] = values[i] - mean[batch[i]];
  return beyond;
}
