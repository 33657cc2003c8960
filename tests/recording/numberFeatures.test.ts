import { expect, test } from "vitest";
import { columnNumbers } from "../../lib/recording/columns/columnNumbers.js";
import type { NumberColumn } from "../../lib/recording/columns/compared.js";
import { numberFeatures } from "../../lib/recording/columns/numberFeatures.js";
import { windowsOf } from "../../lib/recording/columns/windows.js";

// What numbers without a heading look like, each sign against columns that plainly have it or plainly lack it.

const rows = 600;
const wave = (i: number): number => Math.sin(i / 20);
/** Noise without a generator: digits of the golden ratio's multiples, -0.5 to 0.5. */
const noise = (i: number): number => ((i * 0.6180339887) % 1) - 0.5;
const made = (of: (i: number) => number, length = rows): Float64Array =>
  Float64Array.from({ length }, (_, i) => of(i));

/** Signs of each of some columns, which stand in a table in this order. */
function signsOf(
  columns: readonly Float64Array[],
  time?: number,
  count = columns.length,
): Map<string, number>[] {
  const edges = [0, columns[0].length];
  const number = columns.map(
    (values, k): NumberColumn => ({
      index: k,
      place: k,
      label: `#${k + 1}`,
      values,
      numbers: columnNumbers(values, edges),
      named: false,
      unit: undefined,
    }),
  );
  const windows = windowsOf(columns, time === undefined ? undefined : columns[time], edges);
  return numberFeatures(number, windows, count, time).map((list) => new Map(list));
}
const alone = (of: (i: number) => number, length = rows): Map<string, number> =>
  signsOf([made(of, length)])[0];

/** The hats of a name: places and heights. */
function hatsOf(signs: Map<string, number>, name: string): [number, number][] {
  return [...signs].flatMap(([key, height]): [number, number][] =>
    key.startsWith(`${name} `) && Number.isFinite(Number(key.slice(name.length + 1)))
      ? [[Number(key.slice(name.length + 1)), height]]
      : [],
  );
}
/** Where on its scale a value lies: hats give back what is linear, and add up to one. */
function readBack(signs: Map<string, number>, name: string): [height: number, place: number] {
  const hats = hatsOf(signs, name);
  return [hats.reduce((s, [, h]) => s + h, 0), hats.reduce((s, [p, h]) => s + p * h, 0)];
}
function expectHats(signs: Map<string, number>, name: string, value: number, digits = 6): void {
  const [height, place] = readBack(signs, name);
  const places = hatsOf(signs, name).map(([p]) => p);
  expect(height, name).toBeCloseTo(1, 9);
  expect(place, name).toBeCloseTo(
    Math.min(Math.max(value, Math.min(...places)), Math.max(...places)),
    digits,
  );
}

test("a size on its scale of decades, alone, in whole numbers, away from zero, and beside others", () => {
  for (const largest of [2e-4, 0.05, 3, 47, 800, 2e8]) {
    const signs = alone((i) => largest * (i === 77 ? 1 : 0.9 * wave(i)));
    expectHats(signs, "size", Math.log10(largest));
    expect(readBack(signs, "whole size")[0]).toBe(0);
    expect(readBack(signs, "apart size")[0]).toBe(0);
  }
  expectHats(
    alone((i) => Math.round(250 * wave(i)) + (i === 9 ? 50 : 0)),
    "whole size",
    Math.log10(250),
    1,
  );
  expectHats(
    alone((i) => 48 + wave(i) + (i === 3 ? 1 : 0)),
    "apart size",
    Math.log10(49),
    2,
  );
  expect(
    readBack(
      alone((i) => -48 + wave(i)),
      "apart size",
    )[0],
  ).toBe(0);
  expect(
    readBack(
      alone(() => 0),
      "size",
    )[0],
  ).toBe(0);
  const [small, middle, large] = signsOf(
    [2, 20, 2000].map((size) => made((i) => size * wave(i) + size * 0.3 * noise(i))),
  );
  expectHats(small, "size beside", -1, 2);
  expectHats(middle, "size beside", 0, 9);
  expectHats(large, "size beside", 2, 2);
  expect([small, middle, large].map((s) => s.get("larger than others"))).toEqual([0, 0.5, 1]);
  expect([small, middle, large].map((s) => s.get("largest of others"))).toEqual([0, 0, 1]);
  expect([small, middle, large].map((s) => s.get("smallest of others"))).toEqual([1, 0, 0]);
});

