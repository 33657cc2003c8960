import { expect, test } from "vitest";
import { momentGram } from "../../lib/identify/steps/stepMoments.js";
import { fillShape, type StepShape } from "../../lib/identify/steps/stepShapes.js";

const cases: [StepShape, number, number][] = [
  ["first-order", 0.1, 0],
  ["first-order", 2.9, 0],
  ["first-order", 0.002, 0],
  ["first-order-dead-time", 0.1, 0],
  ["first-order-dead-time", 0.1, 0.0507],
  ["first-order-dead-time", 0.3, 0.4],
  ["second-order", 0.02, 0.01],
  ["second-order", 0.1, 0.02],
  ["second-order", 0.1, 0.0034],
  ["second-order", 0.1, 0.0023],
  ["second-order", 0.1, 0.00001],
  ["second-order", 1, 0.1],
];

for (const m of [500, 501])
  test.each(cases)(`closed-form sums are those of the columns: %s a=%d b=%d, ${m} samples`, (shape, a, b) => {
    const t0 = 0.0003;
    const h = 1 / m;
    const t = Float64Array.from({ length: m }, (_, i) => t0 + i * h);
    const z = t.map((v, i) => Math.sin(i * i) + v);
    const g = new Float64Array(m);
    const da = new Float64Array(m);
    const db = new Float64Array(m);
    fillShape(shape, a, b, { t, spacing: 0 }, { g, da, db });
    const gram = new Float64Array(36);
    const sum = (x: Float64Array): number => x.reduce((s, v) => s + v, 0);
    expect(momentGram({ t0, spacing: h, z, sumT: sum(t), sumZ: sum(z) }, shape, a, b, gram)).toBe(true);
    const columns = [t.map(() => 1), t, g, da, db, z];
    for (let i = 0; i < 5; i++)
      for (let j = Math.max(2, i); j < 6; j++) {
        // Products of 1, t and z among themselves are not this function's business, nor is b without a b.
        if ((i < 2 && j === 5) || (shape === "first-order" && (i === 4 || j === 4))) continue;
        const direct = sum(columns[i].map((v, k) => v * columns[j][k]));
        const size = Math.sqrt(sum(columns[i].map((v) => v * v)) * sum(columns[j].map((v) => v * v)));
        expect(Math.abs(gram[6 * i + j] - direct) / size).toBeLessThan(1e-11);
      }
  });

test("shapes it does not know are left to the columns", () => {
  const record = { t0: 0, spacing: 0.01, z: new Float64Array(100), sumT: 0, sumZ: 0 };
  const gram = new Float64Array(36);
  expect(momentGram(record, "second-order-critical", 0.1, 0, gram)).toBe(false);
  expect(momentGram(record, "second-order", 0.1, 0.0025, gram)).toBe(false);
  expect(momentGram(record, "second-order", 2, 5, gram)).toBe(false);
  expect(gram.every((v) => v === 0)).toBe(true);
});
