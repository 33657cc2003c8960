import { variance } from "simple-statistics";
import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { range } from "../numeric/series/range.js";
import { workedOut } from "../recording/columns/workedOut.js";
import type { ChannelRole, TrialKind } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, mean, type TrialSignals } from "../run/trialSignals.js";
import { tried } from "./breakaway.js";
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
 * torque that a drive works out from its current follows it too, often noise and all, and shows nothing.
 */
export function makesTorque(run: Run, { trial, signals }: Observation): boolean {
  const torque = trial.kind === "torque" ? column(run, "torque", trial) : undefined;
  const { current } = signals;
  if (!torque || !current || workedOut(run.recording.channels.torque?.name ?? "")) return false;
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

/** Part of the commanded current below which none flowed (judgement). */
const none = 0.04;

/** A current was measured and none flowed, though the shaft was asked to move: nothing was tried. */
export function notTried(run: Run, { trial, signals }: Observation): boolean {
  const { current, currentCommand } = signals;
  if (trial.kind === "held") return false;
  if (current === undefined) {
    const { channels, unscaled } = run.recording;
    const other = channels.torque ?? unscaled?.current ?? unscaled?.torque;
    return trial.kind !== "torque" && other !== undefined && asBeforeAsked(run, trial, other.data);
  }
  if (!(largest(current) > 0)) return false;
  const level = tried(run, trial, signals)?.level ?? Number.NaN;
  if (currentCommand !== undefined) return level < none * largest(currentCommand);
  if (trial.kind === "torque") return false;
  const driven = trial.kind === "voltage" || trial.kind === "duty";
  const logged = run.recording.channels.current?.data;
  return (!driven && level === 0) || (logged !== undefined && asBeforeAsked(run, trial, logged));
}

/** Fewest rows before and after a motion was asked for; by how many standard errors the means, and how many times the
 * deviation, may differ where nothing changed; where only few rows, but some, come before, the mean square of the
 * differences from row to row over the variance (2 of white noise, von Neumann 1941) (judgement). */
const unchanged = { rows: 12, few: 3, errors: 3, wider: 1.4, white: 1.3 };

/** What a motion is asked with, where that is not the command of the trial. */
const asking: Readonly<Partial<Record<TrialKind, ChannelRole>>> = {
  position: "positionCommand",
  speed: "speedCommand",
};

/** The current, or the torque, under the command is the noise that it was before: a loop that is on drives a shaft that
 * does not come. (Two sample means, Welch 1938.) */
function asBeforeAsked(
  { recording: { channels } }: Run,
  trial: Observation["trial"],
  current: Float64Array,
): boolean {
  const role = asking[trial.kind] ?? trial.command;
  const command = role && channels[role]?.data;
  if (command === undefined) return false;
  // A trial may begin with its step.
  const first = trial.from > 0 && command[trial.from] !== 0 ? trial.from - 1 : trial.from;
  const level = command[first];
  if (trial.kind !== "position" && level !== 0) return false;
  let [from, step] = [first, first];
  while (from > 0 && command[from - 1] === level) from -= 1;
  while (step < trial.to && command[step] === level) step += 1;
  const [idle, asked] = [current.subarray(from, step), current.subarray(step, trial.to)];
  if (asked.length < unchanged.rows || idle.length < unchanged.few) return false;
  if (idle.length < unchanged.rows) return noiseAlone(idle, asked);
  const [before, after] = [idle, asked].map((part) => variance(Array.from(part)));
  const error = Math.sqrt(before / idle.length + after / asked.length);
  return (
    Math.abs(mean(asked) - mean(idle)) <= unchanged.errors * error &&
    after <= unchanged.wider ** 2 * before &&
    largest(asked) <= unchanged.wider * largest(idle)
  );
}

/** Under the command the current is white noise about the mean that the few rows before have. */
function noiseAlone(idle: Float64Array, asked: Float64Array): boolean {
  const spread = variance(Array.from(asked));
  let squares = 0;
  for (let i = 1; i < asked.length; i += 1) squares += (asked[i] - asked[i - 1]) ** 2;
  const error = Math.sqrt(spread * (1 / idle.length + 1 / asked.length));
  return (
    spread > 0 &&
    Math.abs(mean(asked) - mean(idle)) <= unchanged.errors * error &&
    squares / (asked.length - 1) >= unchanged.white * spread
  );
}

/** Way without torque, beside the largest under torque and in steps of the angle; what counts as rest before it, beside
 * the largest speed (judgement). */
const drawn = { part: 0.15, steps: 12, rest: 0.1, rows: 12 };

/**
 * While no torque was asked for the shaft set out from rest, or turned round: a spring or a weight moves it. Magnets
 * without current move nothing (physics).
 */
export function movedByItself({ signals, holds }: Observation): boolean {
  const { angle, angleStep, speed } = signals;
  if (angle === undefined || speed === undefined) return false;
  const top = Math.max(0, ...holds.map(({ peakSpeed }) => peakSpeed));
  const swing = Math.max(0, ...holds.map((hold) => (hold.sense === 0 ? 0 : hold.swing)));
  const least = Math.max(drawn.part * swing, drawn.steps * angleStep);
  return holds.some(({ sense, from, to }) => {
    if (sense !== 0 || to - from < drawn.rows) return false;
    // The last rows look ahead to the next step.
    const part = angle.subarray(from, to - Math.floor((to - from) / 8));
    const before = Math.max(0, from - Math.max(3, Math.floor((to - from) / 10)));
    const rested = largest(speed, before, Math.max(from, before + 3)) < drawn.rest * top;
    const { up, down } = excursions(part);
    return (rested && Math.max(up, down) > least) || (up > least && down > least);
  });
}

/** Largest rise and largest fall of a series. */
function excursions(values: Float64Array): { readonly up: number; readonly down: number } {
  let low = values[0];
  let high = values[0];
  let up = 0;
  let down = 0;
  for (const v of values) {
    low = Math.min(low, v);
    high = Math.max(high, v);
    up = Math.max(up, v - low);
    down = Math.max(down, high - v);
  }
  return { up, down };
}
