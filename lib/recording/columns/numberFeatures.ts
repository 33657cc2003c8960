import type { ColumnNumbers } from "./columnNumbers.js";
import type { NumberColumn } from "./compared.js";
import { pairFeatures } from "./pairFeatures.js";
import type { Windows } from "./windows.js";

/** Places on the scale of common logarithms between which sizes are interpolated. */
const decades = [-3, -2, -1, 0, 1, 2, 3, 4, 5, 7] as const;
const shapes = ["constant", "held", "ramps", "clean", "smooth", "noisy"] as const;
const fullScales = new Set([
  100, 127, 180, 255, 400, 500, 512, 1000, 1023, 1024, 2000, 2047, 4095, 4096, 32_767,
]);

/** Names and values, in an order that never changes: the weights are found by it. What is not a number is zero. */
export type Features = readonly (readonly [name: string, value: number])[];

/**
 * What the numbers of each column look like, alone and beside each other, as numbers near 0 to 1 for a linear model;
 * nothing in them is of a heading or a unit.
 *
 * @param columns the columns of numbers of one table
 * @param count columns of the table in all
 * @param time place of the time column in the table
 */
export function numberFeatures(
  columns: readonly NumberColumn[],
  windows: Windows,
  count: number,
  time: number | undefined,
): Features[] {
  const pairs = pairFeatures(columns, windows, time);
  const beside = besideOthers(columns, time);
  return columns.map((c, k) =>
    [
      ...beside[k],
      ...shapeFeatures(c.numbers),
      ...sizeFeatures(c.numbers),
      ...courseFeatures(c.values, c.numbers),
      ...placeFeatures(columns, k, count, time, windows),
      ...pairs[k],
    ].map(([name, value]): [string, number] => [name, Number.isFinite(value) ? value : 0]),
  );
}

function flag(on: boolean): number {
  return on ? 1 : 0;
}

/** Rises and falls by hats over given places. */
function hats(name: string, value: number, places: readonly number[], weight = 1): [string, number][] {
  const v = Math.min(Math.max(value, places[0]), places[places.length - 1]);
  return places.map((p, i) => {
    const before = places[i - 1] ?? p - 1;
    const after = places[i + 1] ?? p + 1;
    const h = v <= p ? (v - before) / (p - before) : (after - v) / (after - p);
    return [`${name} ${p}`, weight * Math.max(0, Math.min(1, h))];
  });
}

function shapeFeatures(n: ColumnNumbers): [string, number][] {
  const moves = n.shape !== "constant";
  return [
    ...shapes.map((s): [string, number] => [s, flag(n.shape === s)]),
    ["whole", flag(n.whole && moves)],
    ["whole held", flag(n.whole && n.shape === "held")],
    ["whole noisy", flag(n.whole && (n.shape === "noisy" || n.shape === "smooth"))],
    ["binary", flag(n.binary)],
    ["two values", flag(n.distinct === 2)],
    ["few values", flag(n.distinct > 2 && n.distinct <= 8)],
    ["some values", flag(n.distinct > 8 && n.distinct <= 50)],
    ["many values", flag(n.distinct >= 200)],
    ["always rises", flag(n.rising > 0.985 && n.even > 0.9)],
    ["mostly rises", flag(n.rising > 0.9)],
    ["never falls", flag(n.falling === 0 && moves)],
    ["never rises", flag(n.rising === 0 && moves)],
    ["steps of one", flag(n.step === 1)],
    ["still", n.still],
    ["below zero", flag(n.min < 0)],
    ["zero throughout", flag(n.min === 0 && n.max === 0)],
    ...hats("rough", Math.log10(n.roughness + 1e-6), [-6, -5, -4, -3, -2, -1]),
  ];
}

/** Digits that are needed to write a number. */
function digits(value: number): number {
  for (let d = 1; d <= 4; d += 1)
    if (Math.abs(Number(value.toPrecision(d)) - value) <= 1e-9 * Math.abs(value)) return d;
  return 5;
}

