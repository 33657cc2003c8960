import { normal } from "../../numeric/distributions/distributions.js";
import { type SeededRandom, seededRandom } from "../../numeric/distributions/seededRandom.js";
import type { Undetermined } from "../life/lifeData.js";
import type { ControlChart, Signal } from "./controlChart.js";
import { madOf, medianOf } from "./sample.js";
import { errorSource, tailedNulls, tailOf } from "./tailedNull.js";

/** Control charts of the daily means of one constant, with limits that hold a stated chance of any false alarm. */
export interface DayChart {
  readonly dates: readonly string[];
  readonly individuals: ControlChart;
  readonly ewma: ControlChart;
  /** Chance that any day of either chart is called out when nothing changes. */
  readonly falseAlarm: number;
  /** Chance of a chart as far out as this one when nothing changes. */
  readonly p: number;
  /** Days between false alarms of both charts together, on average. */
  readonly runLength: number;
  /** Shift of one typical day that would have been seen nine times out of ten, as a part of the centre. */
  readonly smallest: number;
  /** The same in the unit of the values, for a centre about zero. */
  readonly smallestShift: number;
}

/** Fewest days of a chart. */
export const leastDays = 8;
/** Days that set the centre. */
const baseline = 20;
/** Weight of the newest day in the weighted average. */
const lambda = 0.2;
/** Fleets drawn of each kind of tails to know how wide the limits must be. */
const draws = 800;

/**
 * Charts of daily means and of their weighted average. A day's mean scatters by its number of motors and by the batch
 * (or the few batches) its motors are from, so each day has limits of its own; batches enter as a spread of their own,
 * estimated from the other batches, so that an odd batch does not widen the limits of its own days. How wide the limits
 * must be is simulated: motors are drawn from the scatter at hand, batches from theirs, centre and spreads are
 * estimated again, and the limits are set so that any day of either chart is called out in a part `alpha` of the cases.
 *
 * @param values - one for each motor
 * @param dates - day of each motor (YYYY-MM-DD)
 * @param batches - batch of each motor; a motor without one counts as of one unnamed batch
 * @param options - `alpha`: chance of any false alarm in this pair of charts; `logarithm`: compare logarithms;
 *   `rows`: places of the motors that take part, all when absent
 * @returns `Undetermined` with fewer than 8 days or no scatter
 * @example
 * const random = seededRandom(7);
 * const values = Array.from({ length: 120 }, (_, i) => (i >= 100 ? 13 : 10) + random.normal());
 * const dates = values.map((_, i) => `2026-03-${String(1 + Math.floor(i / 6)).padStart(2, "0")}`);
 * const chart = dayChart(values, dates, values.map(() => null));
 * isUndetermined(chart) ? [] : chart.ewma.signals.map((signal) => chart.dates[signal.at])[0]; // => "2026-03-19"
 */
export function dayChart(
  values: ArrayLike<number>,
  dates: readonly string[],
  batches: readonly (string | null)[],
  options: { readonly alpha?: number; readonly logarithm?: boolean; readonly rows?: readonly number[] } = {},
): DayChart | Undetermined {
  const { alpha = 0.01, logarithm = false } = options;
  const rows = (options.rows ?? dates.map((_, i) => i))
    .map((i) => ({
      date: dates[i],
      batch: batches[i] ?? "",
      value: logarithm ? Math.log(values[i]) : values[i],
    }))
    .filter(({ value }) => Number.isFinite(value));
  const layout = layoutOf(rows);
  if (layout.days.length < leastDays)
    return { undetermined: `${layout.days.length} days: at least ${leastDays} are needed for a chart` };
  const y = Float64Array.from(rows, (r) => r.value);
  const first = chartOf(layout, y);
  if (!(first.within > 0))
    return { undetermined: "all values of a batch are equal: no scatter to draw limits from" };
  const { p, ...limits } = limitsOf(layout, first, alpha);
  const odd = oddBatches(layout, first, limits.wideOfDay);
  // Batches of days that are out do not widen the limits of the others. This changes nothing where no day is out, and
  // so not the chance of any alarm.
  const again = { ...layout, odd };
  const seen = odd.length === 0 ? first : chartOf(again, y);
  const { wideOfDay, wideOfAverage } = odd.length === 0 ? limits : limitsOf(again, seen, alpha);
  const back = (v: number) => (logarithm ? Math.exp(v) : v);
  const chart = (
    kind: "individuals" | "ewma",
    points: Float64Array,
    deviation: Float64Array,
    wide: number,
    rule: string,
  ): ControlChart => ({
    kind,
    values: Array.from(points, (t, d) => back(seen.center + t * deviation[d])),
    center: back(seen.center),
    lower: Array.from(deviation, (s) => back(seen.center - wide * s)),
    upper: Array.from(deviation, (s) => back(seen.center + wide * s)),
    sigma: medianOf(deviation),
    signals: Array.from(points).flatMap((t, at): Signal[] => (Math.abs(t) > wide ? [{ at, rule }] : [])),
  });
  const typical = medianOf(seen.deviation);
  // The weighted average is drawn on the scale of a typical day.
  const averages = averageDeviation(layout.days.length).map((s) => s * typical);
  const reach = (wideOfDay + normal.quantile(0.9)) * typical;
  return {
    dates: layout.days,
    individuals: chart("individuals", seen.day, seen.deviation, wideOfDay, "beyond its limits"),
    ewma: chart("ewma", seen.average, averages, wideOfAverage, "weighted average beyond its limits"),
    falseAlarm: alpha,
    p,
    runLength: layout.days.length / alpha,
    smallest: logarithm ? Math.expm1(reach) : reach / Math.abs(seen.center),
    smallestShift: logarithm ? Math.exp(seen.center) * Math.expm1(reach) : reach,
  };
}

