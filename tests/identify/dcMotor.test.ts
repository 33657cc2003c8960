import { describe, expect, test } from "vitest";
import { armature } from "../../lib/identify/electrical/dc/armature.js";
import { breakawayInput } from "../../lib/identify/electrical/dc/breakawayInput.js";
import { dcResponse } from "../../lib/identify/electrical/dc/dcResponse.js";
import { firstOrderOfHeld } from "../../lib/identify/electrical/dc/heldInput.js";
import { staticCurve } from "../../lib/identify/electrical/dc/staticCurve.js";
import { estimateConstants } from "../../lib/identify/index.js";
import type { ChannelRole, Recording } from "../../lib/recording/types.js";
import { type DcTruth, held, lawOf, runDc } from "./dcBench.js";

const holds = (e: { low: number; high: number } | undefined, truth: number): void => {
  expect(e).toBeDefined();
  expect(e!.low).toBeLessThanOrEqual(truth);
  expect(e!.high).toBeGreaterThanOrEqual(truth);
};
const found = <T extends object>(r: T | { readonly missing: string }): Exclude<T, { missing: string }> => {
  if ("missing" in r) throw new Error(`not determined: needs ${r.missing}`);
  return r as Exclude<T, { missing: string }>;
};

/** A recording made of plain columns. */
function recordingOf(columns: Partial<Record<ChannelRole, Float64Array>>, time: Float64Array): Recording {
  const channels = Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      { role, name: role, sourceUnit: "1", recognisedBy: "test", data },
    ]),
  );
  return { path: "made", time, channels, machine: {}, drive: {}, encoder: {}, findings: [] };
}

describe("worked examples of textbooks", () => {
  // Nise, Control Systems Engineering, example 2.23 (from memory): stall torque 500 N m and no-load speed 50 rad/s at
  // 100 V, J = 12 kg m2, D = 10 N m s/rad at the armature: Kt/Ra = 5, Kb = 2, angle over voltage 0.417/(s(s + 1.667)),
  // that is 0.25 rad/s per V and 0.6 s.
  test("Nise, example 2.23: 0.25 rad/s per V and 0.6 s", () => {
    const truth: DcTruth = {
      resistance: 0.4,
      inductance: 1e-4,
      constant: 2,
      inertia: 12,
      viscous: 10,
      coulomb: 0,
      currentNoise: 0.5,
      disturbance: 2,
      disturbanceTime: 0.05,
      counts: 0,
    };
    expect(lawOf(truth).gain).toBeCloseTo(0.25, 12);
    expect(lawOf(truth).timeConstant).toBeCloseTo(0.6, 12);
    const log = runDc(
      truth,
      held([
        [0, 20],
        [100, 300],
        [50, 300],
        [-80, 300],
      ]),
      0.01,
      5,
    );
    const fit = found(dcResponse({ ...log, input: log.voltage }));
    holds(fit.gain, 0.25);
    holds(fit.timeConstant, 0.6);
    expect(fit.gain.high / fit.gain.low).toBeLessThan(1.06);
    const arm = found(armature(log));
    holds(arm.resistance, 0.4);
    holds(arm.backEmf, 2);
  });

  // The position example of a university's control tutorials for Matlab and Simulink (from memory): J = 3.2284e-6 kg
  // m2, b = 3.5077e-6 N m s, K = 0.0274, R = 4 Ohm, L = 2.75e-6 H: 35.8 rad/s per V and 16.9 ms.
  test("a small motor of a control tutorial: every constant from voltage, current and counts", () => {
    const truth: DcTruth = {
      resistance: 4,
      inductance: 2.75e-6,
      constant: 0.0274,
      inertia: 3.2284e-6,
      viscous: 3.5077e-6,
      coulomb: 4e-4,
      currentNoise: 0.004,
      disturbance: 1e-5,
      disturbanceTime: 0.01,
      counts: 4096,
    };
    const law = lawOf(truth);
    expect(law.gain).toBeCloseTo(35.83, 2);
    expect(law.timeConstant).toBeCloseTo(0.016885, 5);
    const log = runDc(
      truth,
      held([
        [0, 50],
        [6, 150],
        [3, 150],
        [-5, 150],
        [-2, 150],
        [4, 150],
        [0, 80],
      ]),
      1e-3,
      3,
    );
    const { electrical, mechanical, ratios } = estimateConstants(
      recordingOf({ voltage: log.voltage, current: log.current, position: log.position }, log.time),
      [],
    );
    holds(electrical.speedPerVolt, law.gain);
    holds(mechanical.speedTimeConstant, law.timeConstant);
    holds(electrical.deadBandVoltage, law.deadBand);
    holds(electrical.armatureResistance, 4);
    holds(electrical.armatureConstant, 0.0274);
    holds(ratios.inertiaOverTorqueConstant, truth.inertia / truth.constant);
    holds(mechanical.inertia, truth.inertia);
    holds(mechanical.coulombFriction, truth.coulomb);
    holds(mechanical.viscousFriction, truth.viscous);
    expect(electrical.speedPerVolt!.unit).toBe("rad/s/V");
  });
});

