/**
 * How often a study of sound motors says that something stands out, and how large something must be to be found.
 * Made-up fleets of a known truth (`madeFleets.ts`) go through the very functions by which a study decides.
 *
 *   npx tsx tests/study/falseAlarms.ts alarms <fleets> <seed> <file> [<first cell> <last cell> ["<decision>;..."]]
 *   npx tsx tests/study/falseAlarms.ts power <fleets> <seed> <file>
 *   npx tsx tests/study/falseAlarms.ts table <file>
 *
 * Counts are appended in lines of 50 fleets, so that a run can be ended and started again.
 */
import { appendFileSync, existsSync, readFileSync } from "node:fs";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { dayChart } from "../../lib/study/population/dayChart.js";
import { driftingMotors } from "../../lib/study/population/driftingMotors.js";
import { groupDifferences } from "../../lib/study/population/groupDifferences.js";
import { oddGroups } from "../../lib/study/population/oddGroups.js";
import { outlyingMotors } from "../../lib/study/population/outlyingMotors.js";
import {
  type Cell,
  constants,
  firstMeasured,
  fleetRandom,
  type Planted,
  type Tails,
  watchedRuns,
} from "./madeFleets.js";

/** Decisions whose false alarms are counted. */
export const decisions = [
  "outlying",
  "odd batch",
  "batches differ",
  "chart",
  "drift",
  "drift, same days",
] as const;
export type Decision = (typeof decisions)[number];

const kinds: readonly (readonly [motors: number, batches: number])[] = [
  [10, 1],
  [10, 3],
  [30, 1],
  [30, 5],
  [30, 10],
  [100, 1],
  [100, 10],
  [100, 33],
  [300, 1],
  [300, 10],
  [300, 100],
  [2000, 1],
  [2000, 20],
  [2000, 400],
];
export const cells: readonly Cell[] = [
  ...kinds.flatMap(([motors, batches]) =>
    (["normal", "t(5)"] as const).map((tails) => ({ motors, batches, tails })),
  ),
  ...(["t(3)", "skewed", "two suppliers"] as const).flatMap((tails) =>
    [30, 100, 300].map((motors): Cell => ({ motors, batches: motors / 10, tails })),
  ),
];

/** Decisions that a cell is counted for: drift knows no batches, so it is counted where there is one, or among tails
 * beyond those that are stated; suppliers make no run. */
const decisionsOf = ({ motors, batches, tails }: Cell): Decision[] =>
  decisions.filter((d) => {
    if (d.startsWith("drift")) return batches === 1 || tails === "t(3)" || tails === "skewed";
    if (d === "outlying") return true;
    if (d === "odd batch") return batches >= 4;
    if (d === "batches differ") return batches >= 2;
    return motors >= 30;
  });

/** Everything with a chance below this is asked for; alarms are counted from the chances. */
const alpha = 0.05;
const least = (list: readonly number[]) => list.reduce((a, b) => Math.min(a, b), 1);

/** The least chance that a decision gives anything in fleet `k`; not a number where it decides nothing. */
export function leastChance(decision: Decision, cell: Cell, seed: number, k: number): number {
  const random = fleetRandom(cell, seed + 1000 * decisions.indexOf(decision), k);
  const several = cell.batches > 1;
  if (decision.startsWith("drift")) {
    const found = driftingMotors(watchedRuns(cell, random, decision !== "drift"), { alpha });
    if (isUndetermined(found)) return Number.NaN;
    return least([...found.motors.map((m) => m.p), ...found.fleet.map((f) => f.p)]);
  }
  // A sound fleet has batches that differ by half of what its motors do, but where the question is whether they differ.
  const fleet = firstMeasured(cell, random, decision === "batches differ" ? 0 : 0.5);
  if (decision === "outlying") {
    const factors: Record<string, string[]> = several ? { batch: fleet.batch } : {};
    const found = outlyingMotors(fleet.columns, fleet.names, { alpha, factors });
    return isUndetermined(found) ? Number.NaN : least(found.outlying.map((o) => o.p));
  }
  if (decision === "odd batch") {
    const found = oddGroups(fleet.columns, fleet.batch, { alpha });
    return isUndetermined(found) ? Number.NaN : least(found.odd.map((o) => o.p));
  }
  if (decision === "batches differ") {
    const columns = Object.fromEntries(
      constants.map((name) => [name, { values: fleet.columns[name].values, unit: "1" }]),
    );
    return least(
      groupDifferences(columns, fleet.batch).flatMap((c) => [c.p, ...c.groups.map((g) => g.chance)]),
    );
  }
  return chartChance(fleet);
}

