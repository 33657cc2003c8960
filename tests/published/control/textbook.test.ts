/**
 * Published relations of control, each beside its source. "From memory" marks a value that could not be looked up here;
 * each such value is also derived in closed form, or checked by an independent route in the same test.
 */
import { expect, test } from "vitest";
import {
  closedLoopPoles,
  frequencyResponse,
  integratingRule,
  margins,
  polePlacement,
  polynomialRoots,
  routhTable,
  sensitivityLimited,
  stepPrediction,
  stepResponse,
  symmetricalOptimum,
  type TransferFunction,
} from "../../../lib/control/index.js";
import { fixLoop } from "../../../lib/control/models/speedLoop.js";
import { sensitivityWithin } from "../../../lib/control/tuning/gainRules.js";
import { characteristicPolynomial } from "../../../lib/numeric/systems/transferFunction.js";

const of = (system: TransferFunction, from = 1e-3, to = 1e3) =>
  margins((w) => frequencyResponse(system, w), { from, to });
const degrees = (radians: number) => (radians * 180) / Math.PI;

test("Routh: the general quartic example and a cubic's range of gain", () => {
  // K. Ogata, Modern Control Engineering, Routh's stability criterion: s^4 + 2 s^3 + 3 s^2 + 4 s + 5 has two roots in
  // the right half plane (from memory); the roots themselves confirm it.
  expect(routhTable([1, 2, 3, 4, 5]).unstable).toBe(2);
  expect(polynomialRoots([1, 2, 3, 4, 5]).filter((r) => r.re > 0).length).toBe(2);
  // Ogata, same section, K/(s (s^2+s+1)(s+2)) in unit feedback is stable for 0 < K < 14/9 (from memory); closed form by
  // the table.
  const quartic = (k: number) => [1, 3, 3, 2, k];
  expect(routhTable(quartic(14 / 9 - 1e-6)).stable).toBe(true);
  expect(routhTable(quartic(14 / 9 + 1e-6)).unstable).toBe(2);
  // G. F. Franklin, J. D. Powell, A. Emami-Naeini, Feedback Control of Dynamic Systems, Routh's criterion: K (s+1)/(s
  // (s-1)(s+6)) is stable for K > 7.5 (from memory); closed form: s^3 + 5 s^2 + (K-6) s + K needs 5 (K-6) > K.
  expect(routhTable([1, 5, 7.5 - 6 + 1e-6, 7.5 + 1e-6]).stable).toBe(true);
  expect(routhTable([1, 5, 7.5 - 6 - 1e-6, 7.5 - 1e-6]).stable).toBe(false);
});

test("Franklin and Powell: the margins of 1/(s (s+1)^2)", () => {
  // Feedback Control of Dynamic Systems, the section on stability margins, uses K/(s (s+1)^2) with neutral stability at
  // K = 2 (from memory). Closed form: the phase is -180 degrees at 1 rad/s, where the gain is 1/2.
  const m = of({ numerator: [1], denominator: [1, 2, 1, 0] });
  expect(m.gainMargin).toBeCloseTo(2, 9);
  expect(m.phaseCrossover).toBeCloseTo(1, 9);
  // Unit gain where w (1 + w^2) = 1: w = 0.6823 (real root of w^3 + w - 1), phase margin 90 - 2 atan(w) = 21.4 degrees.
  const w = polynomialRoots([1, 0, 1, -1])[0].re;
  expect(w).toBeCloseTo(0.6823278, 6);
  expect(m.crossover).toBeCloseTo(w, 9);
  expect(degrees(m.phaseMargin)).toBeCloseTo(90 - 2 * degrees(Math.atan(w)), 8);
  expect(degrees(m.phaseMargin)).toBeCloseTo(21.4, 1);
  // On the edge the closed loop has poles at +-j.
  const edge = closedLoopPoles({ numerator: [2], denominator: [1, 2, 1, 0] });
  expect(edge[0].re).toBeCloseTo(0, 9);
  expect(Math.abs(edge[0].im)).toBeCloseTo(1, 9);
  expect(edge[2].re).toBeCloseTo(-2, 9);
});

test("second-order relations: overshoot, peak of T, phase margin against damping", () => {
  for (const zeta of [0.2, 0.4, 0.5, 0.6]) {
    const open = { numerator: [1], denominator: [1, 2 * zeta, 0] };
    const m = of(open, 1e-4, 1e4);
    // Ogata and Franklin/Powell alike: phase margin atan(2 zeta / sqrt(sqrt(1 + 4 zeta^4) - 2 zeta^2)), resonant peak
    // 1/(2 zeta sqrt(1 - zeta^2)).
    expect(m.phaseMargin).toBeCloseTo(
      Math.atan((2 * zeta) / Math.sqrt(Math.sqrt(1 + 4 * zeta ** 4) - 2 * zeta ** 2)),
      9,
    );
    expect(m.complementaryPeak).toBeCloseTo(1 / (2 * zeta * Math.sqrt(1 - zeta ** 2)), 8);
    // Franklin/Powell's rule of thumb, zeta is about the phase margin over 100 degrees (from memory), holds to 0.07 up
    // to 0.6.
    expect(Math.abs(degrees(m.phaseMargin) / 100 - zeta)).toBeLessThan(0.07);
    // Step response: peak 1 + exp(-pi zeta/sqrt(1-zeta^2)) at pi/wd.
    const wd = Math.sqrt(1 - zeta ** 2);
    const y = stepResponse({ numerator: [1], denominator: [1, 2 * zeta, 1] }, Math.PI / wd / 10, 11);
    expect(y[10]).toBeCloseTo(1 + Math.exp((-Math.PI * zeta) / wd), 10);
  }
});

