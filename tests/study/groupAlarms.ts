/**
 * How often lives of groups that do not differ are said to: made-up tables of Weibull lives go through the very
 * function that compares them.
 *
 *   npx tsx tests/study/groupAlarms.ts <tables> <seed> [<least size> <largest size> [late]]
 *
 * prints a line for each number of groups, size and part that still runs; the shape (1, 2 or 3) and whether all are
 * watched to one time or each to a time of its own go round. `late`: units come under observation at times of their
 * own, those of every second group only, or half of all (which goes round as well).
 */
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { compareGroups } from "../../lib/study/life/groupLife.js";
import type { Life } from "../../lib/study/life/lifeData.js";
import { fitLife } from "../../lib/study/life/lifeModel.js";

/** Groups of lives that do not differ. */
export interface GroupedKind {
  readonly groups: number;
  /** Units of each. */
  readonly size: number;
  readonly shape: number;
  /** Part that still runs. */
  readonly running: number;
  /** Each unit is watched to a time of its own. */
  readonly scattered: boolean;
  /** Which units come under observation after some use: those of every second group, or every second of each. */
  readonly late?: "groups" | "units";
}

/** Lives whose characteristic life is 1000. */
export function groupedLives(kind: GroupedKind, uniform: () => number): Life[] {
  const { groups, size, shape, running, scattered, late } = kind;
  const life = () => 1000 * (-Math.log(uniform())) ** (1 / shape);
  const common = running > 0 ? 1000 * (-Math.log(running)) ** (1 / shape) : Infinity;
  return Array.from({ length: groups * size }, (_, i): Life => {
    const place = late === "units" ? Math.floor(i / groups) : i % groups;
    const from = late !== undefined && place % 2 === 1 ? Math.min(600, common / 2) * uniform() : 0;
    let time = life();
    // Units that fail before they come under observation are not in the table.
    while (time <= from) time = life();
    // A time of watching with the distribution of the lives themselves, so much shorter that the part is right (of
    // units that are watched from their start).
    const end = scattered && running > 0 ? from + life() * (1 / running - 1) ** (1 / shape) : common;
    const group = { group: `G${i % groups}`, ...(from > 0 ? { from } : {}) };
    return time > end ? { after: end, by: Infinity, ...group } : { after: time, by: time, ...group };
  });
}

/** The least chance of all groups, adjusted; not a number where none can be compared. */
export function leastGroupChance(lives: readonly Life[]): number {
  const groups = [...new Set(lives.map((life) => life.group as string))].sort();
  const found = compareGroups(
    lives,
    groups,
    (among, odd, intervals, level = 0.95) =>
      fitLife("weibull", among, {
        level,
        intervals: intervals === "last" ? "none" : intervals,
        covariates: (life) => odd.map((g) => (life.group === g ? 1 : 0)),
        names: odd,
      }),
    { level: 0.95, covariates: () => [] },
  );
  const chances = [...found.groups, ...found.withoutFailure].map((g) => g.p).filter((p) => !Number.isNaN(p));
  return chances.length === 0 ? Number.NaN : Math.min(...chances);
}

if (process.argv[1]?.endsWith("groupAlarms.ts")) {
  const [tables, seed, least = 5, largest = 100] = process.argv.slice(2, 6).map(Number);
  const late = process.argv[6] === "late";
  console.log("| groups | units of each | still running | tables | below 1 % | below 5 % | below 20 % |");
  console.log("|---|---|---|---|---|---|---|");
  for (const groups of [2, 4])
    for (const size of [5, 10, 30, 100].filter((n) => n >= least && n <= largest))
      for (const running of [0, 0.4, 0.8]) {
        const random = seededRandom(seed + 1000 * groups + 10 * size + 100 * running);
        let n = 0;
        const below = [0, 0, 0];
        for (let k = 0; k < tables; k++) {
          const plain = { groups, size, running, shape: 1 + (k % 3), scattered: k % 2 === 1 };
          const kind: GroupedKind = late ? { ...plain, late: k % 4 < 2 ? "groups" : "units" } : plain;
          const p = leastGroupChance(groupedLives(kind, () => random.uniform() + 2 ** -33));
          if (Number.isNaN(p)) continue;
          n++;
          [0.01, 0.05, 0.2].forEach((alpha, i) => {
            if (p < alpha) below[i]++;
          });
        }
        const percent = below.map((count) => ((100 * count) / n).toFixed(1)).join(" | ");
        console.log(`| ${groups} | ${size} | ${100 * running} % | ${n} | ${percent} |`);
      }
}
