import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { fitArrhenius } from "../../../lib/study/life/arrhenius.js";
import {
  demonstratedReliability,
  lifeWithKnownShape,
  unitsToDemonstrate,
} from "../../../lib/study/life/demonstration.js";
import { kaplanMeier } from "../../../lib/study/life/kaplanMeier.js";
import { isUndetermined, type Life } from "../../../lib/study/life/lifeData.js";
import { fitLife } from "../../../lib/study/life/lifeModel.js";
import { oneWayAnova } from "../../../lib/study/population/anova.js";
import { capabilityFrom } from "../../../lib/study/population/capability.js";
import { ewmaChart, individualsChart } from "../../../lib/study/population/controlChart.js";
import { autocorrelation, describeSample } from "../../../lib/study/population/describeSample.js";
import { drift } from "../../../lib/study/population/drift.js";
import { gaugeStudy } from "../../../lib/study/population/gaugeStudy.js";
import { varianceComponents } from "../../../lib/study/population/varianceComponents.js";

const strd = (name: string) => readFileSync(join(import.meta.dirname, "strd", name), "utf8").split(/\r?\n/);

/** Digits that agree: -log10 of the relative error. */
function digits(found: number, certified: number): number {
  return found === certified ? 16 : -Math.log10(Math.abs((found - certified) / certified));
}

// NIST Statistical Reference Datasets, one-way analysis of variance; the .dat files as SciPy distributes them in its
// tests. The digits asked for are what 64-bit input leaves: the data of SmLs04 and SmLs07 carry 7 and 13 constant
// leading digits.
test.each([
  ["AtmWtAg.dat", 8],
  ["SiRstv.dat", 12],
  ["SmLs01.dat", 13],
  ["SmLs04.dat", 8],
  ["SmLs07.dat", 2],
])("NIST StRD one-way analysis of variance %s", (name, wanted) => {
  const lines = strd(name);
  const numbers = (line: string) => line.match(/[-+]?\d+\.?\d*(?:E[-+]\d+)?/g)!.map(Number);
  const between = numbers(lines.find((line) => /^Between/.test(line))!.replace(/^\D+/, ""));
  const within = numbers(lines.find((line) => /^Within/.test(line))!.replace(/^\D+/, ""));
  const rSquared = Number(/Certified R-Squared\s+(\S+)/.exec(lines.join("\n"))![1]);
  const residual = Number(/Certified Residual\s+Standard Deviation\s+(\S+)/.exec(lines.join("\n"))![1]);
  const rows = lines
    .slice(60)
    .filter((line) => /^\s*\d/.test(line))
    .map((line) => line.trim().split(/\s+/).map(Number));
  const groups = [...new Set(rows.map((row) => row[0]))].map((g) =>
    rows.filter((row) => row[0] === g).map((row) => row[1]),
  );
  expect(rows.length).toBeGreaterThanOrEqual(25);
  const a = oneWayAnova(groups);
  expect(a.between.df).toBe(between[0]);
  expect(a.within.df).toBe(within[0]);
  for (const [found, certified] of [
    [a.between.squares, between[1]],
    [a.between.meanSquare, between[2]],
    [a.f, between[3]],
    [a.within.squares, within[1]],
    [a.within.meanSquare, within[2]],
    [a.rSquared, rSquared],
    [a.residualDeviation, residual],
  ])
    expect(digits(found, certified)).toBeGreaterThan(wanted);
});

test("NIST StRD Norris: the regression slope (certified values in the file, as SciPy distributes it)", () => {
  const lines = strd("Norris.dat");
  const certified = Number(/B1\s+(\S+)/.exec(lines.join("\n"))![1]);
  const rows = lines
    .slice(60)
    .filter((line) => /^\s*[-\d]/.test(line))
    .map((line) => line.trim().split(/\s+/).map(Number));
  expect(rows.length).toBe(36);
  const d = drift(
    rows.map((row) => row[1]),
    rows.map((row) => row[0]),
  );
  if (isUndetermined(d)) throw new Error(d.undetermined);
  expect(digits(d.regression.value, certified)).toBeGreaterThan(12);
});

