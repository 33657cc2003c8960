import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { type Constants, estimateConstants, fitSteps, type StepOfTrial } from "../../lib/estimate/index.js";
import { cutTrials, readRecordings } from "../../lib/recording/index.js";
import { sharedFolder } from "../house/shared.js";

// Real recordings: public repository malik-robert/HSM150-data, folder Data/Identification (torque steps of two coupled motors, 2022-03-09).
// Catalogue of one motor, stored in the same files: J 1.2e-4 kg m2, B 7.03e-5 N m s/rad (J/B = 1.71 s), torque constant 0.0458 N m/A.
const rig = sharedFolder("recordings/two-motor-rig");
const files = [
  "torque_step_neg_0.045_2.mat",
  "torque_step_neg_0.04_1.mat",
  "torque_step_pos_0.065_3.mat",
  "torque_step_pos_0.06_1.mat",
];
const columns = ["time", "positionCommand", "position", "speed", "torqueCommand", "torque", "current"];

describe.skipIf(rig === undefined)("constants of four real torque-step recordings", () => {
  const runs: { name: string; constants: Constants; steps: StepOfTrial[] }[] = [];

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
    for (const { name, constants, steps } of runs) {
      const { inertia, coulombFriction, viscousFriction, mechanicalTimeConstant } = constants.mechanical;
      const show = (e?: { value: number; low: number; high: number }): string =>
        e === undefined ? "none" : [e.value, e.low, e.high].map((x) => x.toPrecision(3)).join(" ");
      console.log(name, "J", show(inertia), "Tc", show(coulombFriction), "B", show(viscousFriction), "J/B", show(mechanicalTimeConstant), "tau", steps.map((s) => `${s.fit.model} ${show(s.fit.timeConstant)}`).join(" | "));
      for (const r of constants.routes) if (/oulombFriction$|iscousFriction$|torqueC/.test(r.quantity)) console.log("   ", r.quantity, show(r.estimate), r.estimate.method);
      for (const f of constants.findings) console.log("   ", f.code, f.message);
    }
  }, 60000);

  test("x", () => {
    expect(runs).toHaveLength(4);
  });
});