const motor: DcTruth = {
  resistance: 1.2,
  inductance: 3e-4,
  constant: 0.045,
  inertia: 4e-5,
  viscous: 1e-5,
  coulomb: 0.012,
  currentNoise: 0.02,
  disturbance: 2e-4,
  disturbanceTime: 0.03,
  counts: 2000,
};

describe("what a record can tell and what it cannot", () => {
  test("a bridge that opens at no voltage: the coast-downs follow another law and are left out", () => {
    const levels = [
      [0, 20],
      [9, 100],
      [0, 100],
      [6, 100],
      [0, 100],
      [-9, 100],
      [-4, 100],
      [0, 100],
    ] as const;
    for (const opens of [true, false]) {
      const log = runDc({ ...motor, opens }, held(levels), 5e-3, 11);
      const fit = found(dcResponse({ ...log, input: log.voltage }));
      expect(fit.withoutInput).toBe(opens ? "left out" : "same law");
      holds(fit.gain, lawOf(motor).gain);
      holds(fit.timeConstant, lawOf(motor).timeConstant);
      holds(fit.deadBand, lawOf(motor).deadBand);
    }
  });

  test("one level of voltage does not tell friction from gain, and says so", () => {
    const log = runDc(
      motor,
      held([
        [0, 40],
        [9, 200],
      ]),
      5e-3,
      12,
    );
    const constants = estimateConstants(
      recordingOf({ voltage: log.voltage, speed: log.speed }, log.time),
      [],
    );
    expect(constants.electrical.deadBandVoltage).toBeUndefined();
    expect(constants.electrical.speedPerVolt!.convention).toContain("dead band is not taken out");
    expect(constants.missing.find((m) => m.quantity === "deadBandVoltage")?.needs).toContain(
      "several levels",
    );
    expect(constants.missing.find((m) => m.quantity === "armatureResistance")?.needs).toContain("current");
  });

  test("a speed that does not follow its voltage gives no gain and no time constant", () => {
    const log = runDc(
      motor,
      held([
        [0, 40],
        [9, 100],
        [4, 100],
        [-6, 100],
      ]),
      5e-3,
      13,
    );
    const speed = log.time.map((t) => 100 * Math.sin(7 * t));
    const fit = dcResponse({ time: log.time, input: log.voltage, speed });
    expect("missing" in fit && fit.missing).toContain("follows its input");
    expect("missing" in dcResponse({ time: log.time, input: log.time.map(() => 0), speed })).toBe(true);
    expect("missing" in dcResponse({ time: log.time, input: log.voltage, speed: speed.map(() => 0) })).toBe(
      true,
    );
  });

  test("two false samples at the moment of switching move nothing", () => {
    const log = runDc(
      motor,
      held([
        [0, 60],
        [9, 140],
      ]),
      5e-3,
      14,
    );
    const plain = found(dcResponse({ ...log, input: log.voltage }));
    const speed = log.speed.slice();
    speed[61] = 2 * speed[199];
    speed[62] = 2.1 * speed[199];
    const spoilt = found(dcResponse({ time: log.time, input: log.voltage, speed }));
    expect(spoilt.gain.value / plain.gain.value).toBeCloseTo(1, 2);
    holds(spoilt.timeConstant, plain.timeConstant.value);
  });

  test("duty times the logged supply is a voltage; duty alone gives a speed per full duty", () => {
    const levels = [
      [0, 20],
      [0.9, 100],
      [0.5, 100],
      [-0.8, 100],
      [-0.4, 100],
    ] as const;
    const duty = held(levels);
    const supply = duty.map((_, k) => 12 + 0.3 * Math.sin(k / 40));
    const log = runDc(
      motor,
      duty.map((d, k) => d * supply[k]),
      5e-3,
      15,
    );
    const volts = estimateConstants(
      recordingOf({ duty, voltageBus: supply, speed: log.speed }, log.time),
      [],
    );
    holds(volts.electrical.speedPerVolt, lawOf(motor).gain);
    expect(volts.electrical.speedPerDuty).toBeUndefined();
    const alone = estimateConstants(recordingOf({ duty, speed: log.speed }, log.time), []);
    holds(alone.electrical.speedPerDuty, 12 * lawOf(motor).gain);
    holds(alone.electrical.deadBandDuty, lawOf(motor).deadBand / 12);
  });

  test("a current logged as a magnitude gets the sign of the voltage", () => {
    const log = runDc(
      motor,
      held([
        [0, 20],
        [9, 100],
        [5, 100],
        [-9, 100],
        [-4, 100],
      ]),
      5e-3,
      16,
    );
    const columns = { voltage: log.voltage, current: log.current.map(Math.abs), speed: log.speed };
    const { electrical } = estimateConstants(recordingOf(columns, log.time), []);
    expect(electrical.armatureConstant!.value / motor.constant).toBeCloseTo(1, 1);
  });

  test("breakaway lies between standing and setting out in a slow ramp", () => {
    const ramp = Float64Array.from({ length: 800 }, (_, k) => k / 200);
    const log = runDc({ ...motor, disturbance: 0 }, ramp, 5e-3, 17);
    const at = breakawayInput({ ...log, input: log.voltage });
    holds({ low: at!.low - 0.08, high: at!.high }, lawOf(motor).deadBand);
  });
});