// Certified values of NIST StRD univariate sets, from memory; the data of Michelo are R's datasets::morley (km/s less
// 299 000), in whose order the autocorrelation comes out as certified. NumAcc1 to 4 are defined by formula.
test("NIST StRD univariate Michelo, NumAcc1 to NumAcc4: mean, deviation, autocorrelation", () => {
  const reference = JSON.parse(readFileSync(join(import.meta.dirname, "reference.json"), "utf8"));
  const michelo = reference.morley.map((v: number) => (299_000 + v) / 1000);
  const alternating = (first: number, low: number, high: number) => [
    first,
    ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? low : high)),
  ];
  const sets: [number[], number, number, number, number][] = [
    [michelo, 299.8524, 0.0790105478190518, 0.535199668621283, 11],
    [[10_000_001, 10_000_003, 10_000_002], 10_000_002, 1, -0.5, 14],
    [alternating(1.2, 1.1, 1.3), 1.2, 0.1, -0.999, 12],
    [alternating(1_000_000.2, 1_000_000.1, 1_000_000.3), 1_000_000.2, 0.1, -0.999, 8],
    [alternating(10_000_000.2, 10_000_000.1, 10_000_000.3), 10_000_000.2, 0.1, -0.999, 7],
  ];
  for (const [values, mean, deviation, correlation, wanted] of sets) {
    const d = describeSample(values);
    expect(digits(d.mean.value, mean)).toBeGreaterThan(wanted);
    expect(digits(d.deviation.value, deviation)).toBeGreaterThan(wanted);
    expect(digits(autocorrelation(values), correlation)).toBeGreaterThan(wanted);
  }
});

// NIST/SEMATECH e-Handbook 8.4.1.2 (from memory: data and answers; the data reproduce the answers): 20 units, 10
// failures, test ended at 500 h; shape 1.7208, characteristic life 606.5280.
test("NIST/SEMATECH e-Handbook 8.4.1: Weibull maximum likelihood", () => {
  const lives: Life[] = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386].map((t) => ({ after: t, by: t }));
  lives.push({ after: 500, by: Infinity, count: 10 });
  const model = fitLife("weibull", lives);
  if (isUndetermined(model)) throw new Error(model.undetermined);
  expect(model.shape!.value).toBeCloseTo(1.7208, 3);
  expect(model.scale!.value).toBeCloseTo(606.528, 2);
  expect(model.units).toBe(20);
  expect(model.failures).toBe(10);
});

// e-Handbook 8.4.1.3, the handbook's own R program (apr413.r), whose first failure is at 55 h: shape 1.72563,
// characteristic life
// 606.005, log-likelihood -75.122; Kaplan-Meier 0.95 at 55 h with standard error 0.0487 down to 0.50 at 386 h
// with 0.1118.
test("NIST/SEMATECH e-Handbook 8.4.1.3: Weibull maximum likelihood and Kaplan-Meier", () => {
  const lives: Life[] = [55, 187, 216, 240, 244, 335, 361, 373, 375, 386].map((t) => ({ after: t, by: t }));
  lives.push({ after: 500, by: Infinity, count: 10 });
  const model = fitLife("weibull", lives);
  if (isUndetermined(model)) throw new Error(model.undetermined);
  expect(model.shape!.value).toBeCloseTo(1.72563, 5);
  expect(model.scale!.value).toBeCloseTo(606.005, 3);
  expect(model.logLikelihood).toBeCloseTo(-75.122, 3);
  const curve = kaplanMeier(lives);
  const printed = [0.0487, 0.0671, 0.0798, 0.0894, 0.0968, 0.1025, 0.1067, 0.1095, 0.1112, 0.1118];
  expect(curve.steps.length).toBeGreaterThanOrEqual(10);
  printed.forEach((error, i) => {
    expect(curve.steps[i].survival).toBeCloseTo(0.95 - 0.05 * i, 12);
    expect(curve.steps[i].error).toBeCloseTo(error, 4);
  });
});

