import { expect, test } from "vitest";
import { kaplanMeier, timeOfShare } from "../../lib/study/life/kaplanMeier.js";
import { checkLives, isUndetermined } from "../../lib/study/life/lifeData.js";
import { fitLife } from "../../lib/study/life/lifeModel.js";
import { turnbull } from "../../lib/study/life/turnbull.js";
import { judgeShape } from "../../lib/study/population/normality.js";
import { outlyingMotors } from "../../lib/study/population/outlyingMotors.js";
import { varianceComponents } from "../../lib/study/population/varianceComponents.js";
import { seeded } from "./seeded.js";

test("the profile interval of a balanced one-way split lies where the closed likelihood has dropped by chi-square", () => {
  const random = seeded(3);
  const [a, n] = [12, 4];
  const values: number[] = [];
  const motor: string[] = [];
  for (let i = 0; i < a; i++) {
    const shift = random.normal();
    for (let k = 0; k < n; k++) {
      values.push(5 + shift + 0.5 * random.normal());
      motor.push(`m${i}`);
    }
  }
  const found = varianceComponents(values, { motor });
  const means = Array.from(
    { length: a },
    (_, i) => values.slice(i * n, i * n + n).reduce((s, v) => s + v, 0) / n,
  );
  const grand = means.reduce((s, v) => s + v, 0) / a;
  const between = n * means.reduce((s, v) => s + (v - grand) ** 2, 0);
  const within = values.reduce((s, v, i) => s + (v - means[Math.floor(i / n)]) ** 2, 0);
  // Closed form of the balanced case: two independent chi-squares.
  const closed = (sm: number, se: number) => {
    const lambda = se ** 2 + n * sm ** 2;
    return a * (n - 1) * Math.log(se ** 2) + within / se ** 2 + (a - 1) * Math.log(lambda) + between / lambda;
  };
  const se = Math.sqrt(within / (a * (n - 1)));
  const sm = Math.sqrt((between / (a - 1) - se ** 2) / n);
  expect(found.deviations.motor.value).toBeCloseTo(sm, 5);
  expect(found.deviations.repeat.value).toBeCloseTo(se, 5);
  const best = closed(sm, se);
  const held = (s: number) => {
    let least = Infinity;
    for (let e = 0.5 * se; e < 2 * se; e += 0.0005 * se) least = Math.min(least, closed(s, e));
    return least - best;
  };
  for (const end of [found.deviations.motor.low, found.deviations.motor.high])
    expect(held(end)).toBeCloseTo(3.8415, 2);
});

test("the interval of the Weibull shape covers the truth about as often as it claims (100 seeded samples)", () => {
  const random = seeded(11);
  let covered = 0;
  for (let k = 0; k < 100; k++) {
    const lives = Array.from({ length: 30 }, () => {
      const t = 1000 * (-Math.log(random.uniform())) ** (1 / 1.8);
      return t < 900 ? { after: t, by: t } : { after: 900, by: Infinity };
    });
    const model = fitLife("weibull", lives);
    if (isUndetermined(model)) throw new Error(model.undetermined);
    if (model.shape!.low <= 1.8 && 1.8 <= model.shape!.high) covered++;
  }
  // 95 % of 100 with three binomial deviations either way.
  expect(covered).toBeGreaterThan(88);
  expect(covered).toBeLessThanOrEqual(100);
});

test("shape is judged, not assumed", () => {
  const random = seeded(5);
  const draw = (n: number, f: () => number) => Array.from({ length: n }, f);
  expect(judgeShape(draw(200, () => 100 + random.normal())).shape).toMatch(/normal|either/);
  expect(judgeShape(draw(400, () => Math.exp(0.8 * random.normal()))).shape).toBe("log-normal");
  expect(judgeShape(draw(400, () => (random.uniform() < 0.5 ? 1 : 9) + 0.1 * random.normal())).shape).toBe(
    "neither",
  );
  expect(judgeShape([1, 2, 3]).shape).toBe("undetermined");
});

test("a motor that is odd only in combination is found, with the pair named", () => {
  const random = seeded(9);
  const kv: number[] = [];
  const torque: number[] = [];
  for (let i = 0; i < 300; i++) {
    const strength = 1 + 0.03 * random.normal();
    kv.push(100 / strength + 0.1 * random.normal());
    torque.push(0.08 * strength + 0.00008 * random.normal());
  }
  // Both constants 1.5 deviations up: each common alone, impossible together.
  kv[17] = 104.5;
  torque[17] = 0.0836;
  kv[40] = 150;
  const motors = kv.map((_, i) => `m${i}`);
  const found = outlyingMotors(
    { kv: { values: kv, unit: "{rev}/min/V" }, torque: { values: torque } },
    motors,
  );
  if (isUndetermined(found)) throw new Error(found.undetermined);
  expect(found.outlying.map((o) => o.motor).sort()).toEqual(["m17", "m40"]);
  expect(found.outlying.find((o) => o.motor === "m17")!.reason).toMatch(
    /no constant is far off alone.*high for its/,
  );
  expect(found.outlying.find((o) => o.motor === "m40")!.reason).toMatch(/^kv high \(150 against/);
});

test("without censoring between looks Turnbull and Kaplan-Meier are the same curve", () => {
  const random = seeded(2);
  const lives = Array.from({ length: 60 }, () => {
    const t = Math.ceil(100 * random.uniform());
    return random.uniform() < 0.3 ? { after: t, by: Infinity } : { after: t, by: t };
  });
  const curve = kaplanMeier(lives).steps.filter((s) => s.failed > 0);
  const other = turnbull(lives).stretches.filter((s) => s.to !== Infinity);
  expect(other.map((s) => s.to)).toEqual(curve.map((s) => s.time));
  other.forEach((s, i) => {
    expect(s.survival).toBeCloseTo(curve[i].survival, 6);
  });
});

test("reading a share off a curve gives infinity where the curve does not come down", () => {
  const curve = kaplanMeier([
    { after: 10, by: 10 },
    { after: 20, by: 20 },
    { after: 30, by: Infinity, count: 8 },
  ]);
  expect(timeOfShare(curve, 0.1).value).toBe(15);
  expect(timeOfShare(curve, 0.5).value).toBe(Infinity);
});

test("impossible lives are named by line", () => {
  expect(() =>
    checkLives([
      { after: 1, by: 2 },
      { after: 5, by: 3 },
    ]),
  ).toThrow('life 2: "by" (3) lies before "after" (5)');
  expect(() => checkLives([{ after: -1, by: 2 }])).toThrow(/life 1: "after" must be 0 or more/);
});