test("how far a range goes beside its largest value", () => {
  const level = alone((i) => 50 + wave(i));
  expect(level.get("apart")).toBe(1);
  expectHats(level, "part", 2 / 51, 2);
  expect(level.get("20 to 100, apart")).toBe(1);
  expect(level.get("5 to 60, apart, little")).toBe(1);
  expect(level.get("apart below zero")).toBe(0);
  const below = alone((i) => -50 + wave(i));
  expect([below.get("apart"), below.get("apart below zero"), below.get("20 to 100, apart")]).toEqual([
    1, 1, 0,
  ]);
  expect(alone((i) => 35 + 20 * wave(i)).get("5 to 60, apart, little")).toBe(0);
  expect(alone((i) => 80 + wave(i)).get("5 to 60, apart, little")).toBe(0);
  expect(alone((i) => 130 + wave(i)).get("20 to 100, apart")).toBe(0);
  // A twentieth of the largest value is where it begins to stay away.
  const from = (least: number, sign = 1) =>
    alone((i) => sign * (least + (10 - least) * (0.5 + 0.5 * wave(i)))).get("apart");
  expect([from(0.7), from(0.3), from(0.7, -1), from(0.3, -1)]).toEqual([1, 0, 1, 0]);
  const through = alone((i) => 50 * wave(i));
  expect([through.get("apart"), through.get("below zero")]).toEqual([0, 1]);
  expectHats(through, "part", 1);
  expect(through.get("both senses")).toBeGreaterThan(0.99);
  expect(through.get("both senses alike")).toBe(1);
  const leaning = alone((i) => 50 * wave(i) + 25);
  expect(leaning.get("both senses")).toBeCloseTo(25 / 75, 2);
  expect(leaning.get("both senses alike")).toBe(0);
  expect(alone((i) => 50 + 50 * wave(i)).get("both senses")).toBe(0);
});

test("whole numbers, few values, switches, counters and clocks", () => {
  const onOff = alone((i) => (i % 100 < 50 ? 0 : 1));
  expect([onOff.get("binary"), onOff.get("two values"), onOff.get("whole held"), onOff.get("held")]).toEqual([
    1, 1, 1, 1,
  ]);
  expect([onOff.get("whole"), onOff.get("few values"), onOff.get("within one"), onOff.get("one")]).toEqual([
    1, 0, 1, 1,
  ]);
  const few = alone((i) => Math.floor(i / 100) + 1);
  expect([few.get("few values"), few.get("two values"), few.get("some values"), few.get("binary")]).toEqual([
    1, 0, 0, 0,
  ]);
  expect([few.get("never falls"), few.get("never rises"), few.get("whole")]).toEqual([1, 0, 1]);
  const some = alone((i) => Math.floor(i / 20));
  expect([some.get("some values"), some.get("few values"), some.get("many values")]).toEqual([1, 0, 0]);
  const counter = alone((i) => i);
  expect([
    counter.get("steps of one"),
    counter.get("always rises"),
    counter.get("mostly rises"),
    counter.get("ramps"),
  ]).toEqual([1, 1, 1, 1]);
  expect(counter.get("many values")).toBe(1);
  const clock = alone((i) => 0.5 * i);
  expect([clock.get("steps of one"), clock.get("always rises"), clock.get("whole")]).toEqual([0, 1, 0]);
  const back = alone((i) => -i);
  expect([back.get("never rises"), back.get("never falls"), back.get("always rises")]).toEqual([1, 0, 0]);
  const noisy = alone((i) => Math.round(500 * noise(i)));
  expect([noisy.get("whole noisy"), noisy.get("whole held"), noisy.get("always rises")]).toEqual([1, 0, 0]);
  const still = alone(() => 3);
  expect([
    still.get("constant"),
    still.get("whole"),
    still.get("never falls"),
    still.get("zero throughout"),
  ]).toEqual([1, 0, 0, 0]);
  expect(alone(() => 0).get("zero throughout")).toBe(1);
});

