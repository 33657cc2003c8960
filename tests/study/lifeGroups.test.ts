import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Io } from "../../lib/cli/io.js";
import { run } from "../../lib/cli/study.js";
import { isUndetermined, type Life } from "../../lib/study/life/lifeData.js";
import { fitLife } from "../../lib/study/life/lifeModel.js";
import { lifeSummary } from "../../lib/study/life/lifeSummary.js";
import { lifeTable } from "../../lib/study/life/readLifeTable.js";
import { scratch } from "./files.js";
import { seeded } from "./seeded.js";

let home: string;
beforeAll(() => {
  home = scratch();
  mkdirSync(home, { recursive: true });
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

async function told(table: string, ...options: string[]): Promise<string> {
  const path = join(home, "life.csv");
  writeFileSync(path, table);
  let text = "";
  const add = (t: string) => {
    text += t;
  };
  const io = { out: add, err: add, color: false, columns: 100, live: false } as unknown as Io;
  await run(["life", path, ...options], io);
  return text.replace(/\s+/g, " ");
}

/** Lives of groups with Weibull shape 2, watched until 900. */
const grouped = (scales: Readonly<Record<string, number>>, each: number, seed: number): Life[] => {
  const random = seeded(seed);
  return Object.entries(scales).flatMap(([group, scale]) =>
    Array.from({ length: each }, (): Life => {
      const time = scale * (-Math.log(random.uniform())) ** 0.5;
      return time > 900 ? { after: 900, by: Infinity, group } : { after: time, by: time, group };
    }),
  );
};

/** Twice what a life of its own of group B gains in log likelihood. */
function gainOfGroups(lives: readonly Life[]): number {
  const [plain, own] = [[], ["B"]].map((names) =>
    fitLife("weibull", lives, {
      intervals: "none",
      covariates: (l) => names.map((name) => (l.group === name ? 1 : 0)),
    }),
  );
  if (isUndetermined(plain) || isUndetermined(own)) throw new Error("no fit");
  return 2 * (own.logLikelihood - plain.logLikelihood);
}

test("a group that lives on makes none of the others look short-lived", () => {
  // A and B live alike; nothing of C fails. Against B and C together A would live half as long.
  for (const seed of [1, 2, 3]) {
    const s = lifeSummary(grouped({ A: 1000, B: 1000, C: 1e6 }, 25, seed));
    expect(s.differing).toEqual(["C"]);
    expect(s.withoutFailure.map((g) => g.group)).toEqual(["C"]);
    expect(s.withoutFailure[0].p).toBeLessThan(0.001);
    // What is said of the others is what the table without C says.
    const alone = lifeSummary(grouped({ A: 1000, B: 1000, C: 1e6 }, 25, seed).filter((l) => l.group !== "C"));
    expect(s.b10?.value).toBeCloseTo(alone.b10?.value as number, 6);
    const [a, b] = [s.groups.find((g) => g.group === "A"), alone.groups.find((g) => g.group === "A")];
    expect(a?.ratio.value).toBeCloseTo(b?.ratio.value as number, 4);
    // Those of C that run on count among all units.
    expect(s.expected?.(900)).toBeCloseTo((2 * (alone.expected?.(900) as number) + 1) / 3, 6);
  }
});

test("of three groups of which one differs, the other two are held against each other", () => {
  const lives = grouped({ A: 1000, B: 1000, C: 250 }, 40, 11);
  const s = lifeSummary(lives);
  expect(s.differing).toEqual(["C"]);
  const b = s.groups.find((g) => g.group === "B");
  // The likelihood ratio of B beside C by fits of their own, Holm's factor of two of three left.
  const withC = fitLife("weibull", lives, {
    intervals: "none",
    covariates: (l) => [l.group === "C" ? 1 : 0],
  });
  const withBoth = fitLife("weibull", lives, {
    intervals: "none",
    covariates: (l) => [l.group === "C" ? 1 : 0, l.group === "B" ? 1 : 0],
  });
  if (isUndetermined(withC) || isUndetermined(withBoth)) throw new Error("no fit");
  expect(Math.log(b?.ratio.value as number)).toBeCloseTo(withBoth.coefficients[2].value, 4);
  expect(b?.p).toBeGreaterThan(0.05);
});

test("two small groups are held against the exact distribution of their likelihood ratio", () => {
  // The likelihood ratio of failures alone has one distribution, whatever scale and shape are: drawn here.
  const random = seeded(41);
  const gains = Array.from({ length: 2000 }, () =>
    gainOfGroups(
      Array.from({ length: 10 }, (_, i): Life => {
        const time = -Math.log(random.uniform());
        return { after: time, by: time, group: i < 5 ? "A" : "B" };
      }),
    ),
  );
  const two = [60, 110, 160, 210, 260].flatMap((t, i): Life[] => [
    { after: t, by: t, group: "A" },
    { after: 2.2 * t + i, by: 2.2 * t + i, group: "B" },
  ]);
  const gain = gainOfGroups(two);
  const share = gains.filter((one) => one >= gain).length / gains.length;
  const [{ p }] = lifeSummary(two).groups;
  expect(share).toBeGreaterThan(0.02);
  // Chance of 2,000 draws (three deviations), and of the factor (a twelfth of it).
  expect(Math.abs(p - share)).toBeLessThan(3 * Math.sqrt(share / gains.length) + share / 12);
});

test("competing causes by group: the group that differs in one cause is told of that one alone", () => {
  const random = seeded(51);
  const lives = Array.from({ length: 150 }, (_, i): Life => {
    const group = ["A", "B", "C"][i % 3];
    const bearing = (group === "B" ? 350 : 900) * (-Math.log(random.uniform())) ** 0.5;
    const winding = -1500 * Math.log(random.uniform());
    const [time, cause] = bearing < winding ? [bearing, "bearing"] : [winding, "winding"];
    return time > 1000 ? { after: 1000, by: Infinity, group } : { after: time, by: time, group, cause };
  });
  const [bearing, winding] = lifeSummary(lives).causes;
  expect(bearing.groups.differing).toEqual(["B"]);
  expect(winding.groups.differing).toEqual([]);
  const ratio = bearing.groups.groups.find((g) => g.group === "B")?.ratio;
  expect(ratio?.low).toBeLessThan(350 / 900);
  expect(ratio?.high).toBeGreaterThan(350 / 900);
  // The life of the others: the bearing's without B, by the times of A and C alone but for the common shape.
  expect(bearing.lives[1].low).toBeLessThan(900 * Math.log(2) ** 0.5);
  expect(bearing.lives[1].high).toBeGreaterThan(900 * Math.log(2) ** 0.5);
  // Each group's own share is that of its own table.
  for (const own of bearing.byGroup) {
    const alone = lifeSummary(lives.filter((l) => l.group === own.group)).causes[0];
    expect(own.failures).toBe(alone.failures);
    expect(own.incidence).toEqual(alone.incidence);
    expect(alone.byGroup).toEqual([]);
  }
});

test("failures expected of a group are the cumulative hazard that the others have shown", () => {
  const rest = grouped({ A: 1000 }, 60, 21);
  const idle = Array.from({ length: 10 }, (): Life => ({ after: 700, by: Infinity, group: "B" }));
  const [found] = lifeSummary([...rest, ...idle]).withoutFailure;
  const model = fitLife("weibull", rest, { intervals: "none" });
  if (isUndetermined(model)) throw new Error(model.undetermined);
  const [scale, shape] = [Math.exp(model.coefficients[0].value), 1 / model.sigma.value];
  expect(found.expected).toBeCloseTo(10 * (700 / scale) ** shape, 8);
});

test("where the lives leave the distribution open, the lives by the other one stand beside", async () => {
  const s = lifeSummary(grouped({ A: 1000 }, 15, 31));
  if (isUndetermined(s.better)) throw new Error(s.better.undetermined);
  expect(s.better.probability).toBeCloseTo(1 / (1 + Math.exp(-s.better.by / 2)), 12);
  expect(s.better.probability).toBeLessThan(0.95);
  expect(s.otherwise).toHaveLength(2);
  const text = await told("after [h],by [h]\n100,100\n210,210\n300,300\n400,\n");
  expect(text).toContain("the lives cannot tell");
  expect(text).toMatch(/B10: [\d.]+ \([\d.]+ to [\d.]+\) h; by (Weibull|log-normal) /);
});

test("what a table holds that changes how it counts is said", async () => {
  const text = await told(
    "motor,cause,from,after,by\nM1,wear,0,100,100\nM1,wear,0,200,200\nM2,wear,50,300,\nM3,wear,0,150,150\n",
  );
  expect(text).toContain("1 motor with several lines (M1): each line counts as a unit of its own");
  expect(text).toContain("1 unit still running has a cause, which counts for nothing");
  expect(text).toContain('1 unit came under observation late (column "from") and counts from then on');
  expect(text).toContain("the headings name no unit of use");
  expect(text.match(/headings name no unit/g)).toHaveLength(1);
});

test("a use temperature without failures is not passed over, one below absolute zero is refused", async () => {
  const running = "after [h],by [h],temperature [Cel]\n1000,,40\n1200,,60\n";
  expect(await told(running, "--at", "30C")).toContain(
    "temperatures (--at too) count for nothing without a model",
  );
  await expect(lifeTable("after [h],by [h],temperature [Cel]\n1,1,20\n2,2,-300\n", "t.csv")).rejects.toThrow(
    /t\.csv, line 3: temperature -300 \(degrees Celsius\) lies below absolute zero/,
  );
  await expect(lifeTable("hours,failed\n100,1\n", "t.csv")).rejects.toThrow(
    /after \[h\] 700 and by \[h\] 700/,
  );
});

test("hotter units that live longer are remarked", async () => {
  const rows = Array.from({ length: 20 }, (_, i) => `${100 + i},${100 + i},20\n${400 + i},${400 + i},80`);
  const text = await told(`after [h],by [h],temperature [Cel]\n${rows.join("\n")}\n`);
  expect(text).toContain("below zero: the hotter units lived longer");
});

test("a unit without a temperature is named where the others are too few for a model", async () => {
  const text = await told(
    "motor,temperature [Cel],after [h],by [h]\nA,,100,100\nB,40,120,120\nC,60,200,200\nD,60,300,\n",
  );
  expect(text).toContain("no model: 2 failures among 3 units");
  expect(text).toContain("1 unit without a temperature left out of the model; fill the column in to use it");
});
