import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { controlPeriod } from "../electrical/voltageEquations.js";
import { currentError } from "../modelError.js";
import { type Signals, withTorqueCommand, withTorqueInput } from "../signals.js";
import { behindFilter, overFilters } from "./behindFilter.js";
import { coarseRows } from "./coarseRows.js";
import { addCoastDown, coastStretches, type LeftInCoast, withoutSpeedingUp } from "./coastDown.js";
import type { Driver } from "./drivenConstants.js";
import {
  drivenByFriction,
  type FrictionKind,
  fitMotion,
  frictionOverInput,
  type InputErrors,
  inertiaOverInput,
  type MotionFit,
} from "./equationOfMotion.js";
import { type MechanicalRow, mechanicalRows } from "./mechanicalRows.js";
import { turnedIntoRotor } from "./rotorCurrents.js";
import { type SteadyPoint, steadyPoints } from "./steadyPoints.js";
import { steadyRoute } from "./steadyRoute.js";
import { type Stretch, stretchesOf } from "./stretches.js";
import { differ, type FittedMotion, trajectory } from "./trajectory.js";

/** The motion that inertia and friction are taken from. */
export interface Motion {
  readonly run: Run;
  readonly signals: Signals;
  /** All trials, and those in which the shaft turned. */
  readonly trials: readonly Trial[];
  readonly turning: readonly Trial[];
  /** Steady points of the trials that are driven. */
  readonly steady: readonly SteadyPoint[];
}

/** How inertia and friction are taken from it. */
export interface MotionOptions {
  readonly leastSpeedShare: number;
  readonly modelErrors: boolean;
}

/** Inertia and friction by all routes: coast-down, measured or commanded torque, current. */
export function addMotionConstants(motion: Motion, options: MotionOptions, book: Book): void {
  const { run, signals, trials } = motion;
  const coasting = withoutSpeedingUp(signals, coastStretches(run, signals, trials), book);
  const peak = fastest(signals, [...motion.turning, ...coasting]);
  if (!(peak > 0)) return;
  const routes = new MotionRoutes(motion, options, peak, book);
  const turned = turnedIntoRotor(run, signals, book);
  routes.coastDown(coasting);
  // Measured torque: absolute values without a torque constant.
  const withTorque = withTorqueInput(run, signals);
  if (withTorque !== null) routes.driven(withTorque, "torque");
  else if (signals.input === null) {
    const commanded = withTorqueCommand(run, signals);
    if (commanded !== null) routes.driven(commanded, "torque");
  }
  if (turned.input !== null) routes.driven(turned, "current");
}

/** Largest speed in some stretches, rad/s. */
function fastest(
  { motion }: Signals,
  stretches: readonly { readonly from: number; readonly to: number }[],
): number {
  let peak = 0;
  for (const { from, to } of stretches)
    for (let i = from; i < to; i++) {
      const w = Math.abs(motion.speed[i]);
      if (w > peak) peak = w;
    }
  return peak;
}

/** Windows below which their residuals tell nothing of their errors: two blocks of the regression. */
const fewWindows = 24;

/** The routes from one motion to its constants. */
class MotionRoutes {
  /** Speed above which friction is taken as Coulomb plus viscous, rad/s. */
  private readonly leastSpeed: number;

  /** @param peak largest speed, rad/s */
  constructor(
    private readonly motion: Motion,
    private readonly options: MotionOptions,
    private readonly peak: number,
    private readonly book: Book,
  ) {
    this.leastSpeed = options.leastSpeedShare * peak;
  }

  private stretches(kinds: readonly Trial["kind"][]): Stretch[] {
    return this.motion.turning.filter((t) => kinds.includes(t.kind)).flatMap(stretchesOf);
  }

  private rowsOf(
    s: Signals,
    kinds: readonly Trial["kind"][],
    where?: (i: number) => boolean,
  ): MechanicalRow[] {
    const { leastSpeed } = this;
    return mechanicalRows(s, this.stretches(kinds), { leastSpeed, ...(where ? { where } : {}) });
  }

  /** Whether torque trials drive the shaft, else what holds its speed or position. */
  private drive(): { readonly how: "driven" | "held"; readonly kinds: readonly Trial["kind"][] } {
    return this.motion.turning.some((t) => t.kind === "torque")
      ? { how: "driven", kinds: ["torque"] }
      : { how: "held", kinds: ["speed", "position"] };
  }

  /** Coast-down: no torque constant in it. */
  coastDown(coasting: readonly Stretch[]): void {
    const { signals } = this.motion;
    const runDowns = mechanicalRows(signals, coasting, { leastSpeed: this.leastSpeed });
    const left =
      !this.options.modelErrors || runDowns.length === 0
        ? { slowing: 0, speed: 1 }
        : this.leftInCoast(coasting);
    addCoastDown(runDowns, left, signals.angleChannel, this.book);
  }