test("Astrom and Hagglund: margins bounded by the sensitivity peak", () => {
  // PID Controllers: Theory, Design, and Tuning (1995): gain margin at least Ms/(Ms-1), phase margin at least 2
  // asin(1/(2 Ms)), and the same with Mt; Ms = 2 guarantees 2 and 29 degrees, Ms = 1.4 guarantees 3.5 and 41 degrees
  // (all from memory; the bounds are geometry).
  expect(2 / (2 - 1)).toBe(2);
  expect(degrees(2 * Math.asin(1 / 4))).toBeCloseTo(29, 0);
  expect(1.4 / 0.4).toBeCloseTo(3.5, 10);
  expect(degrees(2 * Math.asin(1 / 2.8))).toBeCloseTo(41.8, 1);
  for (const delay of [0.05, 0.1, 0.2, 0.3])
    for (const ki of [0.1, 0.5, 1]) {
      const m = of({ numerator: [2, ki], denominator: [1, 0.1, 0], delay });
      expect(m.gainMargin).toBeGreaterThan(m.sensitivityPeak / (m.sensitivityPeak - 1) - 1e-6);
      expect(m.phaseMargin).toBeGreaterThan(2 * Math.asin(1 / (2 * m.sensitivityPeak)) - 1e-6);
      expect(m.phaseMargin).toBeGreaterThan(2 * Math.asin(1 / (2 * m.complementaryPeak)) - 1e-6);
    }
});

test("integrator with delay: the ultimate gain is pi/2 over the delay", () => {
  // K exp(-s)/s: phase -90 - w in degrees of arc reaches -180 at w = pi/2, gain K/w. Closed form.
  const m = of({ numerator: [1], denominator: [1, 0], delay: 1 });
  expect(m.gainMargin).toBeCloseTo(Math.PI / 2, 9);
  expect(m.phaseMargin).toBeCloseTo(Math.PI / 2 - 1, 9);
  expect(m.delayMargin).toBeCloseTo(Math.PI / 2 - 1, 9);
  // Pade of order 4 puts the crossing of the axis at the same gain to a thousandth.
  const poles = (k: number) => closedLoopPoles({ numerator: [k], denominator: [1, 0], delay: 1 }, 4);
  expect(poles((Math.PI / 2) * 0.999)[0].re).toBeLessThan(0);
  expect(poles((Math.PI / 2) * 1.001)[0].re).toBeGreaterThan(0);
});

test("symmetrical optimum: phase margin, characteristic polynomial, overshoot", () => {
  // C. Kessler (1958), from memory: with a = 2 the loop is (1 + 4 T s)/(8 T^2 s^2 (1 + T s)), crossover 1/(2T), phase
  // margin atan(2) - atan(1/2) = 36.87 degrees, overshoot 43.4 % (8.1 % with the reference filter 1/(1 + 4 T s)), rise
  // to the step 3.1 T (7.6 T). The overshoots are recomputed below from the partial fractions of 1/(8 x^3 + 8 x^2 + 4
  // x + 1), whose poles are -1/2 and (-1 +- j sqrt(3))/4.
  const T = 1e-3;
  const plant = { inertia: 2e-4, torquePerAmpere: 0.08, viscous: 0 };
  const { kp, ki } = symmetricalOptimum(plant, T);
  expect(kp / ki).toBeCloseTo(4 * T, 12);
  const open = { numerator: [kp * 0.08, ki * 0.08], denominator: [2e-4 * T, 2e-4, 0, 0] };
  const m = of(open, 1, 1e5);
  expect(m.crossover * T).toBeCloseTo(0.5, 9);
  expect(degrees(m.phaseMargin)).toBeCloseTo(36.8699, 3);
  const c = characteristicPolynomial(open);
  const scale = c[3];
  expect(c.map((v, k) => v / scale / T ** (3 - k))).toEqual([8, 8, 4, 1].map((v) => expect.closeTo(v, 9)));
  const roots = polynomialRoots([8, 8, 4, 1]);
  expect(roots[0].re).toBeCloseTo(-0.25, 9);
  expect(Math.abs(roots[0].im)).toBeCloseTo(Math.sqrt(3) / 4, 9);
  expect(roots[2].re).toBeCloseTo(-0.5, 9);
  const overshoot = (numerator: number[]) =>
    Math.max(...stepResponse({ numerator, denominator: [8, 8, 4, 1] }, 0.01, 4000)) - 1;
  expect(overshoot([4, 1])).toBeCloseTo(43.4 / 100, 3);
  expect(overshoot([1])).toBeCloseTo(0.081, 3);
  const crossing = (numerator: number[]) =>
    stepResponse({ numerator, denominator: [8, 8, 4, 1] }, 0.01, 4000).findIndex((y) => y >= 1) / 100;
  expect(crossing([4, 1])).toBeCloseTo(3.1, 1);
  expect(crossing([1])).toBeCloseTo(7.6, 1);
  // The same through the loop room: a current loop of time constant T, no delay, weights 1 and 0 (0 equals the
  // reference filter, in closed form).
  const loop = (referenceWeight: number) => ({
    plant: { inertia: 2e-4, torqueConstant: 0.08 },
    gains: { kp, ki, referenceWeight },
    currentBandwidth: 1 / T,
  });
  expect(stepPrediction(loop(1)).figures.overshoot).toBeCloseTo(43.4 / 100, 2);
  expect(stepPrediction(loop(0)).figures.overshoot).toBeCloseTo(0.081, 2);
});

