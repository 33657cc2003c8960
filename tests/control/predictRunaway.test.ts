import { expect, test } from "vitest";
import { growthFromTrial, growthTime, predictRunaway } from "../../lib/control/index.js";
import { diagnose } from "../../lib/diagnosis/index.js";
import type { Bench, Segment } from "../../lib/motor/index.js";
import { runOf } from "../../lib/run/index.js";
import { speedTrial, torqueTrial } from "../../lib/simulation/index.js";
import { goodBench, goodRun } from "../recording/bench.js";

const drive = { speedLoop: { kp: 0.03, ki: 0.3 }, currentLimit: 3 };
const torque = torqueTrial({ current: 1.2, forward: 0.6, reverse: 0.6 });
const both = [...torque, { kind: "coast" as const, duration: 2 }, ...speedTrial({ speed: 60 })];
/** Half a turn off: g = -1. */
const reversed: Bench = {
  ...goodBench,
  drive: { ...goodBench.drive, alignment: { kind: "disturbed", by: Math.PI } },
};
const runFrom = (bench: Bench, program: readonly Segment[], facts = drive) => {
  const recording = goodRun(program, bench);
  return runOf({ ...recording, drive: { ...recording.drive, ...facts } });
};

test("the growth of a runaway and its rise at the current limit come from the order's own torque trial, within the truth of the bench", () => {
  const run = runFrom(reversed, torque);
  const { growthTime: growth, limited } = predictRunaway(run)!;
  const { motor } = goodBench;
  const plant = {
    inertia: motor.inertia,
    torqueConstant: 1.5 * motor.polePairs * motor.fluxLinkage,
    torqueGain: -1,
    viscousFriction: motor.viscousFriction,
  };
  const truth = growthTime(plant, drive.speedLoop)!.value;
  expect(growth!.value / truth).toBeGreaterThan(0.95);
  expect(growth!.value / truth).toBeLessThan(1.05);
  const rise = (plant.torqueConstant * 3 - motor.coulombFriction) / motor.inertia;
  expect(limited).toMatchObject({ current: 3, stated: true });
  expect(limited!.acceleration.value / rise).toBeGreaterThan(0.95);
  expect(limited!.acceleration.value / rise).toBeLessThan(1.05);
  // The forecast says these numbers and no others.
  const { recordings } = diagnose([{ recording: run.logged, trials: run.cut.trials }]);
  const { forecast } = recordings[0].trials.find((trial) => trial.kind === "torque")!;
  expect(forecast?.verdict).toBe("runaway");
  expect(forecast?.growthTime).toEqual(growth);
  expect(forecast?.limitedAcceleration).toEqual(limited!.acceleration);
});

test("a sound order has none, and without gains there is no growth time", () => {
  expect(predictRunaway(runFrom(goodBench, torque))).toBeUndefined();
  const run = runFrom(reversed, torque, { currentLimit: 3 } as typeof drive);
  const without = runOf({ ...run.logged, drive: { currentLimit: 3 } });
  expect(predictRunaway(without)?.growthTime).toBeUndefined();
  expect(predictRunaway(without)?.limited).toBeDefined();
});

test("the growth that a verdict shows is the one that the loop reports", () => {
  const run = runFrom(reversed, both);
  const trial = run.trial("speed")!;
  const { recordings } = diagnose([{ recording: run.logged, trials: run.cut.trials }]);
  const verdict = recordings[0].trials.find(({ kind }) => kind === "speed")!;
  expect(verdict.verdict).toBe("runaway");
  expect(verdict.growth).toEqual(growthFromTrial(run, trial));
  const shown = verdict.evidence.find(({ quantity }) => quantity.startsWith("growth"));
  expect(shown?.value).toBe(verdict.growth?.growthTime?.value);
});
