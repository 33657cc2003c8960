import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import {
  beta,
  chiSquare,
  fRatio,
  normal,
  studentT,
} from "../../../lib/numeric/distributions/distributions.js";
import { fitArrhenius } from "../../../lib/study/life/arrhenius.js";
import { kaplanMeier } from "../../../lib/study/life/kaplanMeier.js";
import { isUndetermined, type Life, type Undetermined } from "../../../lib/study/life/lifeData.js";
import { fitLife } from "../../../lib/study/life/lifeModel.js";
import type { LifeDistribution } from "../../../lib/study/life/lifeShapes.js";
import { logRank } from "../../../lib/study/life/logRank.js";
import { turnbull } from "../../../lib/study/life/turnbull.js";
import { kruskalWallis, welchTest } from "../../../lib/study/population/anova.js";
import { describeSample } from "../../../lib/study/population/describeSample.js";
import { drift } from "../../../lib/study/population/drift.js";
import { gaugeStudy } from "../../../lib/study/population/gaugeStudy.js";
import { groupDifferences } from "../../../lib/study/population/groupDifferences.js";
import { benjaminiHochberg, holm } from "../../../lib/study/population/multiplicity.js";
import { andersonDarling, shapiroWilk } from "../../../lib/study/population/normality.js";
import { robustScatter } from "../../../lib/study/population/robustDistance.js";
import { varianceComponents } from "../../../lib/study/population/varianceComponents.js";

// Every answer in reference.json was computed by R and its packages (see reference.R beside it, which also makes the
// file anew).
const reference = JSON.parse(readFileSync(join(import.meta.dirname, "reference.json"), "utf8"));

/** Within a relative distance, or an absolute one near zero. */
function near(found: number, wanted: number, relative = 1e-9, absolute = 1e-12): void {
  const gap = Math.abs(found - wanted);
  expect(gap, `${found} against ${wanted}`).toBeLessThanOrEqual(
    Math.max(absolute, relative * Math.abs(wanted)),
  );
}

function known<T extends object>(answer: T): Exclude<T, Undetermined> {
  if (isUndetermined(answer)) throw new Error(answer.undetermined);
  return answer as Exclude<T, Undetermined>;
}

test("quantiles of five distributions agree with R, in both tails", () => {
  expect(reference.quantiles.length).toBe(8);
  for (const q of reference.quantiles) {
    near(normal.quantile(q.p), q.normal, 1e-13);
    near(studentT.quantile(q.p, 1), q.t1, 1e-9);
    near(studentT.quantile(q.p, 5), q.t5, 1e-10);
    near(studentT.quantile(q.p, 60), q.t60, 1e-10);
    near(chiSquare.quantile(q.p, 1), q.chi1, 1e-9, 0);
    near(chiSquare.quantile(q.p, 7), q.chi7, 1e-11, 0);
    near(chiSquare.quantile(q.p, 100), q.chi100, 1e-11, 0);
    near(fRatio.quantile(q.p, 3, 7), q.f37, 1e-9, 1e-14);
    near(beta.quantile(q.p, 2.5, 0.5), q.beta, 1e-9, 0);
  }
});

test("far upper tails keep their digits", () => {
  const { tails } = reference;
  near(normal.upper(10), tails.normal, 1e-12, 0);
  near(studentT.upper(12, 9), tails.t, 1e-11, 0);
  near(chiSquare.upper(90, 4), tails.chi, 1e-12, 0);
  near(fRatio.upper(50, 3, 20), tails.f, 1e-11, 0);
  near(beta.upper(0.99, 2, 9), tails.beta, 1e-11, 0);
});

test("Shapiro-Wilk and Anderson-Darling agree with R (stats, nortest) on six data sets", () => {
  for (const set of reference.normality) {
    const s = shapiroWilk(set.values);
    near(s.statistic, set.shapiro, 1e-9);
    near(s.p, set.shapiroP, 1e-6);
    const a = andersonDarling(set.values);
    near(a.statistic, set.anderson, 1e-9);
    near(a.p, set.andersonP, 1e-8);
  }
  near(shapiroWilk([1, 2, 4]).p, reference.shapiro3, 1e-9);
});

test("mean, deviation and quartiles with intervals agree with R", () => {
  const { sample } = reference;
  const d = describeSample(sample.values);
  near(d.mean.value, sample.mean);
  near(d.mean.low, sample.low);
  near(d.mean.high, sample.high);
  near(d.deviation.value, sample.sd);
  near(d.deviation.low, sample.sdLow);
  near(d.deviation.high, sample.sdHigh);
  expect([d.lowerQuartile, d.median.value, d.upperQuartile]).toEqual(sample.quartiles);
});

