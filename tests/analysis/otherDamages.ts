import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { column, type Damage, mapped, type Rows } from "./shippedDamages.js";

/** Further damages to the shipped logs, made after the checks were: none of them was tuned on these. */

const { time, command, current, speed, position, reference } = column;
const perMinute = 60 / (2 * Math.PI);

const times = (name: string, factor: number, ...columns: number[]): Damage => ({
  name,
  change: (rows) => mapped(rows, columns, (v) => v * factor),
});

/** A stretch of some columns through a function of the cell and the one at its beginning. */
const stretch = (
  name: string,
  from: number,
  to: number,
  columns: readonly number[],
  cell: (was: string, first: string) => string,
): Damage => ({
  name,
  change: (rows) =>
    rows.map((row, i) =>
      i < from || i >= Math.min(to, rows.length)
        ? row
        : row.map((was, k) => (columns.includes(k) ? cell(was, rows[from][k]) : was)),
    ),
});

const frozen = (name: string, from: number, to: number, ...columns: number[]): Damage =>
  stretch(name, from, to, columns, (_, first) => first);

const gap = (name: string, from: number, to: number, ...columns: number[]): Damage =>
  stretch(name, from, to, columns, () => "");

const late = (name: string, by: number, ...columns: number[]): Damage => ({
  name,
  change: (rows) =>
    rows.map((row, i) =>
      row.map((cell, k) =>
        columns.includes(k) ? rows[Math.min(rows.length - 1, Math.max(0, i - by))][k] : cell,
      ),
    ),
});

const exchanged = (name: string, a: number, b: number): Damage => ({
  name,
  change: (rows) => rows.map((row) => row.with(a, row[b]).with(b, row[a])),
});

const on = (name: string, columns: readonly number[], f: (value: number, row: number) => number): Damage => ({
  name,
  change: (rows) => mapped(rows, columns, f),
});

const clock = (name: string, of: (seconds: number, row: number, rows: number) => number): Damage => ({
  name,
  change: (rows) => mapped(rows, [time], (v, i) => Number(of(v, i, rows.length).toPrecision(9))),
});

const wrappedAt = (span: number, half: boolean) => (v: number) => {
  const within = ((v % span) + span) % span;
  return half && within >= span / 2 ? within - span : within;
};

const copy = (name: string, from: number, to: number): Damage => ({
  name,
  change: (rows) => rows.map((row) => row.with(to, row[from] === "" ? "0" : row[from])),
});

const lost = (part: number) => (rows: Rows) => {
  const random = seededRandom(911);
  return rows.filter(() => random.uniform() > part);
};

