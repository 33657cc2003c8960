import type { FitParameterInput } from "../../numeric/optimise/types.js";
import {
  firstOrderFrictionCurve,
  integratorCurve,
  integratorFrictionCurve,
  integratorLagCurve,
  type StepCurve,
  secondOrderZeroCurve,
  slewLagCurve,
  slewLimitedCurve,
} from "./stepCurves.js";

/** Shapes of a step response beyond the four linear ones. */
export type StepCurveName =
  | "integrator"
  | "integrator-lag"
  | "integrator-friction"
  | "first-order-friction"
  | "integrator-limited"
  | "second-order-zero"
  | "slew-limited";

/** What was stepped: it decides which shapes are physically possible. */
export type StepInput = "torque" | "voltage" | "speed" | "position";

/** What a record looks like before it is fitted. */
export interface StepSketch {
  /** Mean before the step, or the first value after it. */
  readonly initial: number;
  /** Mean of the last tenth. */
  readonly end: number;
  /** Time from the step to the end of the record, s. */
  readonly span: number;
  /** Time from the step to 63 % of the change, s. */
  readonly time63: number;
  /** Largest slope, smoothed over a twentieth of the record, with its sign. */
  readonly steepest: number;
  /** Speeds no larger than this are rest. */
  readonly noise: number;
  /** The command is zero after the step: nothing drives any more. */
  readonly off: boolean;
}

/** A shape with a place to start from. */
export interface StepCurveModel {
  readonly name: StepCurveName;
  readonly curve: StepCurve;
  /** How many of the first parameters the curve goes straight with: none, its initial value (1), or that and a factor
   * on all the rest (2). */
  readonly straight: 0 | 1 | 2;
  /** Where the search starts, one or several. */
  readonly starts: readonly (readonly FitParameterInput[])[];
  /** At these values (in the order of the curve) it is no more than a simpler shape, which is tried on its own. */
  readonly simpler?: (p: Float64Array) => boolean;
}

const free = (name: string, start: number, scale: number): FitParameterInput => ({ name, start, scale });
const positive = (name: string, start: number, least: number, most: number): FitParameterInput => ({
  name,
  start: Math.min(most, Math.max(least, start)),
  lower: least,
  upper: most,
  scale: start || 1,
});

const held = (name: string, start: number): FitParameterInput => ({ name, start, fixed: true });

/** The shapes that a step of an input may have, with their starts. */
export function curvesFor(input: StepInput, s: StepSketch): readonly StepCurveModel[] {
  const slewed = [slewLimited(s, "slew-limited"), slewLagged(s)];
  if (input === "position") return slewed;
  if (input === "speed") return [secondOrderZero(s), ...slewed];
  const reverses = s.initial * s.end < 0 || (Math.abs(s.end) <= s.noise && Math.abs(s.initial) > 5 * s.noise);
  if (input === "voltage") return reverses ? [firstOrderFriction(s)] : [];
  const models = [integrator(s), integratorLag(s), slewLimited(s, "integrator-limited")];
  return reverses ? [...models, integratorFriction(s), firstOrderFriction(s)] : models;
}

const sizeOf = (s: StepSketch): number => Math.abs(s.end - s.initial) || 1;
const tauOf = (s: StepSketch): number => (s.time63 > 0 ? s.time63 : s.span / 3);
const shortestOf = (s: StepSketch): number => 1e-4 * s.span;
const initialOf = (s: StepSketch): FitParameterInput => free("initial", s.initial, sizeOf(s));
const rateOf = (s: StepSketch): number => (s.end - s.initial) / s.span;

function integrator(s: StepSketch): StepCurveModel {
  const rate = free("rate", rateOf(s), Math.abs(rateOf(s)));
  const starts = [[initialOf(s), rate, positive("dead time", 0, 0, s.span / 2)]];
  return { name: "integrator", curve: integratorCurve, straight: 2, starts };
}

