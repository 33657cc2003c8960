import { expect, test } from "vitest";
import { innerStep, simulate } from "../../lib/simulation/simulate.js";
import { plainBench } from "./samples.js";

const countsPerRad = (4 * 5000) / (2 * Math.PI);
const last = (values: Float64Array) => values[values.length - 1];

test("an encoder that misses one count in ten shows nine tenths of the way, whichever way the shaft turns", () => {
  const bench = plainBench({ encoder: { missing: 0.1 } });
  for (const current of [1, -1]) {
    const trace = simulate(bench, [{ kind: "torque", from: current, duration: 0.3 }], { seed: 5 });
    const truth = last(trace.truth.angle) * countsPerRad;
    expect(Math.sign(truth)).toBe(current);
    expect(last(trace.counts) / truth).toBeGreaterThan(0.89);
    expect(last(trace.counts) / truth).toBeLessThan(0.91);
  }
});

test("a run takes as many inner steps as its duration holds", () => {
  const bench = plainBench();
  const { steps } = simulate(bench, [{ kind: "torque", from: 1, duration: 0.2 }]);
  expect(steps * innerStep(bench)).toBeCloseTo(0.2, 3);
});
