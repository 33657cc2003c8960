import { describe, expect, test } from "vitest";
import { fitStepResponse, stepMeasures } from "../../../lib/identify/index.js";

/** Unit-step response of omega²/(s² + 2 zeta omega s + omega²), zeta < 1. */
function second(zeta: number, omega: number, t: number): number {
  const root = Math.sqrt(1 - zeta * zeta);
  return (
    1 -
    Math.exp(-zeta * omega * t) * (Math.cos(root * omega * t) + (zeta / root) * Math.sin(root * omega * t))
  );
}
const sampled = (seconds: number, f: (t: number) => number) => {
  const time = Float64Array.from({ length: 4001 }, (_, i) => (i * seconds) / 4000);
  return { time, values: time.map(f) };
};

describe("N. S. Nise, Control Systems Engineering, section 4.6, the example with G(s) = 100/(s² + 15 s + 100)", () => {
  // Printed there: omega_n = 10, zeta = 0.75, Tp = 0.475 s, %OS = 2.838, Ts = 0.533 s, Tr = 0.23 s.
  const { time, values } = sampled(3, (t) => second(0.75, 10, t));
  const measures = stepMeasures(time, values);
  test("peak time and overshoot to the printed digits", () => {
    expect(measures.peakTime?.value).toBeCloseTo(0.475, 3);
    expect(measures.overshoot?.value).toBeCloseTo(2.838, 2);
  });
  test("rise time to the printed digits", () => {
    expect(measures.riseTime?.value).toBeCloseTo(0.23, 2);
  });
  test("settling time: the printed 4/(zeta omega) is the envelope's; the response itself stays within 2 % from 0.574 s on", () => {
    const fit = fitStepResponse(time, values);
    expect(4 * (fit.timeConstant?.value ?? 0)).toBeCloseTo(0.533, 3);
    // Closed form: the last crossing of 1.02, found here by bisection.
    let low = 0.475;
    let high = 0.7;
    for (let k = 0; k < 60; k++) {
      const middle = (low + high) / 2;
      if (second(0.75, 10, middle) > 1.02) low = middle;
      else high = middle;
    }
    expect(measures.settlingTime2?.value).toBeCloseTo(low, 4);
  });
  test("damping ratio and natural frequency", () => {
    const fit = fitStepResponse(time, values);
    expect(fit.model).toBe("second-order-underdamped");
    expect(fit.dampingRatio?.value).toBeCloseTo(0.75, 6);
    expect(fit.naturalFrequency?.value).toBeCloseTo(10, 5);
  });
});

describe("K. Ogata, Modern Control Engineering, chapter 5, the example with zeta = 0.6 and omega_n = 5 rad/s", () => {
  // Printed there (from memory): peak time 0.785 s, maximum overshoot 9.5 %, settling 1.33 s (2 %: 4/sigma) and 1 s (5
  // %: 3/sigma), rise time from 0 to 100 % 0.55 s.
  const { time, values } = sampled(4, (t) => second(0.6, 5, t));
  const measures = stepMeasures(time, values);
  test("peak time and overshoot", () => {
    expect(measures.peakTime?.value).toBeCloseTo(0.785, 3);
    expect(measures.overshoot?.value).toBeCloseTo(9.5, 1);
  });
  test("settling by the envelope", () => {
    const sigma = 1 / (fitStepResponse(time, values).timeConstant?.value ?? 0);
    expect(4 / sigma).toBeCloseTo(1.33, 2);
    expect(3 / sigma).toBeCloseTo(1, 2);
  });
  test("rise to 100 % (first crossing of the final value)", () => {
    const at = values.findIndex((v) => v >= 1);
    expect(time[at]).toBeCloseTo(0.55, 2);
  });
});

describe("G. F. Franklin, J. D. Powell, A. Emami-Naeini, Feedback Control of Dynamic Systems, chapter 3 (rules of thumb, from memory)", () => {
  // Overshoot 16 % at zeta = 0.5 and 5 % at 0.7; rise time 1.8/omega_n as a mean over usual damping.
  test.each([
    [0.5, 16],
    [0.7, 5],
  ])("overshoot at zeta %d is about %d %", (zeta, percent) => {
    const { time, values } = sampled(3, (t) => second(zeta, 10, t));
    expect(Math.abs((stepMeasures(time, values).overshoot?.value ?? 0) - percent)).toBeLessThan(0.5);
  });
  test("rise time near 1.8/omega_n at zeta 0.5 (the rule is rough: within 15 %)", () => {
    const { time, values } = sampled(3, (t) => second(0.5, 10, t));
    const rise = stepMeasures(time, values).riseTime?.value ?? 0;
    expect(Math.abs(rise / 0.18 - 1)).toBeLessThan(0.15);
  });
});

describe("closed forms of the first order", () => {
  const T = 0.1;
  const { time, values } = sampled(2, (t) => 1 - Math.exp(-t / T));
  const measures = stepMeasures(time, values);
  test("rise T ln 9, delay T ln 2, settling T ln 50 and T ln 20, no overshoot", () => {
    expect(measures.riseTime?.value).toBeCloseTo(T * Math.log(9), 5);
    expect(measures.delayTime?.value).toBeCloseTo(T * Math.log(2), 5);
    expect(measures.settlingTime2?.value).toBeCloseTo(T * Math.log(50), 4);
    expect(measures.settlingTime5?.value).toBeCloseTo(T * Math.log(20), 4);
    expect(measures.overshoot?.value).toBe(0);
    expect(measures.missing.peakTime).toContain("no overshoot");
  });
  test("IEEE Std 181: transition duration, mid-reference instant, levels", () => {
    expect(measures.transition?.duration).toBeCloseTo(T * Math.log(9), 5);
    expect(measures.transition?.instant50).toBeCloseTo(T * Math.log(2), 5);
    expect(measures.transition?.polarity).toBe("positive");
    expect(measures.transition?.levels.high).toBeCloseTo(1, 2);
  });
});

describe("closed forms of the second order over a range of damping", () => {
  test.each([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])("zeta = %d", (zeta) => {
    const omega = 20;
    const { time, values } = sampled(60 / (zeta * omega) / 4, (t) => second(zeta, omega, t));
    const measures = stepMeasures(time, values, { final: 1 });
    const root = Math.sqrt(1 - zeta * zeta);
    expect((measures.overshoot?.value ?? 0) / (100 * Math.exp((-Math.PI * zeta) / root))).toBeCloseTo(1, 3);
    expect((measures.peakTime?.value ?? 0) / (Math.PI / (omega * root))).toBeCloseTo(1, 3);
    const fit = fitStepResponse(time, values);
    expect(fit.model).toBe("second-order-underdamped");
    expect((fit.dampingRatio?.value ?? 0) / zeta).toBeCloseTo(1, 6);
  });
});