function integratorLag(s: StepSketch): StepCurveModel {
  const rate = free("rate", rateOf(s), Math.abs(rateOf(s)));
  const starts = [[initialOf(s), rate, positive("lag", s.span / 20, shortestOf(s), s.span / 2)]];
  return {
    name: "integrator-lag",
    curve: integratorLagCurve,
    straight: 2,
    starts,
    simpler: (p) => p[2] < 2 * shortestOf(s),
  };
}

function integratorFriction(s: StepSketch): StepCurveModel {
  const rate = rateOf(s);
  const friction = rate === 0 ? Math.abs(s.steepest) : Math.abs(s.steepest - rate) / 2;
  const most = 100 * Math.max(friction, Math.abs(rate));
  const starts = [
    [
      initialOf(s),
      s.off ? held("rate", 0) : free("rate", rate, Math.abs(rate)),
      positive("friction rate", s.off ? Math.abs(s.steepest) : friction, 0, most),
    ],
  ];
  return {
    name: "integrator-friction",
    curve: integratorFrictionCurve,
    straight: 0,
    starts,
    simpler: (p) => !(p[2] > 0),
  };
}

function firstOrderFriction(s: StepSketch): StepCurveModel {
  const size = sizeOf(s);
  const starts = [0.1, 0.5].map((part) => [
    initialOf(s),
    s.off ? held("final without friction", 0) : free("final without friction", s.end, size),
    positive("friction", part * size, 0, 5 * size),
    positive("time constant", tauOf(s), shortestOf(s), 20 * s.span),
    positive("dead time", 0, 0, s.span / 2),
  ]);
  return {
    name: "first-order-friction",
    curve: firstOrderFrictionCurve,
    straight: 0,
    starts,
    simpler: (p) => !(p[2] > 0),
  };
}

function secondOrderZero(s: StepSketch): StepCurveModel {
  const tau = tauOf(s);
  const starts = [
    [0.7, 1.5, 0.5],
    [1.2, 1, 2],
    [0.4, 1.5, 1],
  ].map(([zeta, omega, zero]) => [
    initialOf(s),
    free("amplitude", s.end - s.initial, sizeOf(s)),
    positive("damping ratio", zeta, 0.02, 20),
    positive("natural frequency", omega / tau, 0.1 / s.span, 1 / shortestOf(s)),
    positive("zero time", zero * tau, 0, s.span),
  ]);
  return {
    name: "second-order-zero",
    curve: secondOrderZeroCurve,
    straight: 2,
    starts,
    simpler: (p) => !(p[4] > 0),
  };
}

function slewLimited(s: StepSketch, name: "slew-limited" | "integrator-limited"): StepCurveModel {
  const starts = slewStarts(s, positive("dead time", 0.05 * tauOf(s), 0, s.span / 2));
  return { name, curve: slewLimitedCurve, straight: 1, starts, simpler: neverLimited };
}

function slewLagged(s: StepSketch): StepCurveModel {
  const starts = slewStarts(s, positive("lag", 0.1 * tauOf(s), shortestOf(s), s.span));
  return { name: "slew-limited", curve: slewLagCurve, straight: 1, starts, simpler: neverLimited };
}

/** The limit is hardly ever reached. */
function neverLimited([, amplitude, slew, gain]: Float64Array): boolean {
  return slew > 0.9 * gain * Math.abs(amplitude);
}

function slewStarts(s: StepSketch, last: FitParameterInput): FitParameterInput[][] {
  const slew = Math.max(Math.abs(s.steepest), sizeOf(s) / s.span);
  return [1.5, 5].map((part) => [
    initialOf(s),
    free("amplitude", s.end - s.initial, sizeOf(s)),
    positive("slew limit", slew, slew / 20, 20 * slew),
    positive("loop gain", part / tauOf(s), 0.2 / s.span, 1 / shortestOf(s)),
    last,
  ]);
}