test("the response to a held input is exact at uneven times and with a delay of part of a row", () => {
  const time = Float64Array.of(0, 0.1, 0.25, 0.3, 0.6);
  const input = Float64Array.of(0, 2, 2, -1, -1);
  const y = firstOrderOfHeld(time, input, 0.2, 0.02);
  // By hand: 2 from 0.12 s, -1 from 0.32 s.
  const at25 = 2 * (1 - Math.exp(-0.13 / 0.2));
  const at32 = 2 + (at25 - 2) * Math.exp(-0.07 / 0.2);
  expect(y[2]).toBeCloseTo(at25, 12);
  expect(y[4]).toBeCloseTo(-1 + (at32 + 1) * Math.exp(-0.28 / 0.2), 12);
});

test("steady points: a line gives gain and dead band, a bent curve is not forced into one", () => {
  const input = Float64Array.from({ length: 21 }, (_, k) => (k - 10) / 2);
  const line = input.map(
    (u, k) => (Math.abs(u) > 0.8 ? 20 * (u - 0.8 * Math.sign(u)) : 0) + 0.05 * Math.sin(9 * k),
  );
  const fit = found(staticCurve(input, line));
  holds(fit.gain, 20);
  holds(fit.deadBand, 0.8);
  holds(fit.breakaway, 0.8);
  const bent = staticCurve(
    input,
    input.map((u) => 30 * Math.sign(u) * Math.sqrt(Math.abs(u))),
  );
  expect("missing" in bent && bent.missing).toContain("slope changes");
});
