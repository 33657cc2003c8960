import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { fitStepResponse, fitStepShape } from "../../../lib/identify/index.js";
import { fillShape } from "../../../lib/identify/steps/stepShapes.js";
import { fitLeastSquares, studentT } from "../../../lib/numeric/index.js";

// Reference values made by SciPy 1.17.1: see makeStepValues.py beside this file for the commands.
const reference = JSON.parse(readFileSync(join(import.meta.dirname, "stepValues.json"), "utf8"));
const time = Float64Array.from({ length: 201 }, (_, i) => i / 200);
const first = (t: number, p: ArrayLike<number>): number => p[0] + p[1] * (1 - Math.exp(-t / p[2]));

describe("unit-step responses against scipy.signal.step", () => {
  const { from, to, count } = reference.grid;
  const grid = Float64Array.from({ length: count }, (_, i) => from + ((to - from) * i) / (count - 1));
  for (const [name, system] of Object.entries<{
    denominator: number[];
    numerator: number[];
    values: number[];
  }>(reference.responses)) {
    for (const spacing of [0, (to - from) / (count - 1)]) {
      test(`${name}${spacing > 0 ? ", by recurrence" : ""}`, () => {
        const { denominator, numerator, values } = system;
        const g = new Float64Array(count);
        const times = { t: grid, spacing };
        const columns = { g, da: g.slice(), db: g.slice() };
        const [b, a] = denominator.map((v) => v / numerator[0]);
        if (denominator.length === 2) fillShape("first-order", denominator[0], 0, times, columns);
        else fillShape("second-order", a, b, times, columns);
        let worst = 0;
        for (let i = 0; i < count; i++) worst = Math.max(worst, Math.abs(g[i] - values[i]));
        expect(worst).toBeLessThan(5e-8);
      });
    }
  }
});

describe("values and standard errors against scipy.optimize.curve_fit", () => {
  test("first order, general least squares", () => {
    const { values, parameters, errors } = reference.fits.first;
    const fit = fitLeastSquares({
      x: time,
      y: values,
      parameters: [
        { name: "initial", start: 0 },
        { name: "amplitude", start: 1 },
        { name: "time constant", start: 1 },
      ],
      model: first,
    });
    fit.parameters.forEach((p, j) => {
      expect(p.value / parameters[j]).toBeCloseTo(1, 6);
      expect(p.standardError / errors[j]).toBeCloseTo(1, 5);
    });
  });
  for (const [name, shape] of [
    ["first", "first-order"],
    ["second", "second-order"],
  ] as const) {
    test(`${name} order, step-response fits`, () => {
      const { values, parameters, errors } = reference.fits[name];
      const whole = fitStepResponse(time, values, {
        shapes: [shape],
        drift: false,
        covariance: "independent",
        dropSpikes: false,
      });
      const lean = fitStepShape(time, Float64Array.from(values), shape);
      parameters.forEach((value: number, j: number) => {
        expect((whole.fit?.parameters[j].value ?? 0) / value).toBeCloseTo(1, 5);
        expect((whole.fit?.parameters[j].standardError ?? 0) / errors[j]).toBeCloseTo(1, 4);
        expect((lean?.values[j] ?? 0) / value).toBeCloseTo(1, 5);
        expect((lean?.standardErrors[j] ?? 0) / errors[j]).toBeCloseTo(1, 4);
      });
    });
  }
});

describe("robust and bounded fits against scipy.optimize.least_squares", () => {
  const parameters = [
    { name: "initial", start: 0 },
    { name: "amplitude", start: 5 },
    { name: "time constant", start: 0.5 },
  ];
  for (const [ours, theirs] of [
    ["soft-l1", "soft_l1"],
    ["huber", "huber"],
    ["cauchy", "cauchy"],
  ] as const) {
    test(ours, () => {
      const { values, scale } = reference.robust;
      const fit = fitLeastSquares(
        { x: time, y: values, parameters, model: first },
        { loss: ours, lossScale: scale },
      );
      reference.robust[theirs].forEach((value: number, j: number) => {
        expect(fit.values[j] / value).toBeCloseTo(1, 5);
      });
      expect(fit.stop.converged).toBe(true);
    });
  }
  test("bounds", () => {
    const fit = fitLeastSquares({
      x: time,
      y: reference.robust.values,
      parameters: [
        { name: "initial", start: 3, lower: 2.9, upper: 3.1 },
        { name: "amplitude", start: 9, lower: 0, upper: 10 },
        { name: "time constant", start: 0.1, lower: 0.01, upper: 5 },
      ],
      model: first,
    });
    reference.bounded.forEach((value: number, j: number) => {
      expect(fit.values[j] / value).toBeCloseTo(1, 5);
    });
    expect(fit.parameters.filter((p) => p.atBound).length).toBeGreaterThan(0);
  });
});

test("quantiles of Student's t against scipy.stats.t", () => {
  for (const [level, nu, value] of reference.studentT) expect(studentT(level, nu) / value).toBeCloseTo(1, 7);
});
