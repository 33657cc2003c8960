import type { Recording, Trial } from "../../recording/types.js";
import type { Book } from "../book.js";
import type { Interval } from "../curveIntervals.js";
import { currentError } from "../modelError.js";
import type { Signals } from "../signals.js";
import { jointMotion } from "./jointMotion.js";

/** A shaft that stays within this range is a joint: two turns, rad. */
const jointRange = 4 * Math.PI;
/** Least range worth a fit, rad. */
const leastRange = 0.05;

/** Most rows that are fitted: a longer motion is averaged in groups. */
const mostRows = 200_000;

/** Means of groups of neighbouring rows. */
function averaged(x: Float64Array, from: number, to: number, group: number): Float64Array {
  if (group === 1) return x.slice(from, to);
  return Float64Array.from({ length: Math.floor((to - from) / group) }, (_, g) => {
    let sum = 0;
    for (let i = from + g * group; i < from + (g + 1) * group; i++) sum += x[i];
    return sum / group;
  });
}

/** Changes of sense from which on a motion is one long to and fro and not a few steps. */
const manyReversals = 6;

/** Whether a trial's motion is fitted as a whole: it stays within two turns, or turns to and fro many times (a sine, a
 * chirp, a pseudo-random command). */
export function isJointTrial({ angle, motion }: Signals, trial: Trial): boolean {
  let most = 0;
  for (let i = trial.from; i < trial.to; i++) most = Math.max(most, Math.abs(motion.speed[i]) || 0);
  let reversals = 0;
  let sense = 0;
  for (let i = trial.from; i < trial.to; i++) {
    if (!(Math.abs(motion.speed[i]) > most / 4)) continue;
    const now = Math.sign(motion.speed[i]);
    if (sense !== 0 && now !== sense) reversals++;
    sense = now;
  }
  if (reversals >= manyReversals) return true;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = trial.from; i < trial.to; i++) {
    if (angle[i] < low) low = angle[i];
    if (angle[i] > high) high = angle[i];
  }
  return high - low < jointRange && high - low > leastRange;
}

/**
 * Inertia, friction and gravity of a shaft that never makes two turns, from the longest trial in which it was moved. In
 * units of torque where a torque was logged, else over the torque constant.
 */
export function addJointConstants(
  recording: Recording,
  signals: Signals,
  trials: readonly Trial[],
  book: Book,
): void {
  const moved = trials.filter(
    (t) =>
      (t.kind === "motion" || t.kind === "position" || t.kind === "speed" || t.kind === "torque") &&
      isJointTrial(signals, t),
  );
  if (moved.length === 0) return;
  const { torque, current, torqueCommand } = recording.channels;
  const effort = torque ?? current ?? torqueCommand;
  if (effort === undefined) {
    book.missing.push({ quantity: "inertiaOverTorqueConstant", needs: "a current or torque, logged" });
    return;
  }
  const { from, to, kind } = moved.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a));
  const group = Math.max(1, Math.floor((to - from) / mostRows));
  const part = (x: Float64Array): Float64Array => averaged(x, from, to, group);
  const record = {
    time: part(recording.time),
    angle: part(signals.angle),
    speed: part(signals.motion.speed),
    effort: part(effort.data),
    resolution: signals.resolution,
  };
  let found = jointMotion(record);
  if ("missing" in found) {
    // An effort of the opposite sign convention, or a torque gain below zero.
    const turned = jointMotion({ ...record, effort: record.effort.map((v) => -v) });
    if (!("missing" in turned)) {
      found = turned;
      book.find(
        "warning",
        "torque-against-current",
        `The shaft accelerates against the sense of its ${effort.role === "current" ? "current" : "torque"}.`,
        {
          meaning:
            "a sign convention is turned around, or the torque gain g is negative: a speed loop closed on it runs away",
        },
      );
    }
  }
  const names =
    effort.role === "current"
      ? ([
          "inertiaOverTorqueConstant",
          "coulombOverTorqueConstant",
          "viscousOverTorqueConstant",
          "gravityOverTorqueConstant",
        ] as const)
      : (["inertia", "coulombFriction", "viscousFriction", "gravityTorque"] as const);
  if ("missing" in found) {
    book.missing.push({ quantity: names[0], needs: found.missing });
    return;
  }
  const labels = {
    method: `regression over a ${kind} trial as a whole, weak form of the equation of motion${found.gravity === undefined ? "" : " with gravity"}, ${Math.floor(100 * found.explained)} % explained`,
    samples: to - from,
    channels: [effort.role, signals.angleChannel],
    ...(effort.role === "torqueCommand" ? { convention: "the torque command is taken for the torque" } : {}),
  };
  const error = effort.role === "current" ? 1.96 * currentError : 0;
  const add = (name: (typeof names)[number], { value, low, high }: Interval): void => {
    const more = error * Math.abs(value);
    const wide = {
      value,
      low: value - Math.hypot(value - low, more),
      high: value + Math.hypot(high - value, more),
    };
    book.add(name, { ...wide, ...labels });
  };
  add(names[0], found.inertia);
  add(names[1], found.coulomb);
  add(names[2], found.viscous);
  if (found.gravity !== undefined) add(names[3], found.gravity);
}