test("Welch, Kruskal-Wallis, one group against the rest, Holm and Benjamini-Hochberg agree with R", () => {
  const { chickwts, adjust } = reference;
  const names = [...new Set<string>(chickwts.groups)];
  const lists = names.map((name) =>
    chickwts.values.filter((_: number, i: number) => chickwts.groups[i] === name),
  );
  const w = welchTest(lists);
  near(w.statistic, chickwts.welch);
  near(w.p, chickwts.welchP);
  near(w.df![1], chickwts.df[1]);
  const k = kruskalWallis(lists);
  near(k.statistic, chickwts.kruskal);
  near(k.p, chickwts.kruskalP);
  const [difference] = groupDifferences({ weight: { values: chickwts.values, unit: "g" } }, chickwts.groups);
  const casein = difference.groups.find((g) => g.group === "casein")!;
  near(casein.difference.low, chickwts.casein.low);
  near(casein.difference.high, chickwts.casein.high);
  near(casein.p, chickwts.casein.p);
  holm(adjust.p).forEach((p, i) => {
    near(p, adjust.holm[i]);
  });
  benjaminiHochberg(adjust.p).forEach((p, i) => {
    near(p, adjust.fdr[i]);
  });
});

test("trend of the Nile: Mann-Kendall, median slope and regression agree with R", () => {
  const { trend } = reference;
  const d = known(
    drift(
      trend.values.map((_: number, i: number) => i + 1),
      trend.values,
    ),
  );
  near(d.mannKendall.statistic, trend.z);
  near(d.mannKendall.p, trend.p);
  near(d.slope.value, trend.slope);
  near(d.regression.value, trend.regression);
  near(d.regression.low, trend.low);
  near(d.regression.high, trend.high);
  expect(d.slope.low).toBeLessThan(d.slope.value);
  expect(d.slope.high).toBeGreaterThan(d.slope.value);
});

test("variance components agree with lme4 on Dyestuff, Dyestuff2, Pastes (nested) and Penicillin (crossed)", () => {
  expect(reference.components.length).toBe(4);
  for (const set of reference.components) {
    const found = varianceComponents(set.values, set.factors, { intervals: false });
    near(found.criterion, set.criterion, 1e-9);
    near(found.mean.value, set.mean, 1e-8);
    for (const [name, sd] of Object.entries<number>(set.sd)) {
      const own = found.deviations[name === "Residual" ? "repeat" : name].value;
      near(own, sd, 2e-5, 1e-5);
    }
  }
});

test("a crossed analysis of variance with interaction agrees with R's aov (nlme Machines)", () => {
  const { machines } = reference;
  const study = gaugeStudy(
    machines.values.map((value: number, i: number) => ({
      motor: machines.worker[i],
      rig: machines.machine[i],
      value,
    })),
    { intervals: false },
  );
  study.table.forEach((line, i) => {
    expect(line.df).toBe(machines.df[i]);
    near(line.squares, machines.squares[i], 1e-9);
  });
  near(study.interaction.f, machines.f, 1e-9);
  near(study.interaction.p, machines.p, 1e-7);
  expect(study.interaction.kept).toBe(true);
});

test("robust scatter agrees with robustbase's deterministic MCD", () => {
  expect(reference.robust.length).toBe(4);
  for (const set of reference.robust) {
    const found = known(robustScatter(set.rows));
    expect(
      [...found.subset].sort((a, b) => a - b).map((i) => i + 1),
      set.name,
    ).toEqual(set.subset);
    set.rawCenter.forEach((v: number, j: number) => {
      near(found.rawCenter[j], v, 1e-9);
    });
    set.center.forEach((v: number, j: number) => {
      near(found.center[j], v, 1e-9);
    });
    // robustbase makes the final scatter consistent by the share of rows kept, we by the share a normal sample would
    // keep (0.975): one common factor between the two.
    const factor = found.scatter[0][0] / set.cov[0][0];
    expect(factor).toBeLessThan(1);
    set.cov.forEach((row: number[], i: number) => {
      row.forEach((v, j) => {
        near(found.scatter[i][j], v * factor, 1e-8, 1e-12);
      });
    });
  }
});

function lives(time: number[], failed: number[], extra: (i: number) => Partial<Life> = () => ({})): Life[] {
  return time.map((t, i) => ({ after: t, by: failed[i] ? t : Infinity, ...extra(i) }));
}

test("Kaplan-Meier with log-log, log and plain bands agrees with R's survival (aml)", () => {
  const { aml } = reference;
  for (const [band, key] of [
    ["log-log", "loglog"],
    ["log", "log"],
    ["plain", "plain"],
  ] as const) {
    const curve = kaplanMeier(lives(aml.time, aml.status), { band });
    expect(curve.steps.map((s) => s.time)).toEqual(aml[key].time);
    curve.steps.forEach((s, i) => {
      expect(s.atRisk).toBe(aml[key].risk[i]);
      expect(s.failed).toBe(aml[key].failed[i]);
      near(s.survival, aml[key].survival[i]);
      near(s.error, aml[key].error[i]);
      near(s.low, aml[key].low[i]);
      near(s.high, aml[key].high[i]);
    });
  }
});

