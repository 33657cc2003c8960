import type { Recording, Trial } from "../../recording/types.js";
import type { Book } from "../book.js";
import type { Signals } from "../signals.js";
import { jointMotion } from "./jointMotion.js";

/** A shaft that stays within this range is a joint: two turns, rad. */
const jointRange = 4 * Math.PI;
/** Least range worth a fit, rad. */
const leastRange = 0.05;

/** Whether the shaft stays within two turns over a trial, though it moves. */
export function isJointTrial(angle: Float64Array, trial: Trial): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = trial.from; i < trial.to; i++) {
    if (angle[i] < low) low = angle[i];
    if (angle[i] > high) high = angle[i];
  }
  return high - low < jointRange && high - low > leastRange;
}

/**
 * Inertia, friction and gravity of a shaft that never makes two turns, from the longest trial in which it was moved. In units of torque where a torque was
 * logged, else over the torque constant.
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
      isJointTrial(signals.angle, t),
  );
  if (moved.length === 0) return;
  const { torque, current, torqueCommand } = recording.channels;
  const effort = torque ?? current ?? torqueCommand;
  if (effort === undefined) {
    book.missing.push({ quantity: "inertiaOverTorqueConstant", needs: "a current or torque, logged" });
    return;
  }
  const { from, to, kind } = moved.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a));
  const found = jointMotion({
    time: recording.time.slice(from, to),
    angle: signals.angle.slice(from, to),
    speed: signals.motion.speed.slice(from, to),
    effort: effort.data.slice(from, to),
    resolution: signals.resolution,
  });
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
    method: `regression over a ${kind} trial within two turns, weak form of the equation of motion${found.gravity === undefined ? "" : " with gravity"}, ${Math.round(100 * found.explained)} % explained`,
    samples: to - from,
    channels: [effort.role, signals.angleChannel],
    ...(effort.role === "torqueCommand" ? { convention: "the torque command is taken for the torque" } : {}),
  };
  book.add(names[0], { ...found.inertia, ...labels });
  book.add(names[1], { ...found.coulomb, ...labels });
  book.add(names[2], { ...found.viscous, ...labels });
  if (found.gravity !== undefined) book.add(names[3], { ...found.gravity, ...labels });
}
