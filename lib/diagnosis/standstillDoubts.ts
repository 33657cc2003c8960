import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { range } from "../numeric/series/range.js";
import type { Run } from "../run/run.js";
import { column, mean, type TrialSignals } from "../run/trialSignals.js";
import type { Observation } from "./observation.js";

/** Figures (judgement): few steps of a coarse position, how many of its usual pauses a shaft must stand to have
 * stopped, and how much longer than its range the path of one that goes one way may be. */
const coarse = { fewest: 2, most: 12, pauses: 3, path: 1.5 };

/**
 * A position that comes in steps so coarse that the whole motion is a few of them stands between any two: it has
 * stopped where it stands for some of its usual pauses only.
 */
export function standsBetweenSteps({ angle, angleStep, time }: TrialSignals): boolean {
  if (!angle || !(angleStep > 0)) return false;
  const steps = range(angle) / angleStep;
  if (steps < coarse.fewest - 0.5 || steps > coarse.most) return false;
  const moved: number[] = [];
  let path = 0;
  for (let i = 1; i < angle.length; i += 1) {
    path += Math.abs(angle[i] - angle[i - 1]);
    if (Math.abs(angle[i] - angle[i - 1]) > 0.5 * angleStep) moved.push(time[i]);
  }
  // Noise goes to and fro; steps of a motion go one way.
  if (path > coarse.path * range(angle)) return false;
  if (moved.length < coarse.fewest) return false;
  const last = moved[moved.length - 1];
  const pause = (last - moved[0]) / (moved.length - 1);
  return time[time.length - 1] - last < coarse.pauses * pause;
}

/** How much of a sensor's torque the current explains, and how little of its noise, so that it is measured and not
 * worked out from the current (judgement). */
const made = { explained: 0.8, ownNoise: 0.3 };

/**
 * A torque sensor that follows the current while the shaft stands: torque is made, and something holds the shaft. A
 * torque that a drive works out from its current follows it too, noise and all, and shows nothing.
 */
export function makesTorque(run: Run, { trial, signals }: Observation): boolean {
  const torque = trial.kind === "torque" ? column(run, "torque", trial) : undefined;
  const { current } = signals;
  if (!torque || !current) return false;
  const [mt, mi] = [mean(torque), mean(current)];
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (let i = 0; i < torque.length; i += 1) {
    xx += (current[i] - mi) ** 2;
    xy += (current[i] - mi) * (torque[i] - mt);
    yy += (torque[i] - mt) ** 2;
  }
  if (!(xx > 0) || !(yy > 0) || (xy * xy) / (xx * yy) < made.explained) return false;
  const rest = torque.map((v, i) => v - (xy / xx) * current[i]);
  return noiseLevel(rest) > made.ownNoise * noiseLevel(torque);
}