test("log-rank agrees with R's survival for two groups (aml) and four (veteran)", () => {
  const { aml, amlLogRank, veteran } = reference;
  const two = logRank(lives(aml.time, aml.status, (i) => ({ group: aml.group[i] })));
  near(two.statistic, amlLogRank.chisq, 1e-9);
  two.groups.forEach((g, i) => {
    near(g.expected, amlLogRank.expected[i]);
    expect(g.observed).toBe(amlLogRank.observed[i]);
  });
  const four = logRank(lives(veteran.time, veteran.status, (i) => ({ group: veteran.group[i] })));
  near(four.statistic, veteran.chisq, 1e-9);
  expect(four.df).toEqual([3]);
});

const kinds: [LifeDistribution, string][] = [
  ["weibull", "weibull"],
  ["log-normal", "lognormal"],
];

test("Weibull and log-normal fits with profile intervals agree with R's survival (aml)", () => {
  const { aml, amlFit, amlSigma, amlB10, amlB50 } = reference;
  for (const [kind, key] of kinds) {
    const model = known(fitLife(kind, lives(aml.time, aml.status)));
    near(model.logLikelihood, amlFit[key].logLik, 1e-10);
    near(model.coefficients[0].value, amlFit[key].coefficients[0] ?? amlFit[key].coefficients, 1e-7);
    near(model.sigma.value, amlFit[key].sigma, 1e-7);
    near(model.sigma.low, amlSigma[key][0], 1e-6);
    near(model.sigma.high, amlSigma[key][1], 1e-6);
  }
  const weibull = known(fitLife("weibull", lives(aml.time, aml.status)));
  for (const [share, wanted] of [
    [0.1, amlB10],
    [0.5, amlB50],
  ]) {
    const b = weibull.life(share);
    near(b.value, wanted[0], 1e-6);
    near(b.low, wanted[1], 1e-5);
    near(b.high, wanted[2], 1e-5);
  }
});

test("the motorette insulation life test (Nelson and Hahn 1972, MASS motors) agrees with R's survival", () => {
  const { motors } = reference;
  const data = lives(motors.time, motors.failed, (i) => ({ temperature: motors.temperature[i] }));
  expect(data.length).toBe(40);
  for (const [kind, key] of kinds) {
    const fit = known(fitArrhenius(kind, data));
    near(fit.model.logLikelihood, motors.fit[key].logLik, 1e-9);
    near(fit.activationEnergy.value, motors.fit[key].coefficients[1], 1e-6);
    near(fit.model.sigma.value, motors.fit[key].sigma, 1e-6);
    expect(fit.activationEnergy.low).toBeLessThan(fit.activationEnergy.value);
    expect(fit.activationEnergy.high).toBeGreaterThan(fit.activationEnergy.value);
  }
  const weibull = known(fitArrhenius("weibull", data));
  near(weibull.model.sigma.low, motors.sigma[0], 1e-5);
  near(weibull.model.sigma.high, motors.sigma[1], 1e-5);
  near(weibull.lifeAt(0.1, 130).value, motors.at130[0], 1e-5);
  near(weibull.lifeAt(0.5, 130).value, motors.at130[1], 1e-5);
  [170, 190, 220].forEach((temperature, k) => {
    const curve = kaplanMeier(data.filter((life) => life.temperature === temperature));
    curve.steps.forEach((s, i) => {
      near(s.survival, motors.km[k].survival[i]);
    });
  });
});

test("interval censoring: Turnbull and both life models agree with R's survival (lung, inspected every 90 days)", () => {
  const { inspected } = reference;
  const data: Life[] = inspected.after.map((after: number, i: number) => ({
    after,
    by: inspected.by[i] ?? Infinity,
  }));
  for (const [kind, key] of kinds) {
    const model = known(fitLife(kind, data));
    near(model.logLikelihood, inspected.fit[key].logLik, 1e-9);
    near(model.sigma.value, inspected.fit[key].sigma, 1e-6);
  }
  const curve = turnbull(data);
  expect(curve.stretches.length).toBeGreaterThan(8);
  for (const stretch of curve.stretches) {
    if (stretch.to === Infinity) continue;
    const after = inspected.turnbull.time.findLastIndex((t: number) => t <= stretch.to);
    near(stretch.survival, inspected.turnbull.survival[after], 1e-4);
  }
});

test("too few failures are a value, not an exception", () => {
  expect(isUndetermined(fitLife("weibull", lives([5, 6, 7], [0, 0, 1])))).toBe(true);
  expect(isUndetermined(fitLife("weibull", lives([5, 5, 5], [1, 1, 1])))).toBe(true);
});
