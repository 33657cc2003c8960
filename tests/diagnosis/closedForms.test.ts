/** Small pieces of the diagnosis against closed forms, each with a clock and a count that do not begin at zero. */
import { describe, expect, test } from "vitest";
import { counterUnwrapped } from "../../lib/diagnosis/counterUnwrapped.js";
import { describeBackEmf, handBackEmf } from "../../lib/diagnosis/handBackEmf.js";
import { standsBetweenSteps } from "../../lib/diagnosis/standstillDoubts.js";
import { yielding } from "../../lib/diagnosis/torqueAccounts.js";
import { stays } from "../../lib/diagnosis/voltageStill.js";
import { Run } from "../../lib/run/run.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { madeRecording } from "../house/madeRecording.js";
import { trialOf } from "./observed.js";

const rows = (n: number, of: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => of(i));
/** A clock that was started long before. */
const clock = (n: number, interval: number, from = 700): Float64Array => rows(n, (i) => from + i * interval);

describe("a counter that runs over its end", () => {
  const ramp = (step: number) => rows(400, (i) => 0.3 + step * i);
  const turn = 2 * Math.PI;
  const wrapped = (angle: Float64Array) => angle.map((a) => a - turn * Math.floor(a / turn));
  test.each([0.05, -0.05, 0.03])("is put together again, turning by %f a row", (step) => {
    const found = counterUnwrapped(wrapped(ramp(step)));
    expect(found.wrap).toBeCloseTo(turn, 9);
    const away = found.angle.map((a, i) => a - found.angle[0] - step * i);
    expect(Math.max(...away.map(Math.abs))).toBeLessThan(1e-9);
  });
  test("is left as it is where nothing jumps or nothing moves", () => {
    for (const angle of [ramp(0.05), rows(400, () => 3)]) expect(counterUnwrapped(angle)).toEqual({ angle });
  });
});

describe("a position in few coarse steps", () => {
  /** Steps of so many radians every ten rows, then rest. */
  const stairs = (size: number, count: number, rest: number): TrialSignals => {
    const n = 10 * count + rest;
    const angle = rows(n, (i) => 40 + size * Math.min(count, Math.floor(i / 10)));
    return { angle, angleStep: size, time: clock(n, 0.01) } as TrialSignals;
  };
  test.each([0.02, 0.5, 3])(
    "of %f rad: the shaft may stand between two of them, for some pauses only",
    (size) => {
      expect(standsBetweenSteps(stairs(size, 5, 15))).toBe(true);
      expect(standsBetweenSteps(stairs(size, 5, 60))).toBe(false);
      // One step is no motion, and thirty tell it well.
      expect(standsBetweenSteps(stairs(size, 1, 15))).toBe(false);
      expect(standsBetweenSteps(stairs(size, 30, 15))).toBe(false);
    },
  );
  test("that go to and fro are noise", () => {
    const shaky = stairs(0.5, 5, 15);
    const angle = shaky.angle!.map((a, i) => a + (i % 2) * 0.5);
    expect(standsBetweenSteps({ ...shaky, angle })).toBe(false);
  });
});

describe("a shaft that stays under a voltage", () => {
  const given = (volts: number, seconds: number) => {
    const time = clock(100, seconds / 99);
    return stays(
      { time } as TrialSignals,
      rows(100, () => volts),
      "voltage",
      0,
    );
  };
  test("is blocked where any motor would turn, and not where it was given less or for a moment", () => {
    expect(given(12, 1).verdict).toBe("blocked");
    // Without a current nothing tells a shaft that is held from a motor that has no voltage at its terminals.
    expect(given(12, 1).missing.join()).toContain("current");
    expect(given(12, 1).confidence).toBeLessThan(0.8);
    expect(given(12, 0.03).verdict).not.toBe("blocked");
    expect(given(0.4, 1).verdict).not.toBe("blocked");
  });
});

describe("a shaft on a spring", () => {
  // k*theta = Kt*i - B*w - J*dw/dt with theta = 0.5 sin(20 t): i follows from it.
  const [stiffness, viscous, inertia] = [2, 0.01, 1e-3];
  const n = 1200;
  const swung = (from: number, sign: number) => {
    const time = clock(n, 5e-4, from);
    const at = (i: number): number => 20 * (time[i] - from);
    const angle = rows(n, (i) => 0.5 * Math.sin(at(i)));
    const speed = rows(n, (i) => 10 * Math.cos(at(i)));
    const turn = rows(n, (i) => -200 * Math.sin(at(i)));
    const input = rows(n, (i) => sign * (stiffness * angle[i] + viscous * speed[i] + inertia * turn[i]));
    return yielding({ time, angle, speed, speedNoise: 1e-3 }, input, 0.15);
  };
  test.each([0, 700, -300])(
    "is accounted for wholly, whichever way the current counts (clock from %f s)",
    (from) => {
      for (const sign of [1, -1]) {
        const found = swung(from, sign);
        expect(found?.sign).toBe(sign);
        expect(found?.unexplained).toBeLessThan(1e-5);
      }
    },
  );
});

describe("the back-EMF of a turn by hand", () => {
  const n = 600;
  // Magnets lag the drive's angle by the offset and by the mismatch times the shaft's angle.
  const turned = (mismatch: number, offset: number) => {
    const time = clock(n, 0.004);
    const angle = rows(n, (i) => 5 + 6 * (i / n) - 0.2 * Math.sin((2 * Math.PI * i) / n));
    const speed = rows(
      n,
      (i) => (angle[Math.min(n - 1, i + 1)] - angle[Math.max(0, i - 1)]) / (i % (n - 1) ? 0.008 : 0.004),
    );
    const phase = (i: number): number => offset + mismatch * angle[i];
    const recording = madeRecording(time, {
      position: angle,
      voltageQ: rows(n, (i) => 0.08 * speed[i] * Math.cos(phase(i))),
      voltageD: rows(n, (i) => 0.08 * speed[i] * Math.sin(phase(i))),
    });
    const trial = { ...trialOf("hand-turn"), to: n };
    return handBackEmf(new Run(recording, [trial]), trial, angle);
  };
  test.each([0.3, -0.8])("stands still without a mismatch, at the offset error of %f rad", (offset) => {
    const found = turned(0, offset)!;
    expect(found.mismatch).toBeCloseTo(0, 2);
    expect(Math.abs(found.offset!)).toBeCloseTo(Math.abs(offset), 2);
    expect(Math.sign(turned(0, -offset)!.offset!)).toBe(-Math.sign(found.offset!));
    expect(describeBackEmf(found, undefined).said).toContain("stands still");
  });
  test.each([4, -6])(
    "turns %f times a shaft turn with that mismatch, and tells no offset error",
    (mismatch) => {
      const found = turned(mismatch, 0.3)!;
      expect(Math.abs(found.mismatch)).toBeCloseTo(Math.abs(mismatch), 1);
      expect(Math.sign(found.mismatch)).toBe(-Math.sign(turned(-mismatch, 0.3)!.mismatch));
      expect(found.offset).toBeUndefined();
      expect(describeBackEmf(found, undefined).said).not.toContain("stands still");
    },
  );
});
