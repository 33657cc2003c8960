import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { meanEstimate } from "../meanEstimate.js";
import { frictionFromSteadyPoints } from "../mechanical/steadyFriction.js";
import type { SteadyPoint } from "../mechanical/steadyPoints.js";
import { stretchesOf } from "../mechanical/stretches.js";
import { type Signals, valuesOf } from "../signals.js";
import { travel } from "./travel.js";

/**
 * Phase resistance from a shaft that stands still (blocked, braked, or held by friction) with voltage and current
 * logged: no back-EMF, and in the last half of each level no change of current, so `v = R*i + V0*sign(i)`. With levels
 * of different size (both signs count together) the slope is the resistance and `V0` the drive's own drop (dead time
 * and switches), which a single level cannot tell from it; then v/i is given and said to hold the drop.
 */
export function resistanceAtStandstill(
  run: Run,
  signals: Signals,
  trials: readonly Trial[],
  book: Book,
): void {
  const v = valuesOf(run, "voltageQ");
  const i = valuesOf(run, "current");
  if (v === undefined || i === undefined) return;
  const points: SteadyPoint[] = [];
  const still = Math.max(2.5 * signals.resolution, 0.003);
  for (const trial of trials) {
    if (trial.kind !== "torque") continue;
    for (const stretch of stretchesOf(trial)) {
      const from = stretch.to - ((stretch.to - stretch.from) >> 1);
      if (stretch.to - from < 24 || !(travel(signals.angle, stretch.from, stretch.to) < still)) continue;
      const volts = meanEstimate(v.subarray(from, stretch.to));
      const amperes = meanEstimate(i.subarray(from, stretch.to));
      if (!(Math.abs(amperes.mean) > 10 * amperes.standardError) || !Number.isFinite(volts.mean)) continue;
      points.push({
        from,
        to: stretch.to,
        speed: amperes.mean,
        speedError: amperes.standardError,
        acceleration: 0,
        accelerationError: 0,
        input: volts.mean,
        inputError: volts.standardError,
        across: 0,
        degreesOfFreedom: Math.min(volts.degreesOfFreedom, amperes.degreesOfFreedom),
        samples: volts.samples,
        stretch,
      });
    }
  }
  if (points.length === 0) return;
  const labels = {
    samples: points.reduce((sum, p) => sum + p.samples, 0),
    channels: ["voltageQ", "current", signals.angleChannel],
  };
  // A line in the size of the current, like friction in the speed: offset with the sign, slope.
  const line = frictionFromSteadyPoints(points);
  if (line !== null && line.viscous.low > 0) {
    book.add("resistance", {
      ...line.viscous,
      ...labels,
      method: `standstill, slope of voltage over ${points.length} levels of current`,
      convention: "phase, amplitude-invariant dq; the drive's own drop taken out",
    });
    if (line.coulomb.low > 0)
      book.find(
        "note",
        "drive-voltage-drop",
        `At standstill the logged voltage holds a part of ${line.coulomb.value.toPrecision(2)} V that does not grow with the current.`,
        {
          value: line.coulomb.value,
          unit: "V",
          meaning:
            "the drive's own drop (dead time, switches), in a log of commanded voltages: other routes read it as resistance",
        },
      );
    return;
  }
  // One level: the ratio of the strongest point.
  const p = points.reduce((best, one) => (Math.abs(one.speed) > Math.abs(best.speed) ? one : best));
  const value = p.input / p.speed;
  const half =
    studentQuantile(0.975, p.degreesOfFreedom) *
    Math.hypot(p.inputError / p.speed, (value * p.speedError) / p.speed);
  if (value - half > 0)
    book.add("resistance", {
      value,
      low: value - half,
      high: value + half,
      ...labels,
      method: "standstill, voltage over current at one level",
      convention: "phase, amplitude-invariant dq; holds the drive's own drop",
    });
}