// e-Handbook 8.4.2.2, the handbook's own R program (apr422.r): 100, 50 and 25 units at 85, 105 and 125 degrees for
// 1,000 h, log-normal lives with an Arrhenius temperature dependence. It prints -19.906 (intercept), 0.863 eV with
// standard error 0.0761, spread
// 0.772, log-likelihoods -476.7089 (together) and -475.1119 (each temperature by itself).
test("NIST/SEMATECH e-Handbook 8.4.2.2: Arrhenius model by maximum likelihood", () => {
  const cells: [celsius: number, units: number, failures: number[]][] = [
    [85, 100, [401, 428, 695, 725, 738]],
    [
      105,
      50,
      [
        171, 187, 189, 266, 275, 285, 301, 302, 305, 316, 317, 324, 349, 350, 386, 405, 480, 493, 530, 534,
        536, 567, 589, 598, 599, 614, 620, 650, 668, 685, 718, 795, 854, 917, 926,
      ],
    ],
    [
      125,
      25,
      [
        24, 42, 92, 93, 141, 142, 143, 159, 181, 188, 194, 199, 207, 213, 243, 256, 259, 290, 294, 305, 392,
        454, 502, 696,
      ],
    ],
  ];
  const each = cells.map(([temperature, units, failures]): Life[] => [
    ...failures.map((t) => ({ after: t, by: t, temperature })),
    { after: 1000, by: Infinity, count: units - failures.length, temperature },
  ]);
  const alone = each.map((lives) => {
    const model = fitLife("log-normal", lives, { intervals: "none" });
    if (isUndetermined(model)) throw new Error(model.undetermined);
    return model;
  });
  expect(alone[0].coefficients[0].value).toBeCloseTo(8.891, 3);
  expect(alone[1].coefficients[0].value).toBeCloseTo(6.47, 3);
  expect(alone[2].coefficients[0].value).toBeCloseTo(5.33, 2);
  expect(alone[0].sigma.value).toBeCloseTo(1.21, 2);
  expect(alone[1].sigma.value).toBeCloseTo(0.715, 3);
  expect(alone[2].sigma.value).toBeCloseTo(0.81, 2);
  expect(alone.reduce((sum, { logLikelihood }) => sum + logLikelihood, 0)).toBeCloseTo(-475.1119, 4);
  const together = fitArrhenius("log-normal", each.flat());
  if (isUndetermined(together)) throw new Error(together.undetermined);
  expect(together.model.units).toBe(175);
  expect(together.model.sigma.value).toBeCloseTo(0.772, 3);
  // The program counts Celsius from 273.16 and takes 8.617e-5 eV/K: that moves the fourth digit of the energy and of
  // the likelihood.
  expect(together.activationEnergy.value).toBeCloseTo(0.863, 3);
  expect(together.model.logLikelihood).toBeCloseTo(-476.7089, 3);
  // The profile interval is not symmetric, but about as wide as that of the standard error.
  const { low, high } = together.activationEnergy;
  expect(Math.abs((high - low) / (2 * 1.96 * 0.0761) - 1)).toBeLessThan(0.05);
});

const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

// e-Handbook 6.3.2.2 (from memory; the data reproduce the answers).
test("NIST/SEMATECH e-Handbook 6.3.2.2: individuals chart", () => {
  const { individuals, movingRange } = individualsChart(flow);
  expect(individuals.center).toBeCloseTo(50.81, 4);
  expect(movingRange.center).toBeCloseTo(1.8778, 4);
  // The handbook rounds d2 to 1.128.
  expect(individuals.upper[0]).toBeCloseTo(55.8041, 2);
  expect(individuals.lower[0]).toBeCloseTo(45.8159, 2);
  expect(individuals.signals.filter((s) => s.rule.startsWith("beyond"))).toEqual([]);
});

// e-Handbook 6.3.2.4 (from memory; the data reproduce the answers): lambda 0.3, centre 50, deviation 2.0539.
test("NIST/SEMATECH e-Handbook 6.3.2.4: weighted moving average chart", () => {
  const data = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, ...flow];
  const chart = ewmaChart(data, { lambda: 0.3, center: 50, sigma: 2.0539, steady: true });
  const wanted = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
    49.92, 50.73, 51.23, 51.94, 51.99,
  ];
  chart.values.forEach((v, i) => {
    expect(Math.abs(v - wanted[i])).toBeLessThan(0.0101);
  });
  expect(chart.upper[0]).toBeCloseTo(52.5884, 3);
  expect(chart.lower[0]).toBeCloseTo(47.4115, 3);
  expect(chart.signals).toEqual([]);
});

// e-Handbook 6.1.6 (from memory): limits 8 and 20, mean 16, deviation 2.
test("NIST/SEMATECH e-Handbook 6.1.6: capability indices", () => {
  const c = capabilityFrom(16, 2, 30, { lower: 8, upper: 20 });
  expect(c.cp!.value).toBeCloseTo(1, 12);
  expect(c.cpk.value).toBeCloseTo(0.6667, 4);
  // Share beyond: 2 deviations above, 4 below.
  expect(c.beyond).toBeCloseTo(0.0227501319 + 0.0000316712, 8);
});