  /**
   * What a current left in the coast-downs may do: a drive that holds its current at zero leaves a little of it, which
   * the log cannot tell from the sensor's offset. Its mean along the motion times Kt/J of the driven trials, rad/s2,
   * with the largest speed of the coast-downs.
   */
  private leftInCoast(coasting: readonly Stretch[]): LeftInCoast {
    const { input, motion } = this.motion.signals;
    let sum = 0;
    let n = 0;
    let speed = 0;
    if (input?.kind === "current")
      for (const t of coasting)
        for (let i = t.from; i < t.to; i += 1) {
          const w = motion.speed[i];
          if (!(Math.abs(w) > this.leastSpeed) || !Number.isFinite(input.data[i])) continue;
          sum += Math.sign(w) * input.data[i];
          n += 1;
          speed = Math.max(speed, Math.abs(w));
        }
    if (n === 0) return { slowing: 0, speed: 1 };
    const { how, kinds } = this.drive();
    const fit = fitMotion(this.rowsOf(this.motion.signals, kinds), how, "pooled");
    const inertia = fit === null ? null : inertiaOverInput(fit);
    const gain = inertia === null ? 0 : Math.abs(1 / inertia.value);
    return { slowing: Number.isFinite(gain) ? (gain * Math.abs(sum)) / n : 0, speed };
  }

  /** Inertia and friction over what drives the shaft. */
  driven(s: Signals, kind: Driver): void {
    const { book } = this;
    const { kinds } = this.drive();
    const fitted = this.fit(s, kind);
    if (fitted === null) return;
    const { pooled, loaded } = fitted;
    if (pooled.regression.explained < 0.7) {
      book.find(
        "warning",
        "motion-unexplained",
        `Current, speed and acceleration fit the equation of motion poorly (${Math.round(100 * pooled.regression.explained)} % explained); inertia and friction are not taken from ${kinds[0]} trials.`,
        {
          value: pooled.regression.explained,
          unit: "1",
          meaning:
            "torque does not follow the current: commutation turns against the magnets, or a load acts",
        },
      );
      return;
    }
    if (drivenByFriction(pooled)) {
      book.find(
        "warning",
        "motion-unexplained",
        `Current, speed and acceleration fit an equation of motion only with a friction that drives the shaft; inertia and friction are not taken from ${kinds[0]} trials.`,
        {
          meaning:
            "the torque goes with the angle (cogging, a compensation of it), or current and motion are not of one moment",
        },
      );
      return;
    }
    trajectory(s, fitted, kind, book);
    const first = pooled.regression.coefficients[pooled.at.first!];
    const perAcceleration = pooled.form === "input" ? first : 1 / first;
    const firstError = pooled.regression.standardErrors[pooled.at.first!];
    const perError = Math.abs((perAcceleration * firstError) / first);
    const load = loaded === null ? 0 : (frictionOverInput(loaded, "load")?.value ?? 0);
    // A shaft that coasts slows down by less than a hundredth in a short look at it: how well the acceleration and what
    // it takes are known is part of what is known of the friction there.
    const points = this.steadyPoints(s).map((q) => ({
      ...q,
      input: q.input - q.acceleration * perAcceleration - load,
      inputError: Math.hypot(q.inputError, q.accelerationError * perAcceleration, q.acceleration * perError),
    }));
    steadyRoute(s, points, 2 * this.leastSpeed, kind, book);
  }

  /** The equation of motion over all plausible filters; with a load where friction differs by direction. */
  private fit(s: Signals, kind: Driver): (FittedMotion & { readonly loaded: MotionFit | null }) | null {
    const { how, kinds } = this.drive();
    // Where only the command is known, the current follows it only while there is voltage to spare.
    const where =
      s.input?.kind === "currentCommand" || s.input?.kind === "torqueCommand"
        ? (i: number) => Math.abs(s.motion.speed[i]) < 0.5 * this.peak
        : undefined;
    const errors = this.inputErrors(s, kind);
    const fitted = (friction: FrictionKind) => (r: readonly MechanicalRow[]) =>
      fitMotion(r, how, friction, errors);
    const windows = behindFilter(s, (signal) => this.rowsOf(signal, kinds, where), fitted("pooled"));
    // A log too coarse for windows is taken sample by sample.
    const single =
      windows[0].rows.length < fewWindows ? coarseRows(s, this.stretches(kinds), this.leastSpeed) : [];
    const bySample = single.length >= fewWindows;
    const parts = bySample ? [{ rows: single, weight: 1 }] : windows;
    const apart = overFilters(parts, fitted("apart"));
    const loaded = apart !== null && differ(apart) ? overFilters(parts, fitted("loaded")) : null;
    const pooled = loaded ?? overFilters(parts, fitted("pooled"));
    if (pooled === null) return null;
    const way = bySample ? "sample by sample (few samples to a run-up), weak" : "weak";
    return { pooled, apart, loaded, method: `regression over ${kinds[0]} trials, ${way}` };
  }

  private inputErrors(s: Signals, kind: Driver): InputErrors {
    const { machine, drive } = this.motion.run.recording;
    const angle = s.input?.inRotor?.angleError ?? 0;
    const told = machine.polePairs ?? drive.polePairs;
    return kind === "current" && this.options.modelErrors
      ? {
          angle,
          input: currentError,
          turn: (told ?? 4) * controlPeriod,
          late: (told ?? 0) * controlPeriod,
          inRotor: s.input?.inRotor !== undefined,
        }
      : { angle };
  }

  /** Steady points by the input that drives; those of the logged current are known. */
  private steadyPoints(s: Signals): readonly SteadyPoint[] {
    const { signals, steady, turning } = this.motion;
    if (s === signals) return steady;
    const stretches = turning.filter((t) => t.kind !== "coast").flatMap(stretchesOf);
    return steadyPoints(s, stretches, s.input!.data, s.input!.inRotor?.across);
  }
}