function sizeFeatures(n: ColumnNumbers): [string, number][] {
  const { largest, min, max } = n;
  const size = largest > 0 ? Math.log10(largest) : -3;
  const range = max - min;
  const apart = min > 0.05 * max || max < 0.05 * min;
  const lean = Math.min(Math.abs(min), Math.abs(max)) / largest;
  const whole = flag(n.whole);
  return [
    ...hats("size", size, decades, flag(largest > 0)),
    ...hats("whole size", size, [0, 1, 2, 3, 4, 5], whole * flag(largest > 0)),
    ...hats("part", apart ? range / largest : 1, [0, 0.05, 0.2, 0.5, 1]),
    ["apart", flag(apart)],
    ["apart below zero", flag(apart && max < 0)],
    ["20 to 100, apart", flag(apart && min > 10 && max < 110)],
    ["5 to 60, apart, little", flag(apart && min > 4 && max < 64 && range < 0.25 * max)],
    ["both senses", min < 0 && max > 0 ? lean : 0],
    ["both senses alike", flag(min < 0 && lean > 0.85)],
    ...hats("apart size", size, [-1, 0, 0.6, 0.85, 1.1, 1.4, 1.7, 2.05, 2.6, 3.3, 4], flag(apart && min > 0)),
    ...hats(
      "grain",
      n.grain > 0 ? Math.log10(n.grain) : -7,
      [-7, -5, -4, -3, -2, -1, 0, 1],
      flag(n.grain > 0),
    ),
    ["grain of a tenth", flag(Math.abs(n.grain - 0.1) < 1e-6)],
    ["grain of a half", flag([0.5, 0.25, 0.125, 0.0625].some((g) => Math.abs(n.grain - g) < 1e-9))],
    ["one", flag(Math.abs(largest - 1) < 1e-6)],
    ["within one", flag(largest <= 1.001 && largest > 0)],
    ["within one, no sign", flag(largest <= 1.001 && largest > 0 && min >= 0)],
    ["hundred", flag(largest === 100)],
    ["within hundred", flag(largest <= 100 && largest > 20)],
    ["full scale", flag(n.whole && fullScales.has(largest))],
    ["within byte", flag(n.whole && largest <= 255 && largest > 50)],
    ["digits 1", flag(digits(largest) === 1)],
    ["digits 2", flag(digits(largest) === 2)],
    ["digits 5", flag(digits(largest) >= 5)],
    ...hats("steps", n.grain > 0 ? Math.log2(range / n.grain + 1) : 0, [0, 3, 6, 9, 12, 16]),
  ];
}

/** How the values run from row to row. */
function courseFeatures(values: Float64Array, n: ColumnNumbers): [string, number][] {
  const { largest, min, max } = n;
  const range = max - min;
  let zero = 0;
  let near = 0;
  let high = 0;
  let top = 0;
  let sum = 0;
  let way = 0;
  let crossings = 0;
  let side = 0;
  let first = Number.NaN;
  let last = Number.NaN;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    const size = Math.abs(v);
    if (v === 0) zero += 1;
    if (size < 0.03 * largest) near += 1;
    if (size > 0.5 * largest) high += 1;
    if (v === max || v === min) top += 1;
    sum += size;
    if (first - first === 0) way += Math.abs(v - last);
    else first = v;
    last = v;
    const now = v > 0.1 * largest ? 1 : v < -0.1 * largest ? -1 : 0;
    if (now !== 0 && now !== side) {
      if (side !== 0) crossings += 1;
      side = now;
    }
  }
  const count = Math.max(1, n.count);
  return [
    ["rises in all", (last - first) / range],
    ...peakFeatures(values, largest),
    ["exactly zero", zero / count],
    ["near zero", near / count],
    ["high", high / count],
    ["at its ends", top / count],
    ["mean size", sum / count / largest],
    ...hats("way", range > 0 ? Math.log10(way / range) : -1, [-0.5, 0.2, 0.8, 1.5, 2.5]),
    ...hats("turns", Math.log10(crossings + 1), [0, 0.5, 1, 2]),
    ["starts at zero", flag(Math.abs(first) < 0.02 * largest)],
    ["ends at zero", flag(Math.abs(last) < 0.02 * largest)],
    ["starts at exactly zero", flag(first === 0)],
    ["goes away", Math.abs(last - first) / range],
    ["ends at an end", flag(last > max - 0.02 * range || last < min + 0.02 * range)],
    ["ends high", Math.abs(last) / largest],
  ];
}

