/**
 * How often a study of sound motors says that something stands out, and how large something must be to be found. Made-up fleets of a
 * known truth go through the very decisions of a study (`fleetDecisions` and what it calls).
 *
 *   npx tsx tests/study/falseAlarms.ts alarms <fleets> <file>   false alarms, one line of JSON for each cell, appended
 *   npx tsx tests/study/falseAlarms.ts power <fleets> <file>    what is found of a planted effect
 *   npx tsx tests/study/falseAlarms.ts table <file>             the tables of docs/study.md
 *
 * A cell is a number of motors, of batches, and tails: normal, or Student's t with 5 degrees of freedom at the same standard deviation.
 * Batches differ by half of what motors of one batch do. Three constants, on a linear scale.
 */
import { appendFileSync, existsSync, readFileSync } from "node:fs";
import { type SeededRandom, seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { dayChart } from "../../lib/study/population/dayChart.js";
import { driftingMotors } from "../../lib/study/population/driftingMotors.js";
import { groupDifferences } from "../../lib/study/population/groupDifferences.js";
import type { MeasuredRun } from "../../lib/study/population/motorSlopes.js";
import { oddGroups } from "../../lib/study/population/oddGroups.js";
import { type MotorColumn, outlyingMotors } from "../../lib/study/population/outlyingMotors.js";

export interface Cell {
  readonly motors: number;
  readonly batches: number;
  readonly tails: "normal" | "t(5)";
}

/** Decisions whose false alarms are counted. */
export const decisions = ["outlying", "odd batch", "batches differ", "drift", "chart"] as const;
export type Decision = (typeof decisions)[number];

export const cells: readonly Cell[] = (
  [
    [10, 1],
    [10, 5],
    [30, 1],
    [30, 5],
    [30, 10],
    [100, 1],
    [100, 10],
    [100, 33],
    [300, 10],
    [300, 60],
    [300, 100],
    [2000, 20],
    [2000, 400],
  ] as const
).flatMap(([motors, batches]) => (["normal", "t(5)"] as const).map((tails) => ({ motors, batches, tails })));

const constants = ["a", "b", "c"];

/** One error of deviation one. */
function errorOf(tails: Cell["tails"], random: SeededRandom): number {
  if (tails === "normal") return random.normal();
  let squares = 0;
  for (let k = 0; k < 5; k++) squares += random.normal() ** 2;
  return (random.normal() * Math.sqrt(3)) / Math.sqrt(squares);
}

/** A planted effect, in deviations of a motor. */
export interface Planted {
  readonly what: "motor" | "batch" | "drift" | "fleet drift" | "shift";
  readonly size: number;
}

/** One made-up fleet: constants of each motor, batch and day, and runs over time of up to 60 of the motors. */
export function madeFleet(
  { motors, batches, tails }: Cell,
  random: SeededRandom,
  differ: boolean,
  planted?: Planted,
) {
  const batch = Array.from({ length: motors }, (_, i) => `B${Math.floor((i * batches) / motors)}`);
  const days = Math.min(60, Math.max(10, Math.floor(motors / 3)));
  const dates = batch.map((_, i) => `D${String(Math.floor((i * days) / motors)).padStart(3, "0")}`);
  const columns: Record<string, MotorColumn> = {};
  const runs: Record<string, MeasuredRun[]> = {};
  for (const name of constants) {
    const hit = name === "a" ? planted : undefined;
    const effects = Array.from({ length: batches }, () => (differ ? 0.5 * random.normal() : 0));
    const values = batch.map((b, i) => {
      const own = 100 + effects[Number(b.slice(1))] + errorOf(tails, random);
      const moved =
        (hit?.what === "motor" && i === 0) ||
        (hit?.what === "batch" && b === "B0") ||
        (hit?.what === "shift" && i >= Math.floor((motors * 2) / 3));
      return moved ? own + (hit?.size ?? 0) : own;
    });
    columns[name] = { values };
    const watched = Math.min(60, motors);
    runs[name] = Array.from({ length: watched }, (_, m) => {
      const level = 100 + random.normal();
      const start = 30 * random.uniform();
      return Array.from({ length: 6 }, (_, k) => {
        const drifts = (hit?.what === "drift" && m === 0) || hit?.what === "fleet drift";
        const value = level + errorOf(tails, random) + (drifts ? ((hit?.size ?? 0) * k) / 5 : 0);
        return { motor: `m${m}`, time: start + 30 * k, value };
      });
    }).flat();
  }
  return { batch, dates, columns, runs };
}

/** The least chance that each decision gives anything in a fleet; not a number where it decides nothing. */
export function leastChances(
  cell: Cell,
  random: SeededRandom,
  only: readonly Decision[] = decisions,
): Record<Decision, number> {
  const fleet = madeFleet(cell, random, true);
  const names = fleet.batch.map((_, i) => `m${i}`);
  const several = cell.batches > 1;
  const least = (list: readonly number[]) => list.reduce((a, b) => Math.min(a, b), 1);
  const out: Record<Decision, number> = {
    outlying: Number.NaN,
    "odd batch": Number.NaN,
    "batches differ": Number.NaN,
    drift: Number.NaN,
    chart: Number.NaN,
  };
  // Everything with a chance below 0.2 is asked for; the alarms are counted from the chances.
  const alpha = 0.2;
  if (only.includes("outlying")) {
    const found = outlyingMotors(fleet.columns, names, {
      alpha,
      factors: several ? { batch: fleet.batch } : {},
    });
    if (!isUndetermined(found)) out.outlying = least(found.outlying.map((o) => o.p));
  }
  if (only.includes("odd batch") && several) {
    const found = oddGroups(fleet.columns, fleet.batch, { alpha });
    if (!isUndetermined(found)) out["odd batch"] = least(found.odd.map((o) => o.p));
  }
  if (only.includes("batches differ") && several) {
    // A sound fleet here has batches that do not differ.
    const alike = madeFleet(cell, random, false);
    const columns = Object.fromEntries(
      Object.entries(alike.columns).map(([n, c]) => [n, { values: c.values, unit: "1" }]),
    );
    const found = groupDifferences(columns, alike.batch);
    out["batches differ"] = least(found.flatMap((c) => [c.p, ...c.groups.map((g) => g.chance)]));
  }
  if (only.includes("drift")) {
    const found = driftingMotors(
      Object.fromEntries(Object.entries(fleet.runs).map(([n, runs]) => [n, { runs }])),
      { alpha },
    );
    if (!isUndetermined(found))
      out.drift = least([...found.motors.map((m) => m.p), ...found.fleet.map((f) => f.p)]);
  }
  if (only.includes("chart")) out.chart = chartChance(fleet);
  return out;
}

/** 0.01 or 0.05 when a chart at that chance calls out a day; 1 when none does. */
function chartChance(fleet: ReturnType<typeof madeFleet>): number {
  for (const alpha of [0.01, 0.05])
    for (const { values } of Object.values(fleet.columns)) {
      const chart = dayChart(values, fleet.dates, fleet.batch, { alpha: alpha / constants.length });
      if (isUndetermined(chart)) return Number.NaN;
      if (chart.individuals.signals.length + chart.ewma.signals.length > 0) return alpha * 0.999;
    }
  return 1;
}

/** Decisions that are slow with many motors are measured on fewer fleets. */
function fleetsFor(decision: Decision, cell: Cell, fleets: number): number {
  const slow = decision === "chart" || decision === "batches differ" || decision === "drift";
  return slow && cell.motors >= 2000 ? Math.ceil(fleets / 10) : fleets;
}

function countAlarms(cell: Cell, fleets: number): object {
  const random = seededRandom(cell.motors * 1000 + cell.batches * 2 + (cell.tails === "normal" ? 0 : 1));
  const counts = Object.fromEntries(decisions.map((d) => [d, { fleets: 0, at1: 0, at5: 0 }]));
  for (let k = 0; k < fleets; k++) {
    const only = decisions.filter((d) => k < fleetsFor(d, cell, fleets));
    const chances = leastChances(cell, random, only);
    for (const d of only) {
      if (Number.isNaN(chances[d])) continue;
      counts[d].fleets++;
      if (chances[d] < 0.01) counts[d].at1++;
      if (chances[d] < 0.05) counts[d].at5++;
    }
  }
  return { ...cell, counts };
}

/** Part of fleets in which a planted effect is found at a stated chance of 1 %. */
export function foundOf(cell: Cell, planted: Planted, fleets: number): number {
  const random = seededRandom(17 + Math.round(10 * planted.size));
  let found = 0;
  for (let k = 0; k < fleets; k++) {
    const fleet = madeFleet(cell, random, true, planted);
    if (planted.what === "motor") {
      const factors: Record<string, string[]> = cell.batches > 1 ? { batch: fleet.batch } : {};
      const answer = outlyingMotors(
        fleet.columns,
        fleet.batch.map((_, i) => `m${i}`),
        { factors },
      );
      if (!isUndetermined(answer) && answer.outlying.some((o) => o.motor === "m0")) found++;
    } else if (planted.what === "batch") {
      const answer = oddGroups(fleet.columns, fleet.batch);
      if (!isUndetermined(answer) && answer.odd.some((o) => o.group === "B0")) found++;
    } else if (planted.what === "shift") {
      const chart = dayChart(fleet.columns.a.values, fleet.dates, fleet.batch, {
        alpha: 0.01 / constants.length,
      });
      if (!isUndetermined(chart) && chart.individuals.signals.length + chart.ewma.signals.length > 0) found++;
    } else {
      const answer = driftingMotors(
        Object.fromEntries(Object.entries(fleet.runs).map(([n, runs]) => [n, { runs }])),
      );
      if (isUndetermined(answer)) continue;
      const all = planted.what === "fleet drift";
      if (
        all
          ? answer.fleet.some((f) => f.constant === "a" && f.drifts)
          : answer.motors.some((m) => m.motor === "m0")
      )
        found++;
    }
  }
  return found / fleets;
}

const powerCells: readonly {
  readonly what: Planted["what"];
  readonly sizes: readonly number[];
  readonly cells: readonly [number, number][];
}[] = [
  {
    what: "motor",
    sizes: [4, 6, 8, 10, 12, 16, 20],
    cells: [
      [10, 1],
      [30, 5],
      [100, 10],
      [300, 60],
      [2000, 20],
    ],
  },
  {
    what: "batch",
    sizes: [1, 2, 3, 4, 6, 8, 12],
    cells: [
      [30, 10],
      [100, 10],
      [300, 60],
      [2000, 400],
    ],
  },
  {
    what: "drift",
    sizes: [2, 4, 6, 8, 10, 14],
    cells: [
      [10, 1],
      [30, 5],
      [100, 10],
    ],
  },
  {
    what: "fleet drift",
    sizes: [0.5, 1, 1.5, 2, 3, 4],
    cells: [
      [10, 1],
      [30, 5],
      [100, 10],
    ],
  },
  {
    what: "shift",
    sizes: [0.5, 1, 1.5, 2, 3, 4],
    cells: [
      [30, 5],
      [100, 10],
      [300, 60],
    ],
  },
];

function tables(file: string): string {
  const lines = readFileSync(file, "utf8")
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line));
  const rate = (count: number, n: number, stated: number) =>
    n === 0 ? "-" : (count / n / stated).toFixed(2);
  const alarms = lines
    .filter((l) => l.counts)
    .map((l) => {
      const one = (d: Decision) => {
        const { fleets, at1, at5 } = l.counts[d];
        return fleets === 0
          ? "-"
          : `${rate(at1, fleets, 0.01)}, ${rate(at5, fleets, 0.05)}${fleets < 1000 ? ` (${fleets})` : ""}`;
      };
      return `| ${l.motors} | ${l.batches} | ${l.tails} | ${decisions.map(one).join(" | ")} |`;
    });
  const power = lines
    .filter((l) => l.found)
    .map(
      (l) =>
        `| ${l.what} | ${l.motors} | ${l.batches} | ${l.tails} | ${l.found.map((f: [number, number]) => `${f[0]}: ${(f[1] * 100).toFixed(0)} %`).join(", ")} |`,
    );
  return [
    `| motors | batches | tails | ${decisions.join(" | ")} |`,
    `|---|---|---|${decisions.map(() => "---").join("|")}|`,
    ...alarms,
    "",
    "| planted | motors | batches | tails | size in deviations of a motor: found |",
    "|---|---|---|---|---|",
    ...power,
  ].join("\n");
}

if (process.argv[1]?.endsWith("falseAlarms.ts")) {
  const [, , task, first, second] = process.argv;
  const done = existsSync(second ?? "") ? readFileSync(second, "utf8") : "";
  if (task === "alarms")
    for (const cell of cells) {
      if (done.includes(JSON.stringify(cell).slice(0, -1))) continue;
      appendFileSync(second, `${JSON.stringify(countAlarms(cell, Number(first)))}\n`);
    }
  else if (task === "power")
    for (const { what, sizes, cells: list } of powerCells)
      for (const [motors, batches] of list)
        for (const tails of ["normal", "t(5)"] as const) {
          const fleets = motors >= 2000 ? Math.ceil(Number(first) / 4) : Number(first);
          const found = sizes.map((size) => [
            size,
            foundOf({ motors, batches, tails }, { what, size }, fleets),
          ]);
          appendFileSync(second, `${JSON.stringify({ what, motors, batches, tails, found })}\n`);
        }
  else if (task === "table") console.log(tables(first));
  else console.error("say alarms, power or table");
}