export const otherDamages: readonly Damage[] = [
  times("speed times 60", 60, speed),
  times("speed a sixtieth", 1 / 60, speed),
  times("speed times 2 pi", 2 * Math.PI, speed),
  times("speed and reference times 60/2pi", perMinute, speed, reference),
  times("speed and reference times 1000", 1000, speed, reference),
  times("position in degrees", 360 / 4096, position),
  times("position in turns", 1 / 4096, position),
  times("position in radians", (2 * Math.PI) / 4096, position),
  times("reference times 60/2pi", perMinute, reference),
  times("reference a quarter", 0.25, reference),
  times("reference times 1000", 1000, reference),
  times("command times 1000", 1000, command),
  times("command a thousandth", 0.001, command),
  times("command times root two", Math.SQRT2, command),
  times("current times four", 4, current),
  times("currents with the sign turned", -1, command, current),
  times("motion with the sign turned", -1, speed, position),
  times("speed, position and reference with the sign turned", -1, speed, position, reference),
  frozen("speed frozen from 1.2 s on", 1200, Number.POSITIVE_INFINITY, speed),
  frozen("speed frozen in part", 700, 1700, speed),
  gap("speed gap", 700, 1700, speed),
  on("speed frozen at 0", [speed], () => 0),
  frozen("current frozen in part", 2000, 2600, current),
  frozen("current frozen from 1.2 s on", 1200, Number.POSITIVE_INFINITY, current),
  gap("current gap", 700, 1700, current),
  frozen("command frozen from 1.2 s on", 1200, Number.POSITIVE_INFINITY, command),
  gap("command gap", 700, 1700, command),
  gap("all but the time missing", 700, 1700, command, current, speed, position, reference),
  late("current 50 ms late", 50, current),
  late("current 1.5 s late", 1500, current),
  late("command 0.3 s late", 300, command),
  late("command 1.5 s late", 1500, command),
  late("position 50 ms late", 50, position),
  late("motion 1.5 s late", 1500, speed, position),
  late("reference 0.5 s early", -500, reference),
  clock("time in milliseconds under seconds", (t) => t * 1000),
  clock("time a thousandth", (t) => t / 1000),
  clock("time in minutes under seconds", (t) => t / 60),
  clock("time 3 % slow", (t) => t * 0.97),
  clock("time rounded to 10 ms", (t) => Math.round(t * 100) / 100),
  clock("clock restarts twice", (t, i) => t - (i >= 5000 ? 5 : i >= 2500 ? 2.5 : 0)),
  clock("clock half a second back", (t, i) => t - (i >= 2300 ? 0.5 : 0)),
  clock("clock a hundred seconds on", (t, i) => t + (i >= 2300 ? 100 : 0)),
  { name: "rows the other way round", change: (rows) => rows.toReversed() },
  { name: "every row twice", change: (rows) => rows.flatMap((row) => [row, row]) },
  { name: "rows lost 30 % at random", change: lost(0.3) },
  { name: "rows lost, clock closed up", change: (rows) => closedUp(lost(0.1)(rows), rows) },
  { name: "a second lost, clock closed up", change: (rows) => closedUp(without(rows, 900, 1900), rows) },
  on("missed 1 %", [position], (v) => Math.trunc(0.99 * v)),
  on("missed every 30th count", [position], (v) => v - Math.trunc(v / 30)),
  on("missed 10 %", [position], (v) => Math.trunc(0.9 * v)),
  on("counts 3 % too many", [position], (v) => Math.trunc(1.03 * v)),
  on("counts that creep", [position], (v, i) => v + Math.round(0.2 * i)),
  on("position wrapped at a turn", [position], wrappedAt(4096, false)),
  on("position wrapped at 16 bits", [position], wrappedAt(65536, true)),
  on("position without its sign", [position], Math.abs),
  on("speed without its sign", [speed], Math.abs),
  on("current without its sign", [current], Math.abs),
  on("command without its sign", [command], Math.abs),
  on("speed clipped at 300", [speed], (v) => Math.max(-300, Math.min(300, v))),
  on("command clipped at 0.6", [command], (v) => Math.max(-0.6, Math.min(0.6, v))),
  on("speed with an offset", [speed], (v) => v + 200),
  on("current with an offset", [current], (v) => v + 0.5),
  on("speed a tenth now and then", [speed], (v, i) => (i % 17 === 3 ? v / 10 : v)),
  copy("reference in the speed column", reference, speed),
  copy("command in the speed column", command, speed),
  copy("current in the position column", current, position),
  exchanged("reference and current exchanged", reference, current),
  exchanged("command and speed exchanged", command, speed),
  exchanged("command and reference exchanged", command, reference),
  exchanged("position and current exchanged", position, current),
  {
    name: "speed of another time",
    change: (rows) => rows.map((row, i) => row.with(speed, rows[rows.length - 1 - i][speed])),
  },
];

function without(rows: Rows, from: number, to: number): Rows {
  return rows.filter((_, i) => i < from || i >= to);
}

/** Rows with the stamps of a log that lost none. */
function closedUp(rows: Rows, whole: Rows): Rows {
  return rows.map((row, i) => row.with(time, whole[i][time]));
}