function placeFeatures(
  columns: readonly NumberColumn[],
  k: number,
  count: number,
  time: number | undefined,
  { wraps }: Windows,
): [string, number][] {
  const { index, place } = columns[k];
  const after = index - (time ?? 0);
  const wrap = wraps[place];
  const kinds = ["held", "noisy", "smooth"] as const;
  const of = (c: NumberColumn | undefined, s: string): number => flag(c?.numbers.shape === s);
  return [
    ["first", flag(index === 0)],
    ["second", flag(index === 1)],
    ["last", flag(index === count - 1)],
    ...[1, 2, 3, 4, 5].map((p): [string, number] => [`behind time ${p}`, flag(after === p)]),
    ["no time", flag(time === undefined)],
    ["is time", flag(time === index)],
    ["other than time", flag(time !== undefined && time !== index)],
    ["far right", index / (count - 1)],
    ...hats("columns", Math.log2(count), [1, 2, 3, 4, 5, 6]),
    ["wraps", flag(wrap !== undefined)],
    [
      "wraps at full circle",
      flag(wrap !== undefined && (wrap === 360 || Math.abs(wrap - 2 * Math.PI) < 1e-6)),
    ],
    ...kinds.flatMap((s): [string, number][] => [
      [`left ${s}`, of(columns[k - 1], s)],
      [`right ${s}`, of(columns[k + 1], s)],
    ]),
  ];
}

/** How much the middle of what is not near zero stays behind the largest: a current has peaks, a speed has none. */
function peakFeatures(values: Float64Array, largest: number): [string, number][] {
  const step = Math.max(1, Math.floor(values.length / 800));
  const sizes: number[] = [];
  for (let i = 0; i < values.length; i += step) {
    const size = Math.abs(values[i]) / largest;
    if (size > 0.03) sizes.push(size);
  }
  if (sizes.length < 8) return hats("middle", 0, [0, 0.25, 0.5, 0.75, 1], 0).concat([["upper", 0]]);
  sizes.sort((a, b) => a - b);
  const at = (q: number): number => sizes[Math.min(sizes.length - 1, Math.floor(q * sizes.length))];
  return [...hats("middle", at(0.5), [0, 0.25, 0.5, 0.75, 1]), ["upper", at(0.95)]];
}

/** Size, noise and shape beside the other columns that move. */
function besideOthers(columns: readonly NumberColumn[], time: number | undefined): [string, number][][] {
  const moving = columns.filter((c) => c.numbers.shape !== "constant" && c.index !== time);
  const rank = (of: (c: NumberColumn) => number, c: NumberColumn): number => {
    const mine = of(c);
    const less = moving.reduce((s, o) => s + (o === c ? 0 : of(o) < mine ? 1 : of(o) === mine ? 0.5 : 0), 0);
    return less / (moving.length - 1);
  };
  const size = (c: NumberColumn): number => c.numbers.largest;
  const rough = (c: NumberColumn): number => c.numbers.roughness;
  const logs = moving.map((c) => Math.log10(size(c))).sort((a, b) => a - b);
  const usual = logs[logs.length >> 1] ?? 0;
  const twin = (a: NumberColumn, b: NumberColumn | undefined): number =>
    flag(
      b !== undefined &&
        a.numbers.shape === b.numbers.shape &&
        a.numbers.whole === b.numbers.whole &&
        Math.abs(Math.log10(size(a) / size(b))) < 0.2,
    );
  return columns.map((c, k) => {
    const moves = moving.includes(c);
    const several = moves && moving.length > 1;
    const bySize = several ? rank(size, c) : Number.NaN;
    const byRough = several ? rank(rough, c) : Number.NaN;
    return [
      ["moves among others", flag(several)],
      ["larger than others", bySize],
      ["largest of others", flag(bySize === 1)],
      ["smallest of others", flag(bySize === 0)],
      ["rougher than others", byRough],
      ["roughest", flag(byRough === 1)],
      ["smoothest", flag(byRough === 0)],
      ...hats("size beside", Math.log10(size(c)) - usual, [-3, -2, -1, -0.4, 0, 0.4, 1, 2, 3], flag(several)),
      ["like the left one", twin(c, columns[k - 1])],
      ["like the right one", twin(c, columns[k + 1])],
      ["like others", Math.min(1, columns.reduce((s, o) => s + (o === c ? 0 : twin(c, o)), 0) / 4)],
      ...hats("moving", Math.log2(moving.length + 1), [1, 1.6, 2, 2.6, 3.2, 4, 5]),
    ];
  });
}