/** Who was measured when, and from which batch. */
interface Layout {
  readonly days: readonly string[];
  readonly day: Int32Array;
  readonly batch: Int32Array;
  readonly batches: number;
  readonly ofDay: Float64Array;
  readonly ofBatch: Float64Array;
  /** For each day, the sum of the squared parts of its batches: how much of a batch's spread its mean keeps. */
  readonly kept: Float64Array;
  /** The batches of each day. */
  readonly batchesOf: readonly (readonly number[])[];
  readonly baseline: number;
  /** Batches that are left out of the spread between batches. */
  readonly odd: readonly number[];
}

/** Batches of the days beyond their limits, as long as at least half of the batches and three are left. */
function oddBatches(layout: Layout, seen: Charted, wide: number): number[] {
  const out = new Set(layout.batchesOf.filter((_, d) => Math.abs(seen.day[d]) > wide).flat());
  const left = layout.batches - out.size;
  return left >= 3 && left >= layout.batches / 2 ? [...out] : [];
}

function layoutOf(rows: readonly { readonly date: string; readonly batch: string }[]): Layout {
  const days = [...new Set(rows.map((r) => r.date))].sort();
  const names = [...new Set(rows.map((r) => r.batch))].sort();
  const placeOf = (list: readonly string[]) => new Map(list.map((name, i) => [name, i]));
  const [dayPlace, batchPlace] = [placeOf(days), placeOf(names)];
  const day = Int32Array.from(rows, (r) => dayPlace.get(r.date) as number);
  const batch = Int32Array.from(rows, (r) => batchPlace.get(r.batch) as number);
  const ofDay = new Float64Array(days.length);
  const ofBatch = new Float64Array(names.length);
  const cells = new Map<number, number>();
  for (let i = 0; i < rows.length; i++) {
    ofDay[day[i]]++;
    ofBatch[batch[i]]++;
    const cell = day[i] * names.length + batch[i];
    cells.set(cell, (cells.get(cell) ?? 0) + 1);
  }
  const kept = new Float64Array(days.length);
  const batchesOf = days.map((): number[] => []);
  for (const [cell, count] of cells) {
    const d = Math.floor(cell / names.length);
    kept[d] += (count / ofDay[d]) ** 2;
    batchesOf[d].push(cell % names.length);
  }
  return {
    days,
    day,
    batch,
    batches: names.length,
    ofDay,
    ofBatch,
    kept,
    batchesOf,
    baseline: Math.min(baseline, days.length),
    odd: [],
  };
}

interface Charted {
  readonly center: number;
  readonly within: number;
  readonly between: number;
  /** Standard deviation of each day's mean. */
  readonly deviation: Float64Array;
  /** Each day's mean, less the centre, over its standard deviation. */
  readonly day: Float64Array;
  /** The weighted average of those, over its standard deviation. */
  readonly average: Float64Array;
  /** What each value has beyond its batch, in standard deviations. */
  readonly scatter: Float64Array;
}

