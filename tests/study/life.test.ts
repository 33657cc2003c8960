import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Io } from "../../lib/cli/io.js";
import { run } from "../../lib/cli/study.js";
import { goodnessOfFit } from "../../lib/study/life/goodnessOfFit.js";
import { isUndetermined, type Life } from "../../lib/study/life/lifeData.js";
import { fitLife } from "../../lib/study/life/lifeModel.js";
import { lifeSummary } from "../../lib/study/life/lifeSummary.js";
import { lifeTable, readLifeTable } from "../../lib/study/life/readLifeTable.js";
import { planTest, quantileVariance } from "../../lib/study/life/testPlan.js";
import { scratch } from "./files.js";
import { madeLives } from "./lifeChecks.js";
import { seeded } from "./seeded.js";

let home: string;
beforeAll(() => {
  home = scratch();
  mkdirSync(home, { recursive: true });
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

async function told(args: string[]): Promise<{ status: number; out: string; err: string }> {
  let [out, err] = ["", ""];
  const io = {
    out: (t: string) => {
      out += t;
    },
    err: (t: string) => {
      err += t;
    },
    color: false,
    columns: 100,
    live: false,
  } as unknown as Io;
  const status = await run(args, io);
  return { status, out: out.replace(/\s+/g, " "), err };
}

const lives = (units: number, seed: number, of: (u: number, i: number) => Life) => {
  const random = seeded(seed);
  return Array.from({ length: units }, (_, i) => of(random.uniform(), i));
};
const weibull = (u: number, shape: number, scale: number) => scale * (-Math.log(u)) ** (1 / shape);

test("two groups make one comparison: its p is the likelihood-ratio p, not twice it", () => {
  // With fifty failures of each the gain has the distribution of large samples.
  const two = lives(100, 3, (u, i) => {
    const t = weibull(u, 2, i % 2 === 0 ? 1000 : 1250);
    return { after: t, by: t, group: i % 2 === 0 ? "A" : "B" };
  });
  const { groups } = lifeSummary(two);
  const [plain, withB] = [
    fitLife("weibull", two, { intervals: "none" }),
    fitLife("weibull", two, { intervals: "none", covariates: (l) => [l.group === "B" ? 1 : 0] }),
  ];
  if (isUndetermined(plain) || isUndetermined(withB)) throw new Error("no fit");
  expect(groups).toHaveLength(2);
  // Chi-square with one degree of freedom at 2 times the gain, by its relation to the normal distribution.
  const gain = 2 * (withB.logLikelihood - plain.logLikelihood);
  expect(groups[0].p).toBeCloseTo(groups[1].p, 9);
  expect(groups[0].p).toBeGreaterThan(0.0001);
  const normalTail = (x: number) => {
    let sum = 0;
    for (let k = 0; k < 200_000; k++) {
      const z = x + (k + 0.5) * 5e-5;
      sum += Math.exp(-0.5 * z * z) * 5e-5;
    }
    return sum / Math.sqrt(2 * Math.PI);
  };
  expect(groups[0].p).toBeCloseTo(2 * normalTail(Math.sqrt(gain)), 5);
});

test("a group without a failure is named with the bound of its life; with more use the bound rises", () => {
  const rest = lives(40, 5, (u) => {
    const t = weibull(u, 2, 1000);
    return { after: t, by: t, group: "A" };
  });
  const bound = (use: number) => {
    const idle = Array.from({ length: 10 }, (): Life => ({ after: use, by: Infinity, group: "B" }));
    const [found] = lifeSummary([...rest, ...idle]).withoutFailure;
    expect(found).toMatchObject({ group: "B", units: 10, use: 10 * use });
    if (isUndetermined(found.ratio)) throw new Error(found.ratio.undetermined);
    return { low: found.ratio.low, expected: found.expected };
  };
  const [short, long] = [bound(300), bound(1500)];
  expect(long.low).toBeGreaterThan(short.low);
  // The small-sample factors of the two differ.
  expect(long.low / short.low).toBeGreaterThan(4);
  expect(long.low / short.low).toBeLessThan(6);
  // With the others' life known exactly, -2 log likelihood ratio = 2 sum (t / (ratio scale))^shape = 2.706 (one-sided
  // 95 %): the closed form.
  const closed = (use: number) => (use / 1000) * (10 / 1.353) ** (1 / 2);
  expect(long.low / closed(1500)).toBeGreaterThan(0.7);
  expect(long.low / closed(1500)).toBeLessThan(1.2);
});

test("zero failures are answered with a known shape; without one the answer says what helps", async () => {
  const path = join(home, "running.csv");
  writeFileSync(path, "motor,after [d],by [d],count\na,1000,,20\n");
  const without = await told(["life", path]);
  expect(without.status).toBe(0);
  expect(without.out).toContain("no model: 0 failures among 20 units");
  expect(without.out).toContain("--shape");
  // 20 units to 1000 without failure, shape 2, 90 %: 956.6 (closed form of `lifeWithKnownShape`).
  const withShape = await told(["life", path, "--shape", "2", "--confidence", "90", "--failed", "10"]);
  expect(withShape.out).toContain("B10 at least 956.6 d");
});

test("competing causes: each by itself, shares of both add up to all that failed", async () => {
  const text = ["after [h],by [h],cause"];
  for (const { after, by } of madeLives(80, { early: false, censored: true, looks: 0 }, seeded(9).uniform))
    text.push(
      `${after},${by === Infinity ? "" : by},${by === Infinity ? "" : after < 500 ? "bearing" : "winding"}`,
    );
  const table = await lifeTable(text.join("\n"), "causes.csv");
  const { causes, curve, failures } = lifeSummary(table.lives, { unit: "h" });
  expect(causes.map((c) => c.cause)).toEqual(["bearing", "winding"]);
  expect(causes.reduce((sum, c) => sum + c.failures, 0)).toBe(failures);
  if (isUndetermined(curve) || curve.method === "Turnbull") throw new Error("no curve");
  const last = causes.map((c) =>
    isUndetermined(c.incidence) ? Number.NaN : c.incidence[c.incidence.length - 1].share,
  );
  const survival = [...(curve as { steps: readonly { failed: number; survival: number }[] }).steps]
    .filter((s) => s.failed > 0)
    .pop()!.survival;
  expect(last[0] + last[1]).toBeCloseTo(1 - survival, 10);
});

test("late entry: given that a unit was alive; a fit that ignores it is biased, the one that knows is not", () => {
  const all = lives(3000, 11, (u) => {
    const t = weibull(u, 2, 1000);
    return { after: t, by: t };
  });
  const entered = all.flatMap((life, i): Life[] => {
    const from = 100 + (i % 10) * 90;
    return life.after > from ? [{ ...life, from }] : [];
  });
  const knows = fitLife("weibull", entered);
  const ignores = fitLife(
    "weibull",
    entered.map(({ from: _, ...life }) => life),
  );
  if (isUndetermined(knows) || isUndetermined(ignores)) throw new Error("no fit");
  expect(knows.scale!.low).toBeLessThan(1000);
  expect(knows.scale!.high).toBeGreaterThan(1000);
  expect(knows.shape!.low).toBeLessThan(2);
  expect(knows.shape!.high).toBeGreaterThan(2);
  expect(ignores.scale!.low).toBeGreaterThan(1000);
});

test("goodness of fit: sound lives pass, two modes are noticed and named", () => {
  const sound = madeLives(150, { early: false, censored: true, looks: 0 }, seeded(2).uniform);
  const model = fitLife("weibull", sound);
  if (isUndetermined(model)) throw new Error(model.undetermined);
  const fit = goodnessOfFit(sound, model);
  if (isUndetermined(fit)) throw new Error(fit.undetermined);
  expect(fit.p).toBeGreaterThan(0.01);
  const total = fit.stretches.reduce((sum, s) => sum + s.expected, 0);
  expect(total).toBeCloseTo(model.failures, 3);
  const both = lifeSummary(madeLives(150, { early: true, censored: false, looks: 0 }, seeded(2).uniform));
  if (isUndetermined(both.fit) || isUndetermined(both.modes)) throw new Error("not judged");
  expect(both.fit.p).toBeLessThan(0.01);
  expect(both.modes.noticed).toBe(true);
  expect(both.modes.modes[0].share).toBeGreaterThan(0.2);
  expect(both.modes.modes[0].share).toBeLessThan(0.5);
});

test("the share still running stands beside the model's: ten units that fail one after the other", async () => {
  const path = join(home, "ten.csv");
  const rows = Array.from({ length: 10 }, (_, i) => `${100 * (i + 1)},${100 * (i + 1)}`);
  writeFileSync(path, `after [h],by [h]\n${rows.join("\n")}\n`);
  const { out } = await told(["life", path]);
  // Without censoring Kaplan and Meier's estimate is the part that is left: 7, 5 and 2 of 10.
  const found =
    /after 300 h 70 % by Kaplan-Meier and (\S+) % by the model; after 500 h 50 % and (\S+) %; after 800 h 20 % and (\S+) %/;
  const model = found.exec(out)?.slice(1).map(Number) ?? [];
  expect(model).toHaveLength(3);
  [70, 50, 20].forEach((part, i) => {
    expect(Math.abs(model[i] - part)).toBeLessThan(10);
  });
});

test("a blank temperature leaves its unit out and says so; kelvin and Celsius, hours and days give the same answer", async () => {
  const rows = lives(60, 21, (u, i) => {
    const celsius = [40, 60, 80][i % 3];
    const t = weibull(u, 2, 1000 * Math.exp((0.5 / 8.617e-5) * (1 / (celsius + 273.15) - 1 / 333.15)));
    return { after: t, by: t, temperature: celsius };
  });
  const write = (head: string, of: (l: Life) => string) =>
    lifeTable([head, ...rows.map(of)].join("\n"), "heat.csv");
  const cel = await write("after [h],by [h],temperature [Cel]", (l) => `${l.after},${l.by},${l.temperature}`);
  const kel = await write(
    "after [d],by [h],temperature [K]",
    (l) => `${l.after / 24},${l.by},${l.temperature! + 273.15}`,
  );
  const [a, b] = [cel, kel].map(({ lives: list }) => lifeSummary(list, { referenceTemperature: 60 }));
  expect(kel.unit).toBe("d");
  expect(b.b10!.value * 24).toBeCloseTo(a.b10!.value, 3);
  expect(b.activationEnergy!.value).toBeCloseTo(a.activationEnergy!.value, 6);
  const blank = lifeSummary(cel.lives.map((l, i) => (i === 0 ? { after: l.after, by: l.by } : l)));
  expect(blank.withoutTemperature).toBe(1);
  expect(blank.activationEnergy).toBeDefined();
  await expect(
    write("after [h],by [h],temperature", (l) => `${l.after},${l.by},${l.temperature! + 273.15}`),
  ).rejects.toThrow("names no unit");
  await expect(lifeTable("after [h],by [cycles]\n1,2\n", "mixed.csv")).rejects.toThrow(
    "cannot be counted in",
  );
});

test("a table with semicolons and decimal commas, in UTF-16, is the same table; use is not counted in kelvin", async () => {
  const path = join(home, "comma.csv");
  writeFileSync(path, Buffer.from("\ufeffmotor;after [h];by [h]\na;10,5;10,5\nb;20;\n", "utf16le"));
  const { lives: read, unit } = await readLifeTable(path);
  expect(read).toEqual([
    { motor: "a", after: 10.5, by: 10.5 },
    { motor: "b", after: 20, by: Number.POSITIVE_INFINITY },
  ]);
  expect(unit).toBe("h");
  await expect(lifeTable("after [K],by\n1,1\n", "k.csv")).rejects.toThrow('"K" is a unit of temperature');
});

test("temperatures that the model cannot hold are said to have no part in it", async () => {
  const one: Life[] = [1, 2, 4, 7].map((t) => ({ after: t, by: t, temperature: 60 }));
  const untouched: Life = { after: 9, by: Number.POSITIVE_INFINITY, temperature: 80 };
  expect(lifeSummary(one).temperaturesUnused).toBe(false);
  expect(lifeSummary([...one, untouched]).temperaturesUnused).toBe(true);
  expect(lifeSummary(one, { referenceTemperature: 40 }).temperaturesUnused).toBe(true);
  const path = join(home, "one.csv");
  writeFileSync(
    path,
    `after [h],by [h],temperature [Cel]\n${one.map((l) => `${l.after},${l.by},60`).join("\n")}\n`,
  );
  const { out } = await told(["life", path, "--at", "40C"]);
  expect(out).toContain("temperature has no part in the model");
});

test("the answers hold at a temperature of use from the shell, and say when it lies beyond what was tried", async () => {
  const path = join(home, "heat.csv");
  writeFileSync(
    path,
    `after [h],by [h],temperature [Cel]\n${lives(60, 8, (u, i) => {
      const t = weibull(u, 2, [4000, 2000, 1000][i % 3]);
      return { after: t, by: t, temperature: [60, 80, 100][i % 3] };
    })
      .map((l) => `${l.after},${l.by},${l.temperature}`)
      .join("\n")}\n`,
  );
  const [warm, kelvin] = [
    await told(["life", path, "--at", "40C"]),
    await told(["life", path, "--at", "313.15K"]),
  ];
  expect(warm.out).toContain("B10 at 40 degrees Celsius");
  expect(warm.out).toContain("lies outside the temperatures at which units failed");
  expect(kelvin.out).toBe(warm.out);
  await expect(told(["life", path, "--at", "40"])).rejects.toThrow("with its unit");
  await expect(told(["life", path, "--failed", "0"])).rejects.toThrow("in percent");
});

test("plans: published demonstrations and variances", async () => {
  // Success-run relation ln(1 - C) / ln R: 22 units for 90 % at 90 %, 59 for 95 % at 95 % (printed in every handbook of
  // reliability).
  expect(planTest({ reliability: 0.9, confidence: 0.9 }).demonstration).toBe(22);
  expect(planTest({ reliability: 0.95, confidence: 0.95 }).demonstration).toBe(59);
  // 11 units, shape 2: each must run the square root of 22 / 11 missions, ln(0.1) / (11 ln 0.9) exactly.
  const { timeEach } = planTest({ reliability: 0.9, confidence: 0.9, units: 11, shape: 2, mission: 1000 });
  expect(timeEach).toBeCloseTo(1000 * Math.sqrt(Math.log(0.1) / (11 * Math.log(0.9))), 0);
  // Variance factors of the smallest extreme value, complete samples: 1.1087 for the location (Meeker and Escobar 1998,
  // from memory).
  expect(quantileVariance(1 - Math.exp(-1), 1)).toBeCloseTo(1.1087, 3);
  const { status, out } = await told([
    "plan",
    "--reliability",
    "90",
    "--energy",
    "0.7",
    "--use",
    "40C",
    "--test",
    "80C",
  ]);
  expect(status).toBe(0);
  // exp(0.7 / k (1 / 313.15 - 1 / 353.15)) = 18.9.
  expect(out).toContain("18.9 times as fast");
  await expect(told(["plan", "--reliability", "90", "--energy", "0.7"])).rejects.toThrow("together");
  const alone = await told(["plan", "--energy", "0.7", "--use", "40C", "--test", "80C"]);
  expect([alone.status, alone.out.includes("18.9 times as fast")]).toEqual([0, true]);
  await expect(told(["plan"])).rejects.toThrow("--energy");
  await expect(told(["plan", "--reliability", "90", "--units", "2.5"])).rejects.toThrow("whole number");
  await expect(told(["plan", "--precision", "2", "--units", "5"])).rejects.toThrow(
    "--units needs --reliability",
  );
  expect((await told(["plan", "--reliability", "90", "--units", "10"])).out).toContain(
    "only with a Weibull shape",
  );
  const few = await told(["plan", "--reliability", "90", "--units", "2", "--allowed", "2", "--shape", "2"]);
  expect(few.out).toContain("at least 3");
});

test("a life table that cannot be read says why and what to do; causes differ by more than capitals", async () => {
  await expect(lifeTable(" \n", "pasted")).rejects.toThrow(
    'pasted: it is empty; a life table needs the columns "after"',
  );
  await expect(readLifeTable("/nowhere/life.csv")).rejects.toThrow(
    "/nowhere/life.csv: there is no such file",
  );
  await expect(lifeTable("after [h],by [d]\n200,8\n", "pasted")).rejects.toThrow("(both in h)");
  const { lives } = await lifeTable("after,by,cause\n1,1,Bearing\n2,2,bearing \n3,3,winding\n", "pasted");
  expect(lives.map((life) => life.cause)).toEqual(["Bearing", "Bearing", "winding"]);
});

test("a use temperature below zero and in Fahrenheit; a confidence given as a fraction is asked for in percent", async () => {
  const { lifeOptionsOf, withNegatives } = await import("../../lib/cli/studyLife.js");
  expect(withNegatives(["life.csv", "--at", "-10C", "--json"])).toEqual(["life.csv", "--at=-10C", "--json"]);
  expect(lifeOptionsOf({ at: "-10C" }).referenceTemperature).toBe(-10);
  expect(lifeOptionsOf({ at: "104F" }).referenceTemperature).toBeCloseTo(40, 9);
  expect(() => lifeOptionsOf({ confidence: "0.9" })).toThrow("in percent, 50 or more");
});
