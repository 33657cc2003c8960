import fc from "fast-check";
import { expect, test } from "vitest";
import { type ControllerForm, convertGains, fromForm, toForm } from "../../lib/control/index.js";

test("each form alone, by hand", () => {
  // 1 A per rev/min is 60/(2 pi) A per rad/s
  expect(fromForm({ kp: 1, ki: 2 }, { speedUnit: "{rev}/min" }).kp).toBeCloseTo(9.549296585513721, 12);
  expect(fromForm({ kp: 1, ki: 2 }, { speedUnit: "{rev}/min" }).ki).toBeCloseTo(19.098593171027442, 12);
  // ideal: ki = kp/ti
  expect(fromForm({ kp: 0.2, ti: 0.05 }, { structure: "ideal" })).toEqual({ kp: 0.2, ki: 4 });
  // per sample: a sum grows by e each sample
  expect(fromForm({ kp: 0.2, ki: 0.001 }, { time: "sampled", sampleTime: 0.0005 })).toEqual({
    kp: 0.2,
    ki: 2,
  });
  // 0.1 N m per rad/s at 0.5 N m/A is 0.2 A per rad/s
  expect(fromForm({ kp: 0.1, ki: 1 }, { output: "N.m", torqueConstant: 0.5 })).toEqual({ kp: 0.2, ki: 2 });
  // RMS: 1 A RMS is sqrt(2) A peak
  expect(fromForm({ kp: 1, ki: 1 }, { output: "A RMS" }).kp).toBeCloseTo(Math.SQRT2, 12);
  // 1 A per electrical rad/s at 4 pole pairs is 4 A per mechanical rad/s
  expect(fromForm({ kp: 1, ki: 1 }, { speedUnit: "electrical rad/s", polePairs: 4 }).kp).toBeCloseTo(4, 12);
});

test("there and back through any pair of forms changes nothing", () => {
  const form = fc.record({
    structure: fc.constantFrom("parallel" as const, "ideal" as const),
    speedUnit: fc.constantFrom("rad/s" as const, "{rev}/min" as const, "electrical rad/s" as const),
    output: fc.constantFrom("A" as const, "A RMS" as const, "N.m" as const),
    time: fc.constantFrom("continuous" as const, "sampled" as const),
    sampleTime: fc.constantFrom(1e-4, 1e-3),
    polePairs: fc.constantFrom(1, 4, 7),
    torqueConstant: fc.constantFrom(0.05, 1.3),
  });
  const gain = fc.double({ min: 1e-3, max: 1e3, noNaN: true });
  fc.assert(
    fc.property(form, form, gain, gain, (a: ControllerForm, b: ControllerForm, kp, ki) => {
      const there = convertGains(toForm({ kp, ki }, a), a, b);
      const back = fromForm(there, b);
      expect(Math.abs(back.kp / kp - 1)).toBeLessThan(1e-12);
      expect(Math.abs(back.ki / ki - 1)).toBeLessThan(1e-12);
    }),
    { seed: 6, numRuns: 200 },
  );
});

test("a form that lacks its number says which", () => {
  expect(() => fromForm({ kp: 1, ki: 1 }, { output: "N.m" })).toThrow(/torqueConstant/);
  expect(() => fromForm({ kp: 1, ki: 1 }, { speedUnit: "electrical rad/s" })).toThrow(/polePairs/);
  expect(() => fromForm({ kp: 1, ki: 1 }, { time: "sampled" })).toThrow(/sampleTime/);
  expect(() => fromForm({ kp: 1, ki: 1 }, { structure: "ideal" })).toThrow(/ti/);
  expect(() => fromForm({ kp: 1 })).toThrow(/ki/);
  expect(() => toForm({ kp: 1, ki: 0 }, { structure: "ideal" })).toThrow(/integral gain of 0/);
});
