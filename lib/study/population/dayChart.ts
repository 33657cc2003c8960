import { studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { shuffle } from "../../numeric/distributions/shuffle.js";
import type { Undetermined } from "../life/lifeData.js";
import type { ControlChart, Signal } from "./controlChart.js";
import { beyondBatch, type DayLayout, dayLayout, dayMeans, heldBounds, knownBounds } from "./dayLayout.js";
import {
  type DayModel,
  type DaysSeen,
  type Happening,
  happenings,
  lookAtDays,
  modelsOf,
  spreads,
  surpriseOf,
  tOfSurprise,
} from "./dayModel.js";
import { errorSource } from "./errorSource.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** A lasting change of the level from one day on. */
export interface DayStep {
  /** First day at the new level. */
  readonly date: string;
  /** Index of that day, from 0. */
  readonly at: number;
  /** The change as a part of the level before, with its 95 % interval. */
  readonly change: number;
  readonly low: number;
  readonly high: number;
  /** The change in the unit of the values. */
  readonly shift: number;
  /** Chance of any such finding in this chart when nothing changes. */
  readonly p: number;
}

/** Control chart of the daily means of one constant: single days and batches apart, lasting steps. */
export interface DayChart {
  readonly dates: readonly string[];
  /** Each day with the limits that the other days, its batch and the steps found set for it. */
  readonly individuals: ControlChart;
  /** Lasting changes of the level, in the order of the days. */
  readonly steps: readonly DayStep[];
  /** Chance that anything is called out when nothing changes. */
  readonly falseAlarm: number;
  /** Chance of anything as far out as what was seen when nothing changes. */
  readonly p: number;
  /** Days between false alarms, on average. */
  readonly runLength: number;
  /** What would have been seen nine times out of ten: one typical day apart, and a step that lasts for the last third
   * of the days; as a part of the centre. */
  readonly smallest: number;
  readonly smallestStep: number;
  /** The same in the unit of the values, for a centre about zero. */
  readonly smallestShift: number;
  readonly smallestStepShift: number;
}

/** Fewest days of a chart. */
export const leastDays = 8;
/** Most things that are called out one after the other. */
const mostFound = 12;

/**
 * Control chart of daily means with a test for lasting steps. The daily means are a mixed model (`dayModel`): batches
 * differ at random, days scatter by themselves and by their number of motors; how much is learnt from the days, so
 * that what moves the motors of every day alike widens the limits. Three things are looked for: a step that lasts from
 * a day on (likelihood ratio, the spread between batches fitted with and without it, so that a batch is not taken for
 * a step), one day apart from what the other days let expect, and one batch apart on all its days. How far each must
 * lie is simulated for the days at hand, with tails as heavy as those of the data look, so that any of them is called
 * out in a part `alpha` of the cases. What is found is taken out before the next is looked for.
 *
 * @param values - one for each motor
 * @param dates - day of each motor (YYYY-MM-DD)
 * @param batches - batch of each motor; a motor without one counts as of one unnamed batch
 * @param options - `alpha`: chance of any false alarm in this chart; `logarithm`: compare logarithms; `rows`: places of
 *   the motors that take part, all when absent
 * @returns `Undetermined` with fewer than 8 days or no scatter
 * @example
 * const random = seededRandom(7);
 * const values = Array.from({ length: 120 }, (_, i) => (i >= 96 ? 13 : 10) + random.normal());
 * const dates = values.map((_, i) => `2026-03-${String(1 + Math.floor(i / 6)).padStart(2, "0")}`);
 * const chart = dayChart(values, dates, values.map(() => null));
 * isUndetermined(chart) ? [] : chart.steps.map((step) => step.date); // => ["2026-03-17"]
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
  const layout = dayLayout(rows);
  if (layout.days.length < leastDays)
    return { undetermined: `${layout.days.length} days: at least ${leastDays} are needed for a chart` };
  const all = Float64Array.from(rows, (r) => r.value);
  const middle = medianOf(all);
  const y = all.map((v) => v - middle);
  const means = dayMeans(layout, y, heldBounds(y));
  if (means.every((m) => Math.abs(m - means[0]) <= 1e-12 * Math.abs(middle)))
    return { undetermined: "all daily means are equal: no scatter to draw limits from" };
  const model = modelFor(layout, means);
  const first = lookAtDays(model, means);
  const limits = limitsOf(model, first, tailOf(beyondBatch(layout, y)), alpha);
  const p = happenings.reduce((least, kind) => Math.min(least, limits.chance(kind, first)), 1);
  const found = findAll(model, means, limits);
  return chartOf({ model, means, middle, logarithm, alpha, p, limits, found });
}

/** The model under which the strongest step is likeliest: a step must not pass for days that scatter. */
function modelFor(layout: DayLayout, means: Float64Array): DayModel {
  const rated = modelsOf(layout).map((model) => {
    const { happened, logLikelihood } = lookAtDays(model, means);
    const gain = (means.length / 2) * Math.log1p(happened.step.t ** 2 / (means.length - 2));
    return { model, rate: logLikelihood + gain };
  });
  return rated.reduce((a, b) => (b.rate > a.rate ? b : a)).model;
}

interface Limits {
  readonly chance: (kind: Happening, seen: DaysSeen) => number;
  /** Student's t beyond which one of a kind is called out. */
  readonly wide: Readonly<Record<Happening, number>>;
}

/** How far each kind of happening must lie for a chance `alpha` of any. */
function limitsOf(model: DayModel, seen: DaysSeen, tail: number, alpha: number): Limits {
  const n = model.layout.days.length;
  const work = n * n * model.weighings.length + 20 * model.layout.day.length;
  // Where batches differ, days are drawn anew until they show what was seen.
  const most = Math.min(8000, 4e6 / model.layout.day.length, 8e8 / work);
  const draws = Math.max(300, Math.round(model.layout.batches > 1 ? most / 2 : most));
  const { nulls, overlap } = tailedNulls(
    layoutKey(model, seen.spread),
    (family) => drawnDays(model, seen.spread, family),
    tail,
    draws,
    "each",
  );
  const of = (kind: Happening): TailedNull => nulls[happenings.indexOf(kind)];
  const wide = (kind: Happening) => tOfSurprise(of(kind).quantile(alpha / overlap), n);
  return {
    chance: (kind, { happened }) => {
      const { at, t } = happened[kind];
      return at < 0 ? 1 : Math.min(1, of(kind).chance(surpriseOf(t, n)) * overlap);
    },
    wide: { step: wide("step"), day: wide("day"), batch: wide("batch") },
  };
}

/** Names what drawn days depend on. */
function layoutKey({ layout, dayPart }: DayModel, spread: number): string {
  const rows = Array.from(layout.day, (d, i) => `${d} ${layout.batch[i]}`);
  return `days ${dayPart} ${spread} ${rows.join(";")}`;
}

/** Spreads between batches on either side of the one that was seen, of which days are drawn; and how often they are
 * drawn anew to find such as show the spread that was seen. */
const drawnSpreads = 2;
const drawnAnew = 8;

/**
 * Draws daily means on which nothing happened and whose batches seem to differ as much as was seen: a day or a step
 * stands out less where it was in part taken for batches that differ, so days that show another spread tell little
 * about it.
 */
function drawnDays(model: DayModel, spread: number, family: number): () => DrawnFleet {
  const { layout, dayPart, rowVariance, weighings } = model;
  const random = seededRandom(1 + family);
  const draw = errorSource(family, random);
  const near = weighings.flatMap((_, g) =>
    Math.abs(g - spread) <= drawnSpreads ? [Math.sqrt(spreads[g])] : [],
  );
  const [ofRow, ofDay] = [Math.sqrt(rowVariance), Math.sqrt(dayPart)];
  const fill = (effects: Float64Array, size: number) => {
    for (let i = 0; i < effects.length; i++) effects[i] = size === 0 ? 0 : size * random.normal();
  };
  const { day, batch } = layout;
  const errors = new Float64Array(day.length);
  const rows = new Float64Array(day.length);
  const batches = new Float64Array(layout.batches);
  const days = new Float64Array(layout.days.length);
  const lookAtOne = (): DaysSeen => {
    const apart = near[Math.floor(near.length * random.uniform())];
    fill(batches, apart);
    fill(days, ofDay);
    // Errors in another order are as good as new ones.
    shuffle(errors, random);
    for (let i = 0; i < rows.length; i++) rows[i] = ofRow * errors[i] + days[day[i]] + batches[batch[i]];
    return lookAtDays(
      model,
      dayMeans(layout, rows, knownBounds(Math.sqrt(rowVariance + dayPart + apart * apart))),
    );
  };
  return () => {
    draw(errors);
    let seen = lookAtOne();
    for (let again = 1; again < drawnAnew && seen.spread !== spread; again++) seen = lookAtOne();
    return {
      statistics: happenings.map((kind) => Math.max(1e-6, surpriseOf(seen.happened[kind].t, days.length))),
      // Where only days scatter, rows of a day are one number; those of the data have tails of their own.
      tail: tailOf(beyondBatch(layout, ofRow > 0 ? rows : errors, rows)),
    };
  };
}

/** One thing that was called out. */
interface Found {
  readonly kind: Happening;
  readonly at: number;
  readonly size: number;
  readonly error: number;
  readonly p: number;
}

/** All that was found, the days without it, and what is seen then; `wider`: how much the errors grow by what was taken
 * out. */
interface AllFound {
  readonly list: readonly Found[];
  readonly rest: Float64Array;
  readonly seen: DaysSeen;
  readonly wider: number;
}

/** Finds one thing after the other, the least chance first, each taken out before the next is looked for. */
function findAll(model: DayModel, means: Float64Array, limits: Limits): AllFound {
  const n = means.length;
  const rest = means.slice();
  const list: Found[] = [];
  for (;;) {
    const seen = lookAtDays(model, rest);
    const wider = Math.sqrt((n - 2) / Math.max(1, n - 2 - list.length));
    const out = happenings
      .filter((kind) => seen.happened[kind].t > wider * limits.wide[kind] && seen.happened[kind].at >= 0)
      .map((kind) => ({ kind, ...seen.happened[kind], p: limits.chance(kind, seen) }))
      .sort((a, b) => a.p - b.p || b.t - a.t);
    if (out.length === 0 || list.length >= Math.min(mostFound, n / 3)) return { list, rest, seen, wider };
    const { kind, at, size, error, p } = out[0];
    list.push({ kind, at, size, error: wider * error, p });
    for (let d = 0; d < n; d++) rest[d] -= size * touched(model.layout, kind, at, d);
  }
}

/** How much of a happening a day has. */
function touched(layout: DayLayout, kind: Happening, at: number, d: number): number {
  if (kind === "step") return d >= at ? 1 : 0;
  if (kind === "day") return d === at ? 1 : 0;
  return layout.parts[d].find(({ batch }) => batch === at)?.part ?? 0;
}

interface Drawing {
  readonly model: DayModel;
  readonly means: Float64Array;
  readonly middle: number;
  readonly logarithm: boolean;
  readonly alpha: number;
  readonly p: number;
  readonly limits: Limits;
  readonly found: AllFound;
}

function chartOf({ model, means, middle, logarithm, alpha, p, limits, found }: Drawing): DayChart {
  const { layout, rowVariance, dayPart } = model;
  const { list, rest, seen, wider } = found;
  const n = means.length;
  const back = (v: number) => (logarithm ? Math.exp(middle + v) : middle + v);
  const weights = layout.ofDay.map((count) => 1 / (dayPart + rowVariance / count));
  const center = rest.reduce((sum, v, d) => sum + weights[d] * v, 0) / weights.reduce((a, b) => a + b, 0);
  const steps = list.filter(({ kind }) => kind === "step").sort((a, b) => a.at - b.at);
  const level = (d: number) => steps.reduce((sum, { at, size }) => (d >= at ? sum + size : sum), 0);
  const largest = seen.offError.reduce((m, e) => (Number.isFinite(e) ? Math.max(m, e) : m), 0);
  // A day that cannot be told from its batch has limits about itself.
  const judged = (d: number) => Number.isFinite(seen.offError[d]);
  const expected = means.map((m, d) => (judged(d) ? rest[d] - seen.off[d] + level(d) : m));
  const half = means.map((_, d) => limits.wide.day * wider * (judged(d) ? seen.offError[d] : largest));
  const typical = medianOf(seen.offError.filter(Number.isFinite));
  const part = (v: number) => (logarithm ? Math.expm1(v) : v / Math.abs(middle + center));
  const shift = (v: number) => (logarithm ? back(center) * Math.expm1(v) : v);
  const often = studentT.quantile(0.9, n - 2) * wider;
  const ofDay = (limits.wide.day * wider + often) * typical;
  const ofStep =
    (limits.wide.step * wider + often) * seen.stepError[Math.min(n - 2, Math.round((2 * n) / 3))];
  return {
    dates: layout.days,
    individuals: {
      kind: "individuals",
      values: Array.from(means, back),
      center: back(center),
      lower: Array.from(expected, (v, d) => back(v - half[d])),
      upper: Array.from(expected, (v, d) => back(v + half[d])),
      sigma: typical,
      signals: signalsOf(layout, list),
    },
    steps: steps.map((step) => stepOf(step, layout, middle + center + level(step.at - 1), logarithm)),
    falseAlarm: alpha,
    p,
    runLength: n / alpha,
    smallest: part(ofDay),
    smallestStep: part(ofStep),
    smallestShift: shift(ofDay),
    smallestStepShift: shift(ofStep),
  };
}

/** Days apart by themselves, and the days of batches that lie apart. */
function signalsOf(layout: DayLayout, list: readonly Found[]): Signal[] {
  const rules = new Map<number, string>();
  for (const { kind, at } of list)
    if (kind !== "step")
      for (let d = 0; d < layout.days.length; d++)
        if (touched(layout, kind, at, d) >= 0.5)
          rules.set(d, kind === "day" ? "beyond its limits" : "its batch lies apart");
  return [...rules].sort(([a], [b]) => a - b).map(([at, rule]) => ({ at, rule }));
}

function stepOf(
  { at, size, error, p }: Found,
  layout: DayLayout,
  before: number,
  logarithm: boolean,
): DayStep {
  const half = studentT.quantile(0.975, layout.days.length - 2) * error;
  const part = (v: number) => (logarithm ? Math.expm1(v) : v / Math.abs(before));
  const shift = logarithm ? Math.exp(before) * Math.expm1(size) : size;
  const [change, low, high] = [size, size - half, size + half].map(part);
  return { date: layout.days[at], at, change, low, high, shift, p };
}
