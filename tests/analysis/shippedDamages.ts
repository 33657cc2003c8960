import { readFileSync } from "node:fs";
import { join } from "node:path";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";

const shipped = join(import.meta.dirname, "../../datasets/parcel-sorter");

/** One log as rows of cells. */
export type Rows = readonly (readonly string[])[];

export interface Log {
  readonly file: string;
  readonly heading: readonly string[];
  readonly rows: Rows;
}

/** The shipped logs, one an order. */
export const shippedSet: readonly Log[] = ["uvw", "vwu", "wuv", "vuw", "uwv", "wvu"].map((order) => {
  const file = `order-${order}.csv`;
  const [heading, ...rows] = readFileSync(join(shipped, file), "utf8")
    .trimEnd()
    .split("\n")
    .map((line) => line.split(","));
  return { file, heading, rows };
});

/** The shipped descriptor. */
export const descriptor = JSON.parse(readFileSync(join(shipped, "datapackage.json"), "utf8"));

/** A log as text. */
export const written = ({ heading, rows }: Log): string =>
  `${[heading, ...rows].map((row) => row.join(",")).join("\n")}\n`;

/** Places of the columns. */
export const column = { time: 0, command: 1, current: 2, speed: 3, position: 4, reference: 5 } as const;

export interface Damage {
  readonly name: string;
  readonly change: (rows: Rows) => Rows;
}

/** Every cell of some columns through a function, blanks left blank. */
export const mapped = (
  rows: Rows,
  columns: readonly number[],
  f: (value: number, row: number) => number,
): Rows =>
  rows.map((row, i) =>
    row.map((cell, k) => (columns.includes(k) && cell !== "" ? String(f(Number(cell), i)) : cell)),
  );

const times = (name: string, factor: number, ...columns: number[]): Damage => ({
  name,
  change: (rows) => mapped(rows, columns, (v) => v * factor),
});

/** Counts missed at some rows: what was counted from there on is less (or more) by so many. */
const missed = (name: string, at: readonly number[], counts: number): Damage => ({
  name,
  change: (rows) =>
    mapped(
      rows,
      [column.position],
      (v, i) => v - counts * at.filter((from) => i >= from * rows.length).length,
    ),
});

/** Counts missed while turning, so many of each turn passed, whichever way it turns. */
const missedPerTurn = (name: string, each: number, bothWays: boolean): Damage => ({
  name,
  change: (rows) => {
    let lost = 0;
    let before = 0;
    return mapped(rows, [column.position], (v) => {
      const turns = Math.trunc(v / 4096) - Math.trunc(before / 4096);
      before = v;
      lost += each * (bothWays ? Math.abs(turns) : turns);
      return Math.round(v - lost);
    });
  },
});

const lostRows = (name: string, part: number, burst: number): Damage => ({
  name,
  change: (rows) => {
    const random = seededRandom(7);
    let left = 0;
    return rows.filter(() => {
      if (left > 0) {
        left -= 1;
        return false;
      }
      if (random.uniform() < part / burst) {
        left = burst - 1;
        return false;
      }
      return true;
    });
  },
});

const late = (name: string, rowsLate: number, ...columns: number[]): Damage => ({
  name,
  change: (rows) =>
    rows.map((row, i) =>
      row.map((cell, k) => (columns.includes(k) ? rows[Math.max(0, i - rowsLate)][k] : cell)),
    ),
});

const { time, command, current, speed, position, reference } = column;
const perMinute = 60 / (2 * Math.PI);

/** What is done to a log, each under a name. */
export const damages: readonly Damage[] = [
  { name: "none", change: (rows) => rows },
  { name: "position frozen at 0", change: (rows) => mapped(rows, [position], () => 0) },
  {
    name: "position frozen in part",
    change: (rows) =>
      rows.map((row, i) => (i >= 2000 && i < 2600 ? row.with(position, rows[2000][position]) : row)),
  },
  {
    name: "position frozen from 1.2 s on",
    change: (rows) => rows.map((row, i) => (i >= 1200 ? row.with(position, rows[1200][position]) : row)),
  },
  {
    name: "position gap",
    change: (rows) => rows.map((row, i) => (i >= 2000 && i < 2600 ? row.with(position, "") : row)),
  },
  missed("missed 200 counts once", [0.18], 200),
  missed("missed 30 counts thrice", [0.15, 0.2, 0.35], 30),
  missedPerTurn("missed 40 counts a turn, both ways", 40, true),
  missedPerTurn("missed 120 counts a turn", 120, false),
  { name: "missed 3 %", change: (rows) => mapped(rows, [position], (v) => Math.trunc(0.97 * v)) },
  times("speed rad/s as rev/min", 1 / perMinute, speed),
  times("speed and reference rad/s as rev/min", 1 / perMinute, speed, reference),
  times("speed rev/min times 9.55", perMinute, speed),
  times("speed times 4", 4, speed),
  times("speed and reference times 4", 4, speed, reference),
  times("speed a quarter", 0.25, speed),
  times("speed times 1000", 1000, speed),
  times("speed times 1/1000", 0.001, speed),
  times("speed and reference times 1/1000", 0.001, speed, reference),
  times("position times 4", 4, position),
  times("position a quarter", 0.25, position),
  times("position times 1000", 1000, position),
  times("position times 1/1000", 0.001, position),
  lostRows("rows lost 3 % at random", 0.03, 1),
  lostRows("rows lost 10 % at random", 0.1, 1),
  lostRows("rows lost 3 % in bursts of 15", 0.03, 15),
  lostRows("rows lost 10 % in bursts of 15", 0.1, 15),
  lostRows("rows lost 10 % in bursts of 100", 0.1, 100),
  {
    name: "clock restarted",
    change: (rows) => mapped(rows, [time], (v, i) => Number((v - (i >= 4000 ? 4 : 0)).toFixed(3))),
  },
  late("speed 5 ms late", 5, speed),
  late("speed 50 ms late", 50, speed),
  late("speed 1.5 s late", 1500, speed),
  late("position 1.5 s late", 1500, position),
  times("current times 1000", 1000, current),
  times("current a thousandth", 0.001, current),
  times("currents times 1000", 1000, command, current),
  times("sign of the current turned", -1, current),
  times("sign of the command turned", -1, command),
  times("sign of the speed turned", -1, speed),
  times("sign of the position turned", -1, position),
  times("sign of the reference turned", -1, reference),
  {
    name: "speed and position exchanged",
    change: (rows) => rows.map((row) => row.with(speed, row[position]).with(position, row[speed])),
  },
  {
    name: "current and speed exchanged",
    change: (rows) => rows.map((row) => row.with(speed, row[current]).with(current, row[speed])),
  },
  {
    name: "command and current exchanged",
    change: (rows) => rows.map((row) => row.with(command, row[current]).with(current, row[command])),
  },
  {
    name: "speed clipped at 1000 rev/min",
    change: (rows) => mapped(rows, [speed], (v) => Math.max(-1000, Math.min(1000, v))),
  },
  {
    name: "current clipped at 0.6 A",
    change: (rows) => mapped(rows, [current], (v) => Math.max(-0.6, Math.min(0.6, v))),
  },
  {
    name: "position clipped at 16 bits",
    change: (rows) => mapped(rows, [position], (v) => Math.max(-32768, Math.min(32767, v))),
  },
];