/** The least chance of the charts of all constants. */
function chartChance(fleet: ReturnType<typeof firstMeasured>): number {
  const chances = Object.values(fleet.columns).flatMap(({ values }) => {
    const chart = dayChart(values, fleet.dates, fleet.batch);
    return isUndetermined(chart) ? [] : [chart.p * constants.length];
  });
  return chances.length === 0 ? Number.NaN : least(chances);
}

const chunk = 50;

interface Count {
  readonly cell: Cell;
  readonly decision: Decision;
  readonly seed: number;
  readonly from: number;
  readonly fleets: number;
  readonly at1: number;
  readonly at5: number;
  readonly milliseconds: number;
}

function countAlarms(decision: Decision, cell: Cell, seed: number, from: number): Count {
  const begun = Date.now();
  let [fleets, at1, at5] = [0, 0, 0];
  for (let k = from; k < from + chunk; k++) {
    const p = leastChance(decision, cell, seed, k);
    if (Number.isNaN(p)) continue;
    fleets++;
    if (p < 0.01) at1++;
    if (p < 0.05) at5++;
  }
  return { cell, decision, seed, from, fleets, at1, at5, milliseconds: Date.now() - begun };
}

/** True when a planted effect is found in fleet `k` at a stated chance of 1 %; `together`: drifts on common days. */
export function isFound(cell: Cell, planted: Planted, seed: number, k: number, together = false): boolean {
  const random = fleetRandom(cell, seed + Math.round(10 * planted.size), k);
  if (planted.what === "drift" || planted.what === "fleet drift") {
    const answer = driftingMotors(watchedRuns(cell, random, together, planted));
    if (isUndetermined(answer)) return false;
    if (planted.what === "drift") return answer.motors.some((m) => m.motor === "m0" && m.constant === "a");
    return answer.fleet.some((f) => f.constant === "a" && f.drifts);
  }
  const fleet = firstMeasured(cell, random, 0.5, planted);
  if (planted.what === "motor") {
    const factors: Record<string, string[]> = cell.batches > 1 ? { batch: fleet.batch } : {};
    const answer = outlyingMotors(fleet.columns, fleet.names, { factors });
    return !isUndetermined(answer) && answer.outlying.some((o) => o.motor === "m0");
  }
  if (planted.what === "batch") {
    const answer = oddGroups(fleet.columns, fleet.batch);
    return !isUndetermined(answer) && answer.odd.some((o) => o.group === "B0" && o.constant === "a");
  }
  const chart = dayChart(fleet.columns.a.values, fleet.dates, fleet.batch, {
    alpha: 0.01 / constants.length,
  });
  return !isUndetermined(chart) && chart.individuals.signals.length + chart.steps.length > 0;
}

type Kinds = readonly (readonly [motors: number, batches: number])[];
const powerCells: readonly {
  readonly what: Planted["what"];
  readonly sizes: readonly number[];
  readonly kinds: Kinds;
  /** Drifts on common days. */
  readonly together?: boolean;
}[] = [
  {
    what: "motor",
    sizes: [4, 6, 8, 10, 12, 16, 20],
    kinds: [
      [10, 1],
      [30, 5],
      [100, 10],
      [300, 100],
      [2000, 20],
    ],
  },
  {
    what: "batch",
    sizes: [1, 2, 3, 4, 6, 8, 12],
    kinds: [
      [30, 10],
      [100, 10],
      [300, 100],
      [2000, 400],
    ],
  },
  {
    what: "drift",
    sizes: [2, 4, 6, 8, 10, 14],
    kinds: [
      [10, 1],
      [30, 1],
      [100, 1],
      [300, 1],
    ],
  },
  {
    what: "fleet drift",
    sizes: [0.25, 0.5, 1, 1.5, 2, 3, 4],
    kinds: [
      [10, 1],
      [30, 1],
      [100, 1],
      [300, 1],
    ],
  },
  {
    what: "drift",
    sizes: [4, 6, 8, 10],
    kinds: [
      [10, 1],
      [30, 1],
      [100, 1],
    ],
    together: true,
  },
  {
    what: "fleet drift",
    sizes: [1, 2, 4],
    kinds: [
      [10, 1],
      [30, 1],
      [100, 1],
    ],
    together: true,
  },
  {
    what: "shift",
    sizes: [0.5, 1, 1.5, 2, 3, 4],
    kinds: [
      [30, 1],
      [100, 1],
      [100, 10],
      [300, 10],
    ],
  },
];