// Crossed study of 10 parts, 3 appraisers, 3 trials printed in the measurement systems analysis manual of the
// Automotive Industry Action Group (data and answers from memory; the data reproduce the answers to the digits
// printed).
test("a printed crossed gauge study: repeatability 0.199933, reproducibility 0.226838, both 0.302373, parts 1.042327", () => {
  const table: Record<string, number[][]> = {
    A: [
      [0.29, 0.41, 0.64],
      [-0.56, -0.68, -0.58],
      [1.34, 1.17, 1.27],
      [0.47, 0.5, 0.64],
      [-0.8, -0.92, -0.84],
      [0.02, -0.11, -0.21],
      [0.59, 0.75, 0.66],
      [-0.31, -0.2, -0.17],
      [2.26, 1.99, 2.01],
      [-1.36, -1.25, -1.31],
    ],
    B: [
      [0.08, 0.25, 0.07],
      [-0.47, -1.22, -0.68],
      [1.19, 0.94, 1.34],
      [0.01, 1.03, 0.2],
      [-0.56, -1.2, -1.28],
      [-0.2, 0.22, 0.06],
      [0.47, 0.55, 0.83],
      [-0.63, 0.08, -0.34],
      [1.8, 2.12, 2.19],
      [-1.68, -1.62, -1.5],
    ],
    C: [
      [0.04, -0.11, -0.15],
      [-1.38, -1.13, -0.96],
      [0.88, 1.09, 0.67],
      [0.14, 0.2, 0.11],
      [-1.46, -1.07, -1.45],
      [-0.29, -0.67, -0.49],
      [0.02, 0.01, 0.21],
      [-0.46, -0.56, -0.49],
      [1.77, 1.45, 1.87],
      [-1.49, -1.77, -2.16],
    ],
  };
  const readings = Object.entries(table).flatMap(([rig, rows]) =>
    rows.flatMap((values, part) => values.map((value) => ({ motor: String(part + 1), rig, value }))),
  );
  const study = gaugeStudy(readings);
  expect(study.interaction.kept).toBe(false);
  expect(1000 * study.interaction.f).toBeCloseTo(434, 0);
  expect(study.repeatability).toBeCloseTo(0.199933, 6);
  expect(study.reproducibility).toBeCloseTo(0.226838, 6);
  // The root of the two printed squares is 0.302372: the print carries its own rounding.
  expect(study.gauge).toBeCloseTo(0.302373, 5);
  expect(study.motors).toBeCloseTo(1.042327, 6);
  expect(study.classes).toBe(4);
  // Balanced data: restricted likelihood and analysis of variance give the same deviations.
  expect(study.likelihood.deviations.repeat.value).toBeCloseTo(study.repeatability, 4);
  expect(study.likelihood.deviations.rig.value).toBeCloseTo(study.reproducibility, 4);
  expect(study.likelihood.deviations.motor.value).toBeCloseTo(study.motors, 4);
});