test("Skogestad's rules: the table of margins for an integrating process with delay", () => {
  // S. Skogestad, Simple analytic rules for model reduction and PID controller tuning, J. Process Control 13 (2003),
  // the table of robustness for tau_c = theta, integrating process: gain margin 2.96, phase margin 46.9 degrees, delay
  // margin 1.59 theta, Ms 1.70, Mt 1.30, unit gain at 0.515/theta (from memory). Closed form of the loop: exp(-s theta)
  // (8 theta s + 1)/(16 theta^2 s^2).
  const theta = 2e-3;
  const { kp, ki } = integratingRule({ inertia: 1e-4, torquePerAmpere: 0.1 }, theta);
  expect(kp).toBeCloseTo(1e-3 / (2 * theta), 12);
  expect(kp / ki).toBeCloseTo(8 * theta, 12);
  const m = of({ numerator: [kp * 0.1, ki * 0.1], denominator: [1e-4, 0, 0], delay: theta }, 1, 1e4);
  expect(m.gainMargin).toBeCloseTo(2.96, 2);
  expect(degrees(m.phaseMargin)).toBeCloseTo(46.9, 1);
  expect(m.delayMargin / theta).toBeCloseTo(1.59, 2);
  expect(m.sensitivityPeak).toBeCloseTo(1.7, 2);
  expect(m.complementaryPeak).toBeCloseTo(1.3, 1);
  expect(m.crossover * theta).toBeCloseTo(0.515, 3);
  // The first-order process of the same table, tau_c = theta, integral time = tau: L = exp(-s theta)/(2 theta s): 3.14
  // (pi), 61.4 degrees, Ms 1.59, Mt 1.00.
  const first = of({ numerator: [1], denominator: [2, 0], delay: 1 }, 1e-4, 1e3);
  expect(first.gainMargin).toBeCloseTo(Math.PI, 8);
  expect(degrees(first.phaseMargin)).toBeCloseTo(90 - degrees(0.5), 8);
  expect(first.sensitivityPeak).toBeCloseTo(1.59, 2);
  expect(first.complementaryPeak).toBeLessThan(1.001);
});

test("pole placement puts the poles where it says", () => {
  const plant = { inertia: 3e-4, torquePerAmpere: 0.2, viscous: 1e-3 };
  const { kp, ki } = polePlacement(plant, 80, 0.7);
  const roots = polynomialRoots([3e-4, 1e-3 + 0.2 * kp, 0.2 * ki]);
  expect(Math.hypot(roots[0].re, roots[0].im)).toBeCloseTo(80, 8);
  expect(-roots[0].re / 80).toBeCloseTo(0.7, 9);
});

test("sensitivity limit: the gains stand on the limit, and no neighbour with more integral gain meets it", () => {
  const loop = fixLoop({
    plant: { inertia: 1e-4, torqueConstant: 0.1 },
    gains: { kp: 1, ki: 1 },
    currentBandwidth: 2000,
    computationDelay: 5e-4,
  });
  for (const limit of [1.4, 1.7, 2]) {
    const { kp, ki } = sensitivityLimited([loop], limit)!;
    expect(sensitivityWithin({ ...loop, kp, ki }, limit)).toBe(true);
    expect(sensitivityWithin({ ...loop, kp, ki }, limit * 0.995)).toBe(false);
    for (const factor of [0.8, 0.9, 0.95, 1.05, 1.1, 1.2])
      expect(sensitivityWithin({ ...loop, kp: kp * factor, ki: ki * 1.03 }, limit)).toBe(false);
  }
});
