import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { run } from "../../lib/cli/diagnose.js";
import { cutTrials, type Diagnosis, readRecordings } from "../../lib/index.js";
import { capture } from "../house/capture.js";
import { sharedFolder } from "../house/shared.js";

// Real recordings: public repository malik-robert/HSM150-data, folder Data/Identification (torque steps of two coupled
// motors, 2022-03-09). Catalogue: encoder with 2500 lines. Torque is held for 10 s, then stepped for 10 s.
const rig = sharedFolder("recordings/two-motor-rig");
const files = [
  "torque_step_neg_0.045_2.mat",
  "torque_step_neg_0.04_1.mat",
  "torque_step_pos_0.065_3.mat",
  "torque_step_pos_0.06_1.mat",
];

describe.skipIf(rig === undefined)("four real torque-step recordings", () => {
  const columns = ["time", "positionCommand", "position", "speed", "torqueCommand", "torque", "current"];
  const map = columns.flatMap((role, i) => ["--map", `${role}=#${i + 1}`]);

  test.each(files)("%s: a torque trial, tracking, sense with, the step at 10 s", async (name) => {
    const { out, status } = await capture(run, [join(rig as string, name), "--json", ...map]);
    expect(status).toBe(0);
    const diagnosis = JSON.parse(out) as Diagnosis;
    expect(diagnosis.recordings).toHaveLength(1);
    const trials = diagnosis.recordings[0].trials;
    expect(trials.length).toBeGreaterThan(0);
    for (const trial of trials)
      expect(trial).toMatchObject({ kind: "torque", verdict: "tracking", sense: "with" });
  });

  test.each(files)(
    "%s: both torque steps found, the second at 10 s; the position grid says 2500 lines",
    async (name) => {
      const { recordings } = await readRecordings([join(rig as string, name)], {
        map: Object.fromEntries(columns.map((role, i) => [role, `#${i + 1}`])),
      });
      const [recording] = recordings;
      expect(recording.time).toHaveLength(20000);
      const { trials } = cutTrials(recording);
      const torque = trials.filter((trial) => trial.kind === "torque");
      const steps = torque.flatMap((trial) => trial.steps.map((step) => step.time));
      expect(steps.some((time) => Math.abs(time - 10) < 0.01)).toBe(true);
      expect(Math.min(...torque.map((trial) => trial.start))).toBeLessThan(0.1);
      expect(Math.max(...torque.map((trial) => trial.end))).toBeGreaterThan(19.9);
    },
  );
});
