import { type SeededRandom, seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import type { MeasuredRun } from "../../lib/study/population/motorSlopes.js";
import type { MotorColumn } from "../../lib/study/population/outlyingMotors.js";

/**
 * How the errors of motors, and of single runs, are distributed, at a standard deviation of one. Skewed: log-normal
 * with a sigma of 0.5. Two suppliers: half of the motors, nobody knows which, lie four deviations of a supplier above
 * the others in every constant.
 */
export type Tails = "normal" | "t(5)" | "t(3)" | "skewed" | "two suppliers";

/** A kind of fleet. */
export interface Cell {
  readonly motors: number;
  readonly batches: number;
  readonly tails: Tails;
}

/** Three constants, on a linear scale. */
export const constants = ["a", "b", "c"];

/** A planted effect on the constant `a`, in deviations of a motor (of a run, for drifts). */
export interface Planted {
  readonly what: "motor" | "batch" | "drift" | "fleet drift" | "shift";
  readonly size: number;
}

/** Fleets of one kind, each from the seed and its number alone, so that a count can be interrupted and taken up
 * again. */
export function fleetRandom(cell: Cell, seed: number, k: number): SeededRandom {
  const tails = { normal: 1, "t(5)": 2, "t(3)": 3, skewed: 4, "two suppliers": 5 }[cell.tails];
  // Mixed until every bit depends on every part: neighbouring fleets must not share stretches of the generator's one
  // long cycle.
  let hash = 0;
  for (const part of [seed, cell.motors, cell.batches, tails, k]) {
    hash = Math.imul(hash ^ part, 0x85ebca6b) + 0x9e3779b9;
    hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35);
    hash ^= hash >>> 16;
  }
  return seededRandom(hash);
}

/** One error of deviation one; `side`: supplier of the motor, 1 or -1. */
function errorOf(tails: Tails, random: SeededRandom, side = 1): number {
  if (tails === "normal") return random.normal();
  if (tails === "two suppliers") return (random.normal() + 2 * side) / Math.sqrt(5);
  if (tails === "skewed") {
    const variance = 0.25;
    const mean = Math.exp(variance / 2);
    return (Math.exp(0.5 * random.normal()) - mean) / (mean * Math.sqrt(Math.expm1(variance)));
  }
  const degrees = tails === "t(5)" ? 5 : 3;
  let squares = 0;
  for (let k = 0; k < degrees; k++) squares += random.normal() ** 2;
  return (random.normal() * Math.sqrt(degrees - 2)) / Math.sqrt(squares);
}

/** Constants of motors as first measured, motors of one batch on the days that follow each other; batches differ by
 * `differ` deviations. */
export function firstMeasured(cell: Cell, random: SeededRandom, differ: number, planted?: Planted) {
  const { motors, batches, tails } = cell;
  const group = Array.from({ length: motors }, (_, i) => Math.floor((i * batches) / motors));
  const days = Math.min(60, Math.max(10, Math.floor(motors / 3)));
  const dates = group.map((_, i) => `D${String(Math.floor((i * days) / motors)).padStart(3, "0")}`);
  const columns: Record<string, MotorColumn> = {};
  const sides = group.map(() => (tails !== "two suppliers" || random.uniform() < 0.5 ? 1 : -1));
  for (const name of constants) {
    const hit = name === "a" ? planted : undefined;
    const effects = Array.from({ length: batches }, () => differ * random.normal());
    const values = group.map((g, i) => {
      const own = 100 + effects[g] + errorOf(tails, random, sides[i]);
      const moved =
        (hit?.what === "motor" && i === 0) ||
        (hit?.what === "batch" && g === 0) ||
        (hit?.what === "shift" && i >= Math.floor((motors * 2) / 3));
      return moved ? own + (hit?.size ?? 0) : own;
    });
    columns[name] = { values, unit: "1" };
  }
  return { batch: group.map((g) => `B${g}`), names: group.map((_, i) => `m${i}`), dates, columns };
}

/**
 * Six runs of each motor, a month apart. Together: all motors on the same days, and each day has an effect of its own
 * of half the deviation of a run.
 */
export function watchedRuns(cell: Cell, random: SeededRandom, together: boolean, planted?: Planted) {
  const { motors, tails } = cell;
  return Object.fromEntries(
    constants.map((name) => {
      const hit = name === "a" ? planted : undefined;
      const ofDay = Array.from({ length: 6 }, () => (together ? 0.5 * random.normal() : 0));
      const runs = Array.from({ length: motors }, (_, m) => {
        const level = 100 + random.normal();
        const start = together ? 0 : Math.floor(3000 * random.uniform());
        return Array.from({ length: 6 }, (_, k): MeasuredRun => {
          const drifts = (hit?.what === "drift" && m === 0) || hit?.what === "fleet drift";
          const moved = drifts ? ((hit?.size ?? 0) * k) / 5 : 0;
          return {
            motor: `m${m}`,
            time: start + 30 * k,
            value: level + ofDay[k] + errorOf(tails, random) + moved,
          };
        });
      });
      return [name, { runs: runs.flat() }];
    }),
  );
}
