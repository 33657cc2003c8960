import { expect, test } from "vitest";
import { causeLives } from "../../../lib/study/life/causeLives.js";
import { kaplanMeier } from "../../../lib/study/life/kaplanMeier.js";
import { isUndetermined, type Life } from "../../../lib/study/life/lifeData.js";
import { fitLife } from "../../../lib/study/life/lifeModel.js";
import { logRank } from "../../../lib/study/life/logRank.js";
import { varianceComponents } from "../../../lib/study/population/varianceComponents.js";
import reference from "./reference.json" with { type: "json" };

const near = (a: number, b: number, part = 1e-5) => expect(Math.abs(a / b - 1)).toBeLessThan(part);

test("competing causes agree with R's survival (MASS Melanoma): shares of each cause, Weibull life of each alone", () => {
  const { melanoma: r } = reference;
  const lives = r.time.map(
    (time, i): Life =>
      r.status[i] === 2
        ? { after: time, by: Infinity }
        : { after: time, by: time, cause: r.status[i] === 1 ? "melanoma" : "other" },
  );
  const causes = causeLives(lives);
  expect(causes.map((c) => c.cause)).toEqual(["melanoma", "other"]);
  for (const [k, c] of causes.entries()) {
    if (isUndetermined(c.incidence) || isUndetermined(c.model)) throw new Error("not answered");
    const want = k === 0 ? r.melanoma : r.other;
    r.at.forEach((time, j) => {
      const seen = c.incidence as readonly { time: number; share: number }[];
      near([...seen].filter((s) => s.time <= time).pop()!.share, want.incidence[j], 1e-9);
    });
    near(c.model.coefficients[0].value, want.location);
    near(c.model.sigma.value, want.sigma);
  }
});

test("late entry agrees with R: Kaplan-Meier and log-rank (survival), Weibull by R's own densities (lung)", () => {
  const { late: r } = reference;
  const lives = r.from.map(
    (from, i): Life => ({
      from,
      after: r.to[i],
      by: r.failed[i] === 1 ? r.to[i] : Infinity,
      group: String(r.group[i]),
    }),
  );
  const { steps } = kaplanMeier(lives);
  r.km.time.forEach((time, i) => {
    const step = steps.find((s) => Math.abs(s.time - time) < 1e-9)!;
    expect(step.atRisk).toBe(r.km.risk[i]);
    expect(step.survival).toBeCloseTo(r.km.survival[i], 10);
  });
  near(logRank(lives).statistic, r.logRank, 1e-6);
  const model = fitLife("weibull", lives);
  if (isUndetermined(model)) throw new Error(model.undetermined);
  near(model.scale!.value, r.scale, 1e-4);
  near(model.shape!.value, r.shape, 1e-4);
  near(model.logLikelihood, r.logLikelihood, 1e-7);
});

test("lower ends of the repeats' deviation agree with lme4's profiles (Penicillin 0.486, Pastes 0.652)", () => {
  for (const one of reference.components) {
    const low = (reference.repeatLow as Record<string, number>)[one.name];
    if (low === undefined) continue;
    const found = varianceComponents(one.values, one.factors as unknown as Record<string, string[]>);
    near(found.deviations.repeat.low, low, 2e-3);
  }
});
