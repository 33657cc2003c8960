import { expect, test } from "vitest";
import { estimateConstants } from "../../lib/estimate/index.js";
import { type Leg, randomTruth, runBench } from "./testBench.js";

const torqueAndCoast: readonly Leg[] = [
  { kind: "torque", seconds: 1, command: 3 },
  { kind: "torque", seconds: 1, command: -3 },
  { kind: "coast", seconds: 2, command: 0 },
];

test("finds the constants of a simulated bench with dq voltages, in their conventions", () => {
  const truth = randomTruth(4);
  const { recording, trials } = runBench(truth, torqueAndCoast, 9, [
    "currentCommand",
    "current",
    "currentD",
    "voltageQ",
    "voltageD",
    "position",
  ]);
  const { electrical, mechanical } = estimateConstants(
    { ...recording, machine: { polePairs: truth.polePairs } },
    trials,
  );
  const psi = truth.polePairs * truth.fluxLinkage;
  expect(electrical.fluxLinkage!.value / truth.fluxLinkage).toBeCloseTo(1, 2);
  expect(electrical.torqueConstant!.value / (1.5 * psi)).toBeCloseTo(1, 2);
  expect(electrical.backEmfConstant!.value / (Math.sqrt(3) * psi)).toBeCloseTo(1, 2);
  expect((electrical.kv!.value * Math.sqrt(3) * psi * 2 * Math.PI) / 60).toBeCloseTo(1, 2);
  expect(electrical.resistance!.value / truth.resistance).toBeCloseTo(1, 1);
  expect(mechanical.inertia!.value / truth.inertia).toBeCloseTo(1, 2);
  expect(Math.abs(mechanical.coulombFriction!.value / truth.coulomb - 1)).toBeLessThan(0.15);
  expect(mechanical.coulombFriction!.unit).toBe("N.m");
});

test("a recording with nothing to use says what is missing instead of failing", () => {
  const { recording } = runBench(randomTruth(1), torqueAndCoast, 1);
  const bare = estimateConstants({ ...recording, channels: {} }, []);
  expect(bare.routes).toEqual([]);
  expect(bare.missing.map((m) => m.quantity)).toContain("inertia");
});
