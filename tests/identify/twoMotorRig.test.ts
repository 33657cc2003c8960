import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { type Constants, estimateConstants, fitSteps, type StepOfTrial } from "../../lib/identify/index.js";
import { cutTrials, readRecordings } from "../../lib/recording/index.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { sharedFolder } from "../house/shared.js";

// Real recordings: public repository malik-robert/HSM150-data, folder Data/Identification (torque steps of two coupled
// motors, 2022-03-09). Catalogue of one motor, stored in the same files: J 1.2e-4 kg m2, B 7.03e-5 N m s/rad
// (J/B = 1.71 s), torque constant 0.0458 N m/A.
const rig = sharedFolder("recordings/two-motor-rig");
const files = [
  "torque_step_neg_0.045_2.mat",
  "torque_step_neg_0.04_1.mat",
  "torque_step_pos_0.065_3.mat",
  "torque_step_pos_0.06_1.mat",
];
const columns = ["time", "positionCommand", "position", "speed", "torqueCommand", "torque", "current"];

/** Weighted mean of estimates and the Birge ratio: scatter between runs beside what their intervals allow. */
function agreement(estimates: readonly Estimate[]): { mean: number; birge: number } {
  const weights = estimates.map((e) => 1 / ((e.high - e.low) / 2 / 1.96) ** 2);
  const total = weights.reduce((s, w) => s + w, 0);
  const mean = estimates.reduce((s, e, k) => s + (weights[k] * e.value) / total, 0);
  const chi2 = estimates.reduce((s, e, k) => s + weights[k] * (e.value - mean) ** 2, 0);
  return { mean, birge: Math.sqrt(chi2 / (estimates.length - 1)) };
}

describe.skipIf(rig === undefined)("constants of four real torque-step recordings", () => {
  const runs: { name: string; constants: Constants; steps: readonly StepOfTrial[] }[] = [];
  const all = (pick: (c: Constants) => Estimate | undefined): Estimate[] =>
    runs.map((r) => pick(r.constants)).filter((e) => e !== undefined);
  const steady = (quantity: string): { name: string; estimate: Estimate }[] =>
    runs.flatMap(({ name, constants }) =>
      constants.routes
        .filter((r) => r.quantity === quantity && /^steady points at 2 speeds$/.test(r.estimate.method))
        .map(({ estimate }) => ({ name, estimate })),
    );

  beforeAll(async () => {
    for (const name of files) {
      const { recordings } = await readRecordings([join(rig as string, name)], {
        map: Object.fromEntries(columns.map((role, i) => [role, `#${i + 1}`])),
      });
      const { trials } = cutTrials(recordings[0]);
      runs.push({
        name,
        constants: estimateConstants(recordings[0], trials),
        steps: fitSteps(recordings[0], trials),
      });
    }
  }, 120000);

  test("the torque channel is the current times the catalogue's torque constant", () => {
    for (const kt of all((c) => c.electrical.torqueConstant)) expect(kt.value).toBeCloseTo(0.0458, 4);
    expect(runs).toHaveLength(4);
  });

  test("both steps of each run are first order; their eight time constants agree within their intervals", () => {
    const constants = runs.flatMap((r) => r.steps.map((s) => s.fit.timeConstant));
    expect(constants).toHaveLength(8);
    for (const { steps } of runs) for (const s of steps) expect(s.fit.model).toBe("first-order");
    for (const tau of constants) {
      expect(tau!.value).toBeGreaterThan(0.8);
      expect(tau!.value).toBeLessThan(1.8);
      expect(tau!.low).toBeLessThan(tau!.value);
    }
    // From rest the first steps of the four runs do not agree with each other (friction settles while the rig runs in);
    // the second steps do.
    const second = runs.map((r) => r.steps[1].fit.timeConstant!);
    const { mean, birge } = agreement(second);
    expect(mean).toBeGreaterThan(1.1);
    expect(mean).toBeLessThan(1.5);
    expect(birge).toBeLessThan(1.5);
  });

  test("J/B of the coupled shaft holds the catalogue's 1.71 s of one motor in every run, and the runs agree", () => {
    const tau = all((c) => c.mechanical.mechanicalTimeConstant);
    expect(tau).toHaveLength(4);
    for (const e of tau) {
      expect(e.low).toBeLessThan(1.72);
      expect(e.high).toBeGreaterThan(1.71);
    }
    expect(agreement(tau).birge).toBeLessThan(1.5);
  });

  test("viscous friction from the two operating points holds the catalogue value, and the runs agree", () => {
    const viscous = steady("viscousFriction").map((r) => r.estimate);
    expect(viscous.length).toBeGreaterThanOrEqual(3);
    for (const e of viscous) {
      expect(e.low).toBeLessThan(7.03e-5);
      expect(e.high).toBeGreaterThan(7.03e-5);
    }
    expect(agreement(viscous).birge).toBeLessThan(1.5);
  });

  test("Coulomb friction agrees between the runs of one direction and differs between the directions", () => {
    const coulomb = steady("coulombFriction");
    const up = coulomb.filter((r) => r.name.includes("pos")).map((r) => r.estimate);
    const down = coulomb.filter((r) => r.name.includes("neg")).map((r) => r.estimate);
    expect(up.length).toBe(2);
    expect(down.length).toBeGreaterThanOrEqual(1);
    expect(agreement(up).birge).toBeLessThan(1.5);
    expect(agreement(up).mean).toBeGreaterThan(0.038);
    expect(agreement(up).mean).toBeLessThan(0.044);
    for (const d of down) for (const u of up) expect(d.high).toBeLessThan(u.low);
  });

  test("inertia lies between one motor's catalogue value and two with their coupling, in every run's interval", () => {
    for (const e of all((c) => c.mechanical.inertia)) {
      expect(e.high).toBeGreaterThan(1.2e-4);
      expect(e.low).toBeLessThan(2.5e-4);
    }
  });
});