test("digits and scales at which a value ends", () => {
  const upTo = (largest: number, of = (i: number) => largest * Math.abs(wave(i))) =>
    alone((i) => (i === 5 ? largest : 0.9 * of(i)));
  const whole = (largest: number) =>
    alone((i) => (i === 5 ? largest : Math.round(0.8 * largest * Math.abs(wave(i)))));
  for (const scale of [127, 255, 1023, 4095]) expect(whole(scale).get("full scale"), String(scale)).toBe(1);
  for (const none of [126, 256.5, 1050]) expect(whole(none).get("full scale"), String(none)).toBe(0);
  expect(upTo(255).get("full scale")).toBe(0);
  expect([
    whole(200).get("within byte"),
    whole(40).get("within byte"),
    whole(300).get("within byte"),
  ]).toEqual([1, 0, 0]);
  expect([
    upTo(100).get("hundred"),
    upTo(100).get("within hundred"),
    upTo(60).get("hundred"),
    upTo(60).get("within hundred"),
  ]).toEqual([1, 1, 0, 1]);
  expect([upTo(10).get("within hundred"), upTo(101).get("within hundred")]).toEqual([0, 0]);
  expect([
    upTo(1).get("one"),
    upTo(0.9).get("one"),
    upTo(0.9).get("within one"),
    upTo(1.1).get("within one"),
  ]).toEqual([1, 0, 1, 0]);
  expect([upTo(1).get("within one, no sign"), alone((i) => wave(i)).get("within one, no sign")]).toEqual([
    1, 0,
  ]);
  const digits = (largest: number) => [1, 2, 5].map((d) => upTo(largest).get(`digits ${d}`));
  expect([digits(40), digits(4.2), digits(0.42), digits(4.21), digits(4.2134567)]).toEqual([
    [1, 0, 0],
    [0, 1, 0],
    [0, 1, 0],
    [0, 0, 0],
    [0, 0, 1],
  ]);
  // The last digit that is written, and steps of a binary fraction.
  const grained = (grain: number) => alone((i) => grain * Math.round((20 * wave(i)) / grain));
  expect([grained(0.1).get("grain of a tenth"), grained(0.2).get("grain of a tenth")]).toEqual([1, 0]);
  for (const grain of [0.5, 0.25, 0.125, 0.0625])
    expect(grained(grain).get("grain of a half"), String(grain)).toBe(1);
  expect(grained(0.3).get("grain of a half")).toBe(0);
  expectHats(grained(0.01), "grain", -2, 2);
  // 40 in steps of 0.25 is 160 steps: 7.3 bits.
  expectHats(grained(0.25), "steps", Math.log2(161), 1);
});

test("where a course begins, ends and stays, and how long its way is", () => {
  const parts = alone((i) => (i < 150 ? 0 : i < 300 ? 8 : 4.5 + 1e-3 * wave(i)));
  expect(parts.get("exactly zero")).toBeCloseTo(0.25, 9);
  expect(parts.get("near zero")).toBeCloseTo(0.25, 9);
  expect(parts.get("high")).toBeCloseTo(0.75, 9);
  expect(parts.get("at its ends")).toBeCloseTo(0.5, 9);
  expect(parts.get("mean size")).toBeCloseTo((0.25 * 8 + 0.5 * 4.5) / 8, 3);
  expect([
    parts.get("starts at zero"),
    parts.get("ends at zero"),
    parts.get("starts at exactly zero"),
  ]).toEqual([1, 0, 1]);
  expect(parts.get("rises in all")).toBeCloseTo(4.5 / 8, 2);
  expect(parts.get("goes away")).toBeCloseTo(4.5 / 8, 2);
  expect(parts.get("ends high")).toBeCloseTo(4.5 / 8, 2);
  expect(parts.get("ends at an end")).toBe(0);
  const falling = alone((i) => 10 - i / 60);
  expect(falling.get("rises in all")).toBeCloseTo(-1, 9);
  expect(falling.get("goes away")).toBeCloseTo(1, 9);
  expect([falling.get("ends at an end"), falling.get("ends at zero"), falling.get("starts at zero")]).toEqual(
    [1, 1, 0],
  );
  expect(alone((i) => i / 60).get("ends at an end")).toBe(1);
  expect(alone((i) => (i === 0 ? 0.1 : 8 + wave(i))).get("starts at exactly zero")).toBe(0);
  // Within a fiftieth of its largest value is at zero.
  const end = (value: number) => alone((i) => (i === 0 || i === rows - 1 ? value : 10 + wave(i)));
  expect(
    [end(0.15), end(0.4), end(-0.15), end(-0.4)].map((s) => [s.get("starts at zero"), s.get("ends at zero")]),
  ).toEqual([
    [1, 1],
    [0, 0],
    [1, 1],
    [0, 0],
  ]);
  expect(alone((i) => i / 60 + (i % 7 === 0 ? 0.3 : 0)).get("mostly rises")).toBe(0);
  expect(alone((i) => i / 60 + (i % 97 === 0 ? 0.3 : 0)).get("mostly rises")).toBe(1);
  // Straight up and down again is twice its range; ten full waves are forty amplitudes, and cross zero twenty times.
  expectHats(
    alone((i) => 300 - Math.abs(300 - i)),
    "way",
    Math.log10(2),
    2,
  );
  const ten = alone((i) => Math.cos((2 * Math.PI * 10 * i) / rows));
  expectHats(ten, "way", Math.log10(20), 1);
  expectHats(ten, "turns", Math.log10(21), 1);
  expectHats(
    alone((i) => 5 + wave(i)),
    "turns",
    0,
  );
  expect(ten.get("mean size")).toBeCloseTo(2 / Math.PI, 2);
  // The middle of a sine's size is its value at an eighth of a turn, the upper twentieth near its crest.
  expectHats(ten, "middle", Math.SQRT1_2, 1);
  expect(ten.get("upper")).toBeGreaterThan(0.97);
  const peaks = alone((i) => (i % 40 === 0 ? 10 : 1 + 0.1 * noise(i)));
  expectHats(peaks, "middle", 0.1, 1);
  expect(
    readBack(
      alone((i) => (i === 3 ? 100 : 0.01 * noise(i))),
      "middle",
    )[0],
  ).toBe(0);
  // Rows without a value are passed over.
  const gaps = alone((i) => (i % 3 === 1 ? Number.NaN : i));
  expect(gaps.get("rises in all")).toBeCloseTo(1, 9);
});

