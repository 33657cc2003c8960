import { describe, expect, test } from "vitest";
import { firstOrderOfHeld, meanOfHeld } from "../../lib/identify/electrical/dc/heldInput.js";
import {
  changesBetweenRows,
  likeliestNoise,
  type SpeedNoise,
  whitening,
} from "../../lib/identify/electrical/dc/speedNoise.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

// Held against the dense algebra of the same noise: its covariance written out, factored by Cholesky here.

const time = Float64Array.of(0, 0.01, 0.02, 0.04, 0.05, 0.06, 0.07, 0.1);
const tau = 0.05;
const n = time.length;
const residuals = Float64Array.of(0.3, -0.2, 0.5, 1.1, -0.4, 0.2, 0.7, -0.1);

/** Lower triangle of a positive matrix. */
function cholesky(a: readonly (readonly number[])[]): number[][] {
  const l = a.map((row) => row.map(() => 0));
  for (let i = 0; i < a.length; i++)
    for (let j = 0; j <= i; j++) {
      let sum = a[i][j];
      for (let k = 0; k < j; k++) sum -= l[i][k] * l[j][k];
      l[i][j] = i === j ? Math.sqrt(sum) : sum / l[j][j];
    }
  return l;
}

/** Covariance of the speed's disturbance: it fades with tau and stands at `slow`; jumps fade alike. */
function disturbance(slow: number, jumps: Float64Array): number[][] {
  const at = (i: number, j: number): number => {
    let sum = slow * Math.exp(-Math.abs(time[i] - time[j]) / tau);
    for (let k = 1; k <= Math.min(i, j); k++)
      sum += jumps[k] * Math.exp(-(time[i] + time[j] - 2 * time[k]) / tau);
    return sum;
  };
  return [...time].map((_, i) => [...time].map((__, j) => at(i, j)));
}

describe("noise of a speed", () => {
  test("readings of a speed: squares and logarithms are those of the dense covariance", () => {
    const jumps = new Float64Array(n);
    jumps[3] = 0.9;
    const noise: SpeedNoise = { reading: "speed", white: 0.04, slow: 0.25, timing: 2 };
    const { of, logarithm } = whitening({ time, jumps, tau }, noise);
    const dense = disturbance(
      noise.slow,
      jumps.map((j) => noise.timing * j),
    ).map((row, i) => row.map((v, j) => v + (i === j ? noise.white : 0)));
    const l = cholesky(dense);
    const white = of(residuals);
    let logs = 0;
    const expected = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let sum = residuals[i];
      for (let k = 0; k < i; k++) sum -= l[i][k] * expected[k];
      expected[i] = sum / l[i][i];
      logs += 2 * Math.log(l[i][i]);
      expect(white[i]).toBeCloseTo(expected[i], 10);
    }
    expect(logarithm).toBeCloseTo(logs, 10);
  });

  test("readings of a position alone: differences of white noise are made white again", () => {
    const normal = normalFrom(uniforms(5));
    const many = 4000;
    const clock = Float64Array.from({ length: many }, (_, k) => 0.01 * k);
    const read = Float64Array.from({ length: many + 1 }, () => 0.002 * normal());
    const differences = Float64Array.from({ length: many }, (_, k) => (read[k + 1] - read[k]) / 0.01);
    const rows = { time: clock, jumps: new Float64Array(many), tau };
    const noise = likeliestNoise(rows, differences);
    expect(noise.reading).toBe("position");
    // The standard error of a variance of 4000 values is 2.2 %; the search stops within a tenth or so.
    expect(Math.sqrt(noise.white)).toBeGreaterThan(0.0018);
    expect(Math.sqrt(noise.white)).toBeLessThan(0.0022);
    const white = whitening(rows, noise).of(differences);
    let [own, next] = [0, 0];
    for (let k = 1; k < many; k++) {
      own += white[k] * white[k];
      next += white[k] * white[k - 1];
    }
    // Neighbours went against each other by one half before.
    expect(Math.abs(next / own)).toBeLessThan(0.05);
  });

  test("changes at the rows are told from changes anywhere between two of them", () => {
    const many = 600;
    const dt = 0.01;
    const clock = Float64Array.from({ length: many }, (_, k) => dt * k);
    const size = 20;
    // Every 20 rows a change; one that comes late by a part u of a row leaves size*u*dt/tau, which fades with tau.
    const changed = (k: number): boolean => k % 20 === 0 && k > 0;
    const jumps = clock.map((_, k) => (changed(k) ? (size * (dt / tau)) ** 2 / 12 : 0));
    const left = (between: boolean, seed: number): Float64Array => {
      const random = uniforms(seed);
      const normal = normalFrom(random);
      let off = 0;
      return clock.map((_, k) => {
        off *= Math.exp(-dt / tau);
        if (between && changed(k)) off += size * (random() - 0.5) * (dt / tau);
        return off + 0.1 * normal();
      });
    };
    const rows = { time: clock, jumps, tau };
    const said = (between: boolean): number => {
      const residuals = left(between, 11);
      return changesBetweenRows(rows, residuals, likeliestNoise(rows, residuals));
    };
    expect(said(false)).toBeLessThan(0.02);
    expect(said(true)).toBeGreaterThan(0.2);
  });

  test("a mean over a row is that of the response within it", () => {
    const input = Float64Array.of(0, 1, -2, 0.5, 3, 0, 1, 1);
    const mean = meanOfHeld(time, input, tau, 0.004);
    for (let i = 1; i < n; i++) {
      // Simpson's rule on a fine clock of the same response.
      const parts = 2000;
      const fine = Float64Array.from(
        { length: parts + 1 },
        (_, k) => time[i - 1] + (k * (time[i] - time[i - 1])) / parts,
      );
      const clock = Float64Array.from(new Set([...time, ...fine])).sort();
      const held = clock.map((t) => input[time.findLastIndex((s) => s <= t)]);
      const response = firstOrderOfHeld(clock, held, tau, 0.004);
      const at = new Map([...clock].map((t, k) => [t, response[k]]));
      let sum = 0;
      fine.forEach((t, k) => {
        sum += at.get(t)! * (k === 0 || k === parts ? 1 : k % 2 === 1 ? 4 : 2);
      });
      expect(mean[i]).toBeCloseTo(sum / (3 * parts), 5);
    }
  });
});
