import { linearRegression, type Regression } from "../../numeric/linear/linearRegression.js";
import { largestOfColumn } from "../../numeric/series/largest.js";
import type { ChannelRole, Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { type Book, intervalOf } from "../book.js";
import type { Interval } from "../curveIntervals.js";
import type { Signals } from "../signals.js";
import { fitMotion, type MotionFit } from "./equationOfMotion.js";
import { type MechanicalRow, samplesIn } from "./mechanicalRows.js";
import { type Stretch, stretchesOf } from "./stretches.js";

/** Shortest run-down that is looked at, rad: friction shows long before two turns. */
const leastTravel = 1;
/** An input below this fraction of its largest is none. */
const none = 0.02;

/**
 * Stretches in which nothing drives and the shaft runs down: coast-down trials, and the parts of torque, voltage and
 * duty trials whose command is zero while no current is measured. A voltage of
 * zero without a logged current may be a bridge that brakes: it is no coast-down.
 */
export function coastStretches(run: Run, signals: Signals, trials: readonly Trial[]): Stretch[] {
  const current = run.channel("current")?.values;
  const off = belowAll(current);
  const found: Stretch[] = [];
  const commands = new Map<ChannelRole, ReturnType<typeof belowAll>>();
  const stillOf = (role: ChannelRole): ReturnType<typeof belowAll> => {
    if (!commands.has(role)) commands.set(role, belowAll(run.channel(role)?.values));
    return commands.get(role);
  };
  for (const trial of trials) {
    if (trial.kind === "coast") found.push(...stretchesOf(trial));
    else if (trial.kind === "torque" || trial.kind === "voltage" || trial.kind === "duty") {
      const still = trial.command === undefined ? undefined : stillOf(trial.command);
      if (still === undefined || (off === undefined && trial.kind !== "torque")) continue;
      for (let i = trial.from; i < trial.to; ) {
        let end = i;
        while (end < trial.to && still(end) && (off === undefined || off(end))) end++;
        // The first row still belongs to what went before.
        if (end - i >= 25) found.push({ from: i + 1, to: end, trial });
        i = Math.max(end, i + 1);
      }
    }
  }
  return found.filter(({ from, to }) => {
    let way = 0;
    for (let i = from + 1; i < to; i++) way += Math.abs(signals.angle[i] - signals.angle[i - 1]) || 0;
    return way > leastTravel;
  });
}

/** Fraction of its largest speed by which a shaft must gain speed before something is taken to drive it. */
const clearGain = 0.2;

/**
 * Run-downs without those in which the shaft gains speed: a motor, a load or gravity drives it there, whatever was
 * stated, and friction is not what the speed tells.
 */
export function withoutSpeedingUp(
  { motion, time }: Signals,
  stretches: readonly Stretch[],
  book: Book,
): Stretch[] {
  return stretches.filter(({ from, to }) => {
    let least = Number.POSITIVE_INFINITY;
    let most = 0;
    let gain = 0;
    let at = from;
    for (let i = from; i < to; i++) {
      const w = Math.abs(motion.speed[i]);
      if (!(w - w === 0)) continue;
      most = Math.max(most, w);
      least = Math.min(least, w + 3 * motion.speedNoise[i]);
      if (w - 3 * motion.speedNoise[i] - least > gain) [gain, at] = [w - 3 * motion.speedNoise[i] - least, i];
    }
    if (!(gain > clearGain * most)) return true;
    const needs = `a coast-down in which nothing drives the shaft: in the one from ${seconds(time[from])} to ${seconds(time[to - 1])} s it gains speed up to ${seconds(time[at])} s`;
    for (const quantity of ["coulombOverInertia", "viscousOverInertia"] as const)
      if (!book.missing.some((m) => m.quantity === quantity)) book.missing.push({ quantity, needs });
    return false;
  });
}

const seconds = (t: number): string => String(Number(t.toPrecision(4)));

/** Whether a signal is all but zero at a row; undefined where there is no signal. */
function belowAll(values: Float64Array | undefined): ((i: number) => boolean) | undefined {
  if (values === undefined) return undefined;
  const top = largestOfColumn(values);
  return top > 0 ? (i) => Math.abs(values[i]) <= none * top : undefined;
}

/** What is left of torque in a coast-down: it may slow or drive by as much, rad/s2, at speeds up to `speed`. */
export interface LeftInCoast {
  readonly slowing: number;
  readonly speed: number;
}

/**
 * Friction over inertia from coast-downs: Coulomb and viscous, or Coulomb and a drag that goes with the square of the
 * speed (a fan, a disc) where that fits the run-down far
 * better. Returns the fit for those who need its rows.
 */
export function addCoastDown(
  rows: readonly MechanicalRow[],
  left: LeftInCoast,
  channel: string,
  book: Book,
): MotionFit | null {
  const linear = fitMotion(rows, "coast", "pooled");
  if (linear === null) return null;
  const samples = samplesIn(rows);
  const oneSense = rows.every((r) => r.direction === rows[0].direction)
    ? { convention: "turned one way only: a constant load counts as friction" }
    : {};
  const labels = { samples, channels: [channel], source: "coast-down" as const, ...oneSense };
  const wider = (e: Interval, by: number): Interval => ({ ...e, low: e.low - by, high: e.high + by });
  const line = byWeight(rows, (r) => r.speed);
  const square = byWeight(rows, (r) => r.square);
  if (line !== null && square !== null && leftOf(square) < muchBetter * leftOf(line)) {
    const method = "coast-down, J*dw/dt = -Tc*sign(w) - D*w*abs(w) in weak form";
    book.add("coulombOverInertia", { ...wider(intervalOf(square, 0), left.slowing), ...labels, method });
    book.add("dragOverInertia", {
      ...wider(intervalOf(square, 1), left.slowing / left.speed ** 2),
      ...labels,
      method,
    });
    book.missing.push({
      quantity: "viscousOverInertia",
      needs: "a run-down whose drag goes with the speed: here it goes with the square",
    });
    return linear;
  }
  const method = "coast-down, J*dw/dt = -Tc*sign(w) - B*w in weak form";
  book.add("coulombOverInertia", {
    ...wider(intervalOf(linear.regression, 0), left.slowing),
    ...labels,
    method,
  });
  book.add("viscousOverInertia", {
    ...wider(intervalOf(linear.regression, 1), left.slowing / left.speed),
    ...labels,
    method,
  });
  return linear;
}

/**
 * How much less the square must leave than the line: both have two coefficients, so that any would do, but the line is
 * the usual law.
 */
const muchBetter = 0.6;

/** Run-down with a drag of the given form, windows weighed by their length. */
function byWeight(rows: readonly MechanicalRow[], drag: (r: MechanicalRow) => number): Regression | null {
  return linearRegression(
    rows.map((r) => [-r.direction, -drag(r)]),
    rows.map((r) => r.acceleration),
    { weights: rows.map((r) => 2 ** r.lengthClass), leastBlock: 6 },
  );
}

function leftOf(r: Regression): number {
  return r.residuals.reduce((sum, e) => sum + e * e, 0);
}