test("its place in the table and beside time", () => {
  const columns = [
    made((i) => i / 100),
    made(wave),
    made((i) => noise(i)),
    made((i) => 5 * wave(i + 30) + noise(i)),
  ];
  const [time, first, second, third] = signsOf(columns, 0);
  expect([time.get("is time"), time.get("other than time"), time.get("no time"), time.get("first")]).toEqual([
    1, 0, 0, 1,
  ]);
  expect([
    first.get("is time"),
    first.get("other than time"),
    first.get("second"),
    first.get("first"),
  ]).toEqual([0, 1, 1, 0]);
  expect([first, second, third].map((s) => [1, 2, 3, 4].map((p) => s.get(`behind time ${p}`)))).toEqual([
    [1, 0, 0, 0],
    [0, 1, 0, 0],
    [0, 0, 1, 0],
  ]);
  expect([second.get("last"), third.get("last")]).toEqual([0, 1]);
  expect([time, first, third].map((s) => s.get("far right"))).toEqual([0, 1 / 3, 1]);
  expectHats(first, "columns", 2, 9);
  expect(
    [
      second.get("left smooth"),
      second.get("right noisy"),
      third.get("left noisy"),
      third.get("right noisy"),
    ].map(Number),
  ).toEqual([first.get("smooth"), third.get("noisy"), second.get("noisy"), 0]);
  const bare = signsOf(columns);
  expect([bare[1].get("no time"), bare[1].get("other than time"), bare[1].get("behind time 1")]).toEqual([
    1, 0, 1,
  ]);
  expectHats(bare[1], "moving", Math.log2(5), 9);
  expectHats(first, "moving", 2, 9);
  // Time and what stands still are not among those that move.
  const stays = signsOf([...columns, made(() => 7)], 0);
  expect(stays[4].get("moves among others")).toBe(0);
  expect(stays[1].get("moves among others")).toBe(1);
  expectHats(stays[1], "moving", 2, 9);
  const only = signsOf([columns[0], columns[1]], 0)[1];
  expect([
    only.get("moves among others"),
    only.get("larger than others"),
    readBack(only, "size beside")[0],
  ]).toEqual([0, 0, 0]);
  // Where time stands behind a column, it is not before it.
  const late = signsOf([columns[1], columns[0]], 1);
  expect([1, 2, 3, 4, 5].map((p) => late[0].get(`behind time ${p}`))).toEqual([0, 0, 0, 0, 0]);
});

test("wraps and twins", () => {
  for (const [size, full] of [
    [360, 1],
    [2 * Math.PI, 1],
    [4096, 0],
  ] as const) {
    const angle = alone((i) => (size * i * 0.013) % size);
    expect([angle.get("wraps"), angle.get("wraps at full circle")], String(size)).toEqual([1, full]);
  }
  expect([alone(wave).get("wraps"), alone(wave).get("wraps at full circle")]).toEqual([0, 0]);
  const phases = [0, 1, 2].map((k) =>
    made((i) => 3 * Math.sin(i / 9 + (k * 2 * Math.PI) / 3) + 0.4 * noise(i + 7 * k)),
  );
  const [u, v, w, x] = signsOf([...phases, made((i) => 90 * noise(i))]);
  expect([u, v, w, x].map((s) => s.get("like the left one"))).toEqual([0, 1, 1, 0]);
  expect([u, v, w, x].map((s) => s.get("like the right one"))).toEqual([1, 1, 0, 0]);
  expect([u, x].map((s) => s.get("like others"))).toEqual([0.5, 0]);
  expect([x.get("roughest"), x.get("rougher than others")]).toEqual([1, 1]);
  expect(u.get("sums to nothing") ?? 0).toBeGreaterThan(x.get("sums to nothing") ?? 0);
});

