import { growthTime } from "../../control/margins/growthTime.js";
import { type LoopTrace, simulateLoop } from "../../control/models/simulateLoop.js";
import type { SpeedLoop } from "../../control/models/speedLoop.js";
import type { Complex } from "../../numeric/systems/complex.js";
import { polynomialRoots } from "../../numeric/systems/roots.js";
import { frequencyResponse, type TransferFunction } from "../../numeric/systems/transferFunction.js";

/** A machine and its drive as far as the speed loop sees them, in SI. */
export interface ExplorerMachine {
  /** kg m2. */
  readonly inertia: number;
  /** N m per A peak of i_q, at an offset error of zero. */
  readonly torqueConstant: number;
  /** N m s/rad. */
  readonly viscousFriction: number;
  /** N m. */
  readonly coulombFriction: number;
  /** A. */
  readonly currentLimit: number;
}

/** What the sliders set. */
export interface ExplorerSettings {
  /** Offset error, electrical degrees. */
  readonly offset: number;
  /** A per rad/s. */
  readonly kp: number;
  /** A per rad. */
  readonly ki: number;
  /** Speed asked for, rad/s. */
  readonly reference: number;
}

/** A point of a picture. */
export type Point = readonly [number, number];

/** Everything that the pictures show, each number from the closed forms of `control` and `motor`. */
export interface ExplorerState {
  /** Torque factor g = cos(offset error). */
  readonly factor: number;
  readonly poles: readonly Complex[];
  /** Poles for g from 1 to -1. */
  readonly locus: readonly { readonly factor: number; readonly poles: readonly Complex[] }[];
  /** Growth time constant, s; undefined where the loop is stable. */
  readonly growth?: number;
  readonly step: LoopTrace;
  /** Where the linear loop would rest after the small step: error 0, integral (rad) as viscous friction needs it;
   * undefined where g is zero. */
  readonly rest?: Point;
  /** Directions (error, integral) along which the linear loop moves straight to or from its rest; one for each real
   * pole. */
  readonly directions: readonly { readonly pole: number; readonly along: Point }[];
  /** Error (rad/s) and its integral (rad) after a small step without Coulomb friction, and whether the current was at
   * its limit. */
  readonly small: readonly {
    readonly time: number;
    readonly error: number;
    readonly integral: number;
    readonly limited: boolean;
  }[];
  /** Open loop on the imaginary axis, for a torque factor of 1, of -1/2 and as set. */
  readonly nyquist: readonly { readonly factor: number; readonly points: readonly Point[] }[];
}

/** Time shown of a step, s. */
export const stepDuration = 0.9;

/**
 * What a speed loop does at an offset error: J s^2 + (B + g Kt kp) s + g Kt ki, with g the cosine of the offset error.
 *
 * @example
 * explore(machine, { offset: 120, kp: 0.03, ki: 0.3, reference: 120 }).growth; // => 0.0636 (s)
 */
export function explore(machine: ExplorerMachine, settings: ExplorerSettings): ExplorerState {
  const factor = torqueFactor(settings.offset);
  const loop = loopOf(machine, settings, factor);
  const step = simulateLoop(loop, { duration: stepDuration, reference: () => settings.reference });
  const poles = polesOf(machine, settings, factor);
  const growth = factor < 0 ? growthTime(loop.plant, loop.gains)?.value : undefined;
  const small = smallStep(machine, settings, factor, growth);
  const held = (machine.viscousFriction * small[0].error) / (factor * machine.torqueConstant * settings.ki);
  return {
    factor,
    poles,
    locus: Array.from({ length: 81 }, (_, i) => 1 - i / 40).map((g) => ({
      factor: g,
      poles: polesOf(machine, settings, g),
    })),
    ...(growth === undefined ? {} : { growth }),
    step,
    ...(Math.abs(factor) > 1e-9 ? { rest: [0, held] as const } : {}),
    // d(integral)/dt = error: a straight path along a real pole s has error = s * integral.
    directions: poles
      .filter(({ im }) => Math.abs(im) < 1e-9)
      .map(({ re }) => ({ pole: re, along: [re, 1] as const })),
    small,
    nyquist: [1, -0.5, factor].map((g) => ({ factor: g, points: nyquistOf(machine, settings, g) })),
  };
}

/** g = cos(offset error), exactly zero at a quarter turn. */
export function torqueFactor(degrees: number): number {
  return Math.abs(Math.abs(degrees) - 90) < 1e-9 ? 0 : Math.cos((degrees * Math.PI) / 180);
}

function loopOf(machine: ExplorerMachine, { kp, ki }: ExplorerSettings, factor: number): SpeedLoop {
  const { inertia, torqueConstant, viscousFriction, coulombFriction, currentLimit } = machine;
  return {
    plant: { inertia, torqueConstant, viscousFriction, coulombFriction, torqueGain: factor },
    gains: { kp, ki },
    sampleTime: 5e-4,
    computationDelay: 0,
    currentLimit,
  };
}

function polesOf(machine: ExplorerMachine, { kp, ki }: ExplorerSettings, factor: number): readonly Complex[] {
  const torque = factor * machine.torqueConstant;
  return polynomialRoots([machine.inertia, machine.viscousFriction + torque * kp, torque * ki]);
}

/** A step so small that the current stays below its limit for some growth times; friction left out, as it would hold
 * the shaft. */
function smallStep(
  machine: ExplorerMachine,
  settings: ExplorerSettings,
  factor: number,
  growth: number | undefined,
): ExplorerState["small"] {
  const { kp, ki } = settings;
  const reference = (0.004 * machine.currentLimit) / kp;
  const slowest = Math.max(...polesOf(machine, settings, factor).map(({ re }) => re));
  const duration = Math.min(2, 9 * (growth ?? 1 / Math.max(1, -slowest)));
  const run = simulateLoop(
    loopOf(machine, settings, factor),
    { duration, reference: () => reference },
    { friction: false },
  );
  const every = Math.max(1, Math.floor(run.time.length / 300));
  const points: ExplorerState["small"][number][] = [];
  let integral = 0;
  for (let i = 0; i < run.time.length; i += every) {
    const error = reference - run.speed[i];
    const limited = Math.abs(run.command[i]) > 0.999 * machine.currentLimit;
    // What the controller holds: i = kp*error + ki*integral; at the limit the integral stands.
    if (!limited) integral = (run.command[i] - kp * error) / ki;
    points.push({ time: run.time[i], error, integral, limited });
  }
  return points;
}

function nyquistOf(machine: ExplorerMachine, { kp, ki }: ExplorerSettings, factor: number): readonly Point[] {
  const torque = factor * machine.torqueConstant;
  const open: TransferFunction = {
    numerator: [torque * kp, torque * ki],
    denominator: [machine.inertia, machine.viscousFriction, 0],
  };
  return Array.from({ length: 240 }, (_, i) => 10 ** (-0.3 + (i / 239) * 3.6)).map((w) => {
    const z = frequencyResponse(open, w);
    return [z.re, z.im] as const;
  });
}