/** Ends of Wilson's interval (1927) of a part, 95 %. */
export function wilson(count: number, n: number): [low: number, high: number] {
  const z = 1.959964;
  const middle = (count + (z * z) / 2) / (n + z * z);
  const half = (z * Math.sqrt((count * (n - count)) / n + (z * z) / 4)) / (n + z * z);
  return [Math.max(0, middle - half), middle + half];
}

interface Found extends Planted {
  readonly cell: Cell;
  readonly seed: number;
  readonly fleets: number;
  readonly found: number;
  readonly together?: boolean;
}

function tables(file: string): string {
  const lines = readFileSync(file, "utf8")
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line) as Count | Found);
  const name = ({ motors, batches, tails }: Cell) => `${motors} | ${batches} | ${tails}`;
  const one = (cell: Cell, decision: Decision) => {
    const mine = lines.filter(
      (l): l is Count => "at1" in l && name(l.cell) === name(cell) && l.decision === decision,
    );
    const sum = (of: (c: Count) => number) => mine.reduce((total, c) => total + of(c), 0);
    const n = sum((c) => c.fleets);
    if (n === 0) return "";
    const [low, high] = wilson(
      sum((c) => c.at1),
      n,
    ).map((v) => (100 * v).toFixed(1));
    const percent = (v: number) => ((100 * v) / n).toFixed(1);
    return `${percent(sum((c) => c.at1))} (${low} to ${high}), ${percent(sum((c) => c.at5))}${n === 1000 ? "" : `, n ${n}`}`;
  };
  const power = powerCells.flatMap(({ what, sizes, kinds: list, together = false }) =>
    list.flatMap(([motors, batches]) =>
      (["normal", "t(5)"] as Tails[]).map((tails) => {
        const cell = { motors, batches, tails };
        const seen = sizes.map((size) => {
          const l = lines.find(
            (x): x is Found =>
              "found" in x &&
              x.what === what &&
              x.size === size &&
              (x.together ?? false) === together &&
              name(x.cell) === name(cell),
          );
          return l === undefined ? "" : `${size}: ${((100 * l.found) / l.fleets).toFixed(0)} %`;
        });
        return `| ${what}${together ? ", same days" : ""} | ${name(cell)} | ${seen.filter(Boolean).join(", ")} |`;
      }),
    ),
  );
  return [
    `| motors | batches | tails | ${decisions.join(" | ")} |`,
    `|---|---|---|${decisions.map(() => "---").join("|")}|`,
    ...cells.map((cell) => `| ${name(cell)} | ${decisions.map((d) => one(cell, d)).join(" | ")} |`),
    "",
    "| planted | motors | batches | tails | size in deviations of a motor: found |",
    "|---|---|---|---|---|",
    ...power,
  ].join("\n");
}

if (process.argv[1]?.endsWith("falseAlarms.ts")) {
  const [, , task, first, second, file, from = "0", to = "999", only = decisions.join(";")] = process.argv;
  const [fleets, seed] = [Number(first), Number(second)];
  const text = existsSync(file ?? "") ? readFileSync(file, "utf8") : "";
  const done = new Set(
    text
      .split("\n")
      .filter(Boolean)
      .map((line) => {
        const l = JSON.parse(line) as Count | Found;
        return JSON.stringify(
          "at1" in l
            ? [l.cell, l.decision, l.seed, l.from]
            : [l.cell, l.what, l.size, l.seed, l.together ?? false],
        );
      }),
  );
  const once = (key: unknown[], make: () => object) => {
    if (!done.has(JSON.stringify(key))) appendFileSync(file, `${JSON.stringify(make())}\n`);
  };
  if (task === "alarms") {
    // Cell after cell: what is drawn for one serves all its fleets.
    for (const cell of cells.slice(Number(from), Number(to) + 1))
      for (const decision of decisionsOf(cell).filter((d) => only.split(";").includes(d)))
        for (let at = 0; at < fleets; at += chunk)
          once([cell, decision, seed, at], () => countAlarms(decision, cell, seed, at));
  } else if (task === "power") {
    for (const { what, sizes, kinds: list, together = false } of powerCells)
      for (const [motors, batches] of list)
        for (const tails of ["normal", "t(5)"] as const)
          for (const size of sizes) {
            const cell = { motors, batches, tails };
            const n = motors >= 2000 ? Math.ceil(fleets / 4) : fleets;
            once([cell, what, size, seed, together], () => {
              let found = 0;
              for (let k = 0; k < n; k++) if (isFound(cell, { what, size }, seed, k, together)) found++;
              return { cell, what, size, seed, fleets: n, found, ...(together ? { together } : {}) };
            });
          }
  } else if (task === "table") console.log(tables(first));
  else console.error("say alarms, power or table");
}