/** The chart of one set of values: the same steps for what was found and for what is drawn. */
function chartOf(layout: Layout, y: Float64Array): Charted {
  const { day, batch, ofDay, ofBatch, kept } = layout;
  const ofBatchMean = new Float64Array(layout.batches);
  const mean = new Float64Array(layout.days.length);
  for (let i = 0; i < y.length; i++) {
    ofBatchMean[batch[i]] += y[i] / ofBatch[batch[i]];
    mean[day[i]] += y[i] / ofDay[day[i]];
  }
  let squares = 0;
  for (let i = 0; i < y.length; i++) squares += (y[i] - ofBatchMean[batch[i]]) ** 2;
  const degrees = y.length - layout.batches;
  const within = degrees > 0 ? Math.sqrt(squares / degrees) : madOf(y);
  const inMean = (within * within * ofBatch.reduce((sum, n) => sum + 1 / n, 0)) / layout.batches;
  const moments = momentsOf(ofBatchMean.filter((_, g) => !layout.odd.includes(g)));
  const regular = layout.batches - layout.odd.length;
  const spread2 = (n: number, sum: number, squares: number) =>
    n < 2 ? 0 : Math.max(0, (squares - (sum * sum) / n) / (n - 1) - inMean);
  const between = Math.sqrt(spread2(regular, moments.sum, moments.squares));
  // A day is held against how the other batches differ, so that an odd batch does not widen its own limits.
  const deviation = mean.map((_, d) => {
    const own = layout.batchesOf[d].filter((g) => !layout.odd.includes(g));
    const others = regular - own.length;
    let { sum, squares } = moments;
    for (const g of own) {
      sum -= ofBatchMean[g] - moments.shift;
      squares -= (ofBatchMean[g] - moments.shift) ** 2;
    }
    const apart = others < 2 ? between * between : spread2(others, sum, squares);
    return Math.sqrt(apart * kept[d] + (within * within) / ofDay[d]);
  });
  let [total, sum] = [0, 0];
  for (let d = 0; d < layout.baseline; d++) {
    const weight = 1 / deviation[d] ** 2;
    total += weight;
    sum += weight * mean[d];
  }
  const center = sum / total;
  const points = mean.map((m, d) => (m - center) / deviation[d]);
  const spread = averageDeviation(points.length);
  let average = 0;
  const smooth = points.map((t, d) => {
    average = lambda * t + (1 - lambda) * average;
    return average / spread[d];
  });
  const scatter = y.map((v, i) => {
    const n = ofBatch[batch[i]];
    return n > 1 ? (v - ofBatchMean[batch[i]]) / (within * Math.sqrt(1 - 1 / n)) : 0;
  });
  return { center, within, between, deviation, day: points, average: smooth, scatter };
}

/** Sums of batch means and of their squares, each less their common mean so that no digits are lost. */
function momentsOf(means: Float64Array): { shift: number; sum: number; squares: number } {
  const shift = means.reduce((a, m) => a + m, 0) / means.length;
  return { shift, sum: 0, squares: means.reduce((a, m) => a + (m - shift) ** 2, 0) };
}

/** Standard deviation of the weighted average after each day, of independent days of deviation one. */
function averageDeviation(days: number): Float64Array {
  return Float64Array.from({ length: days }, (_, d) =>
    Math.sqrt((lambda / (2 - lambda)) * (1 - (1 - lambda) ** (2 * (d + 1)))),
  );
}

/** The farthest that points lie from the centre. */
const farthest = (points: Float64Array) => points.reduce((m, t) => Math.max(m, Math.abs(t)), 0);

/** How wide the limits of both charts are to be for a chance `alpha` of any point out, and the chance of what was
 * seen. */
function limitsOf(
  layout: Layout,
  seen: Charted,
  alpha: number,
): { wideOfDay: number; wideOfAverage: number; p: number } {
  const ratio = roundedRatio(seen.between / seen.within);
  const source = (family: number) => {
    const random = seededRandom(1 + family);
    const error = errorSource(family, random);
    return () => {
      const drawn = chartOf(layout, drawnValues(layout, ratio, error, random));
      return {
        statistics: [farthest(drawn.day), farthest(drawn.average)],
        tail: tailOf(drawn.scatter),
      };
    };
  };
  // Both charts get the same chance; together they may use up alpha.
  const { nulls, overlap: both } = tailedNulls(layoutKey(layout, ratio), source, tailOf(seen.scatter), draws);
  const [ofDay, ofAverage] = nulls;
  const single = Math.min(ofDay.chance(farthest(seen.day)), ofAverage.chance(farthest(seen.average)));
  return {
    wideOfDay: ofDay.quantile(alpha / both),
    wideOfAverage: ofAverage.quantile(alpha / both),
    p: Math.min(1, single * both),
  };
}

/** On a coarse scale, so that what is drawn for one constant serves for others like it. */
function roundedRatio(ratio: number): number {
  return ratio < 1 ? Math.round(10 * ratio) / 10 : 1.1 ** Math.round(Math.log(ratio) / Math.log(1.1));
}

/** Names what drawn charts depend on. */
function layoutKey({ day, batch, odd }: Layout, ratio: number): string {
  return `chart ${ratio} ${Array.from(day, (d, i) => `${d} ${batch[i]}`).join(";")} ${odd.join(" ")}`;
}

/** Values of motors of deviation one, batches differing by about `ratio`. */
function drawnValues(layout: Layout, ratio: number, error: () => number, random: SeededRandom): Float64Array {
  const between = drawnBetween(layout, ratio, random);
  const effects = Float64Array.from({ length: layout.batches }, () => between * random.normal());
  return Float64Array.from(layout.batch, (b) => effects[b] + error());
}

/** A spread between batches as it may be, given how few batches showed it. */
function drawnBetween({ batches, ofBatch }: Layout, ratio: number, random: SeededRandom): number {
  if (batches < 2) return 0;
  const ofMeans = ofBatch.reduce((sum, n) => sum + 1 / n, 0) / batches;
  const degrees = batches - 1;
  let squares = 0;
  for (let k = 0; k < degrees; k++) squares += random.normal() ** 2;
  const drawn = ((ratio * ratio + ofMeans) * degrees) / squares;
  return Math.sqrt(Math.max(0, drawn - ofMeans));
}