test("how high, how near zero and how often through it are shares of the largest, whatever that is", () => {
  for (const scale of [0.02, 1, 50]) {
    // A tenth of the rows each: at the end, over half of it, under, within three hundredths, and beyond them.
    const levels = [1, 0.6, 0.4, 0.02, 0.04, -0.05, 0.6, -0.4, -0.6, -0.8];
    const signs = alone((i) => scale * levels[Math.floor(i / 60) % 10]);
    expect(signs.get("high")).toBeCloseTo(0.5, 9);
    expect(signs.get("near zero")).toBeCloseTo(0.1, 9);
    expect(signs.get("mean size")).toBeCloseTo(levels.reduce((s, v) => s + Math.abs(v), 0) / 10, 9);
    // From above to below once: what lies within a tenth is on neither side.
    expectHats(signs, "turns", Math.log10(2));
    expect(signs.get("ends high")).toBeCloseTo(0.8, 9);
    expect(signs.get("rises in all")).toBeCloseTo(-1, 9);
    expect(signs.get("goes away")).toBeCloseTo(1, 9);
    expect(signs.get("ends at an end")).toBe(1);
    expect(signs.get("at its ends")).toBeCloseTo(0.2, 9);
    expect(signs.get("starts at zero")).toBe(0);
  }
  const middle = alone((i) => (i < 300 ? (i % 2 ? 5 : -5) : i < 599 ? 3 : 4.7));
  expect(middle.get("ends at an end")).toBe(0);
  expect(alone((i) => (i < 599 ? (i % 2 ? 5 : -5) : 4.9)).get("ends at an end")).toBe(1);
});

test("gaps count for nothing, and a constant has no course", () => {
  const whole = alone((i) => 10 + 5 * wave(i));
  const gaps = alone((i) => (i > 0 && i % 7 === 3 ? Number.NaN : 10 + 5 * wave(i)));
  for (const name of ["mean size", "high", "near zero", "ends high", "goes away"])
    expect(gaps.get(name), name).toBeCloseTo(whole.get(name) ?? Number.NaN, 1);
  const still = alone(() => 0);
  for (const name of [
    "rises in all",
    "goes away",
    "ends at an end",
    "mean size",
    "ends high",
    "apart",
    "both senses",
  ])
    expect(still.get(name), name).toBe(0);
});

test("where a column stands: behind the time, from the left, and beside others", () => {
  const columns = [made((i) => i), made(wave), made((i) => 40 * wave(i) + 4 * noise(i)), made(() => 3)];
  const signs = signsOf(columns, 1, 5);
  const behind = signs.map((one) => [1, 2, 3, 4, 5].filter((p) => one.get(`behind time ${p}`) === 1));
  expect(behind).toEqual([[], [], [1], [2]]);
  const without = signsOf(columns, undefined, 5).map((one) =>
    [1, 2, 3].filter((p) => one.get(`behind time ${p}`) === 1),
  );
  expect(without).toEqual([[], [1], [2], [3]]);
  expect(signs.map((one) => one.get("far right"))).toEqual([0, 0.25, 0.5, 0.75]);
  expect(signsOf([made(wave)])[0].get("far right")).toBe(0);
  // The time and what does not move are among no others.
  expect(signs.map((one) => one.get("moves among others"))).toEqual([1, 0, 1, 0]);
  expect(signs.map((one) => one.get("largest of others"))).toEqual([1, 0, 0, 0]);
  expect(signs.map((one) => one.get("smallest of others"))).toEqual([0, 0, 1, 0]);
  expect(signs.map((one) => one.get("larger than others"))).toEqual([1, 0, 0, 0]);
  expect(signs.map((one) => one.get("roughest"))).toEqual([0, 0, 1, 0]);
  expect(signs.map((one) => one.get("smoothest"))).toEqual([1, 0, 0, 0]);
  const alike = signsOf([made(wave), made((i) => -wave(i)), made(wave), made((i) => 9 * wave(i))]);
  expect(alike.map((one) => one.get("larger than others"))).toEqual([1 / 3, 1 / 3, 1 / 3, 1]);
  expect(alike.map((one) => one.get("like others"))).toEqual([0.5, 0.5, 0.5, 0]);
});