// e-Handbook 2.4 and 2.6.3: resistivity of five wafers (138 to 142) measured with probe 2362, six times on each of six
// days in each of two runs; average and deviation of the six (ohm.cm). Data: file MPC61.DAT of NIST's Dataplot;
// answers: program mpc631.r of the handbook's case study 2.6.3, which prints 0.0729 (300 degrees of freedom),
// s_days = 0.02057092, s_runs = 0.01295841.
const probe2362: Record<string, readonly (readonly [average: number, deviation: number])[][]> = {
  138: [
    [
      [95.1162, 0.048],
      [95.0569, 0.0577],
      [95.0598, 0.0516],
      [95.1487, 0.0386],
      [95.0743, 0.0256],
      [95.101, 0.042],
    ],
    [
      [95.1687, 0.0785],
      [95.1564, 0.043],
      [95.1354, 0.0983],
      [95.0422, 0.0773],
      [95.1354, 0.0587],
      [95.1075, 0.0776],
    ],
  ],
  139: [
    [
      [99.2939, 0.0818],
      [99.3234, 0.0723],
      [99.2748, 0.0756],
      [99.3512, 0.0475],
      [99.235, 0.0517],
      [99.3574, 0.0485],
    ],
    [
      [99.3408, 0.1279],
      [99.3116, 0.1131],
      [99.3241, 0.0519],
      [99.2991, 0.0903],
      [99.3049, 0.0783],
      [99.2782, 0.0718],
    ],
  ],
  140: [
    [
      [96.0771, 0.1024],
      [95.9976, 0.0943],
      [96.0148, 0.0622],
      [96.0397, 0.0702],
      [96.0407, 0.0627],
      [96.0445, 0.0622],
    ],
    [
      [96.0793, 0.0996],
      [96.1115, 0.0533],
      [96.0803, 0.0364],
      [96.0411, 0.0768],
      [96.0988, 0.1042],
      [96.0482, 0.0868],
    ],
  ],
  141: [
    [
      [101.0471, 0.032],
      [101.0224, 0.102],
      [101.0702, 0.058],
      [101.0904, 0.1049],
      [101.0626, 0.0702],
      [101.0686, 0.0661],
    ],
    [
      [101.1353, 0.0585],
      [101.1201, 0.0868],
      [101.0946, 0.0855],
      [100.9977, 0.0645],
      [101.0963, 0.0638],
      [101.03, 0.0549],
    ],
  ],
  142: [
    [
      [94.2437, 0.0503],
      [94.2115, 0.0919],
      [94.2348, 0.0282],
      [94.2124, 0.0513],
      [94.2214, 0.0627],
      [94.1651, 0.101],
    ],
    [
      [94.2052, 0.0813],
      [94.2824, 0.0605],
      [94.2396, 0.0882],
      [94.2087, 0.0702],
      [94.2937, 0.0591],
      [94.233, 0.0556],
    ],
  ],
};

test("NIST/SEMATECH e-Handbook 2.4, 2.6.3: repeatability, days and runs of a nested gauge study", () => {
  // The six values of a day are not printed. For balanced data only their average and deviation count, so any six that
  // have these do.
  const six = [-1, 1, -1, 1, -1, 1].map((sign) => sign * Math.sqrt(5 / 6));
  const values: number[] = [];
  const factors = { wafer: [] as string[], run: [] as string[], day: [] as string[] };
  for (const [wafer, runs] of Object.entries(probe2362))
    runs.forEach((days, run) => {
      days.forEach(([average, deviation], day) => {
        for (const z of six) {
          values.push(average + deviation * z);
          factors.wafer.push(wafer);
          factors.run.push(`${wafer} ${run}`);
          factors.day.push(`${wafer} ${run} ${day}`);
        }
      });
    });
  const { deviations } = varianceComponents(values, factors, { intervals: false });
  expect(values.length).toBe(360);
  expect(deviations.repeat.value).toBeCloseTo(0.0729, 4);
  expect(deviations.day.value).toBeCloseTo(0.02057092, 5);
  expect(deviations.run.value).toBeCloseTo(0.01295841, 5);
});

// Closed forms: n = ln(1 - C) / ln(R), R = (1 - C)^(1/n); exponential life with no failure: MTTF >= T / -ln(1 - C).
test("zero-failure demonstration holds its closed forms", () => {
  for (const [reliability, confidence] of [
    [0.9, 0.9],
    [0.95, 0.9],
    [0.99, 0.95],
  ]) {
    const n = Math.ceil(Math.log(1 - confidence) / Math.log(reliability));
    expect(unitsToDemonstrate({ reliability, confidence })).toBe(n);
    const double = Math.ceil(Math.log(1 - confidence) / (2 ** 1.5 * Math.log(reliability)));
    expect(unitsToDemonstrate({ reliability, confidence, ratio: 2, shape: 1.5 })).toBe(double);
  }
  // One failure allowed: the smallest n with R^n + n (1 - R) R^(n-1) <= 1 - C.
  let n = 1;
  while (0.9 ** n + n * 0.1 * 0.9 ** (n - 1) > 0.1) n++;
  expect(n).toBe(38);
  expect(unitsToDemonstrate({ reliability: 0.9, confidence: 0.9, allowed: 1 })).toBe(n);
  expect(demonstratedReliability({ units: 22, failures: 0, confidence: 0.9 }).low).toBeCloseTo(
    0.1 ** (1 / 22),
    12,
  );
  const none = lifeWithKnownShape([{ after: 100, by: Infinity, count: 7 }], {
    shape: 1,
    share: 0.1,
    confidence: 0.9,
  });
  expect(none.low).toBeCloseTo((700 / Math.log(10)) * -Math.log(0.9), 9);
});
