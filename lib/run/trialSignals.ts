import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { range } from "../numeric/series/range.js";
import type { ChannelRole, Trial } from "../recording/types.js";
import type { Run } from "./run.js";

/** The columns of one trial that a verdict is drawn from: gaps filled, signs sorted out, position and speed made to
 * agree. */
export interface TrialSignals {
  readonly time: Float64Array;
  /** Median sample period, s. */
  readonly period: number;
  /** What was asked for: current or torque in a torque trial, speed or position otherwise. Absent when it was not
   * logged. */
  readonly command?: Float64Array;
  readonly commandRole?: ChannelRole;
  /** What turned the shaft: measured current or torque where logged, else its command. */
  readonly effort?: Float64Array;
  readonly effortRole?: ChannelRole;
  readonly current?: Float64Array;
  readonly currentCommand?: Float64Array;
  /** Shaft angle, rad; from the speed when no position was logged. */
  readonly angle?: Float64Array;
  /** Shaft speed, rad/s, smoothed just enough to be read sample by sample. */
  readonly speed?: Float64Array;
  readonly motionFrom: "position" | "speed" | "none";
  /** Step of the angle (one count, and a hair more), or what the speed noise lets drift in a sample, rad. */
  readonly angleStep: number;
  /** Standard deviation of `speed`, rad/s. */
  readonly speedNoise: number;
  /** The sign of the logged speed against the change of position; absent when one of them is missing or nothing
   * turned. */
  readonly speedAgainstPosition?: { readonly sign: 1 | -1; readonly factor: number; readonly spread: number };
  /** The measured current never changed sign although its command did: a magnitude. */
  readonly unsignedCurrent: boolean;
}

/** Values of one channel over a trial, without gaps; undefined when it was not logged or more than half of it is
 * missing. Not to be changed. */
export function column(run: Run, role: ChannelRole, trial: Trial): Float64Array | undefined {
  const channel = run.channel(role);
  if (channel === undefined || trial.to <= trial.from) return undefined;
  if (channel.missing > 0) {
    let missing = 0;
    for (let i = trial.from; i < trial.to; i += 1) if (channel.state[i] === 0) missing += 1;
    if (missing > (trial.to - trial.from) / 2) return undefined;
  }
  return channel.filled.subarray(trial.from, trial.to);
}

export function mean(values: ArrayLike<number>, from = 0, to = values.length): number {
  let sum = 0;
  for (let i = from; i < to; i += 1) sum += values[i];
  return sum / Math.max(1, to - from);
}

/** Moving average over an odd number of samples. */
export function movingAverage(values: Float64Array, width: number): Float64Array {
  const half = Math.max(0, Math.floor(width / 2));
  const sums = new Float64Array(values.length + 1);
  for (let i = 0; i < values.length; i += 1) sums[i + 1] = sums[i] + values[i];
  const means = new Float64Array(values.length);
  for (let i = 0; i < values.length; i += 1) {
    const from = Math.max(0, i - half);
    const to = Math.min(values.length, i + half + 1);
    means[i] = (sums[to] - sums[from]) / (to - from);
  }
  return means;
}

/** Gathers what a verdict on one trial is drawn from; kept in the run. */
export function trialSignals(run: Run, trial: Trial): TrialSignals {
  return run.once(`signals ${trial.kind} ${trial.command ?? ""} ${trial.from} ${trial.to}`, () =>
    gather(run, trial),
  );
}

function gather(run: Run, trial: Trial): TrialSignals {
  const time = run.time.subarray(trial.from, trial.to);
  const get = (role: ChannelRole): Float64Array | undefined => column(run, role, trial);
  const currentCommand = get("currentCommand");
  const torqueCommand = get("torqueCommand");
  const current = get("current");
  const command = commandOf(trial, get);
  let effort: Float64Array | undefined;
  let effortRole: ChannelRole | undefined;
  for (const [role, data] of [
    ["current", current],
    ["torque", get("torque")],
    ["currentCommand", currentCommand],
    ["torqueCommand", torqueCommand],
  ] as const) {
    if (data && largest(data) > 0) {
      effort = data;
      effortRole = role;
      break;
    }
  }
  const asked = currentCommand ?? torqueCommand;
  const unsigned = run.unsignedCurrent && asked !== undefined && goesBelow(asked, -0.2 * largest(asked));
  return {
    time,
    period: run.interval || 1e-3,
    ...command,
    ...(effort ? { effort, effortRole } : {}),
    ...(current ? { current } : {}),
    ...(currentCommand ? { currentCommand } : {}),
    ...motionIn(run, trial),
    unsignedCurrent: unsigned,
  };
}

function goesBelow(values: Float64Array, limit: number): boolean {
  for (let i = 0; i < values.length; i += 1) if (values[i] < limit) return true;
  return false;
}

/** What was asked for in a trial of this kind. */
function commandOf(
  trial: Trial,
  get: (role: ChannelRole) => Float64Array | undefined,
): Pick<TrialSignals, "command" | "commandRole"> {
  const wanted: ChannelRole[] =
    trial.kind === "speed"
      ? ["speedCommand"]
      : trial.kind === "position"
        ? ["positionCommand"]
        : ["currentCommand", "torqueCommand"];
  const first = trial.command !== undefined && wanted.includes(trial.command) ? [trial.command] : [];
  for (const role of [...first, ...wanted]) {
    const command = get(role);
    if (command) return { command, commandRole: role };
  }
  return {};
}

/**
 * Travels of a counted angle are whole counts, and many bounds are so many counts, not to be passed: held a hair above,
 * so that the unit of the log and the last bit of a number decide nothing.
 */
const hairAbove = 1 + 1e-9;

/** The shaft's motion in a trial, from the run's one angle and speed. */
function motionIn(
  run: Run,
  trial: Trial,
): Pick<
  TrialSignals,
  "angle" | "speed" | "motionFrom" | "angleStep" | "speedNoise" | "speedAgainstPosition"
> {
  const { shaft, shaftFilled } = run;
  const { from, to } = trial;
  const none = { motionFrom: "none", angleStep: 0, speedNoise: 0 } as const;
  if (shaft === undefined || shaftFilled === undefined || to <= from) return none;
  let known = 0;
  for (let i = from; i < to; i += 1) if (shaft.state[i] !== 0) known += 1;
  if (known < (to - from) / 2) return none;
  const angle = shaftFilled.angle.subarray(from, to);
  const speed = shaftFilled.speed.subarray(from, to);
  const logged = run.channel("speed");
  if (shaft.source === "speed") {
    const noise = noiseLevel(logged!.values, from, to);
    return {
      angle,
      speed,
      motionFrom: "speed",
      // A sum over samples is no finer than a small part of what one sample adds.
      angleStep: Math.max(noise, logged!.step, 0.01 * largest(speed)) * (run.interval || 1e-3),
      speedNoise: noise,
    };
  }
  const noise = noiseLevel(shaft.angle, from, to);
  const step = Math.max(shaft.step, Number.EPSILON * largest(angle));
  const jitter = Math.max(step / Math.sqrt(12), noise);
  const besides = column(run, "speed", trial);
  const compared =
    besides && range(angle) > 0 ? compareSpeed(run.time.subarray(from, to), angle, besides) : undefined;
  return {
    angle,
    speed,
    motionFrom: "position",
    angleStep: Math.max(hairAbove * step, noise),
    speedNoise:
      (jitter * Math.sqrt(12)) / ((run.interval || 1e-3) * median(shaft.windows.subarray(from, to)) ** 1.5),
    ...(compared ? { speedAgainstPosition: compared } : {}),
  };
}

/** Least-squares factor between travel by position and travel by speed over blocks of the trial. */
function compareSpeed(
  time: Float64Array,
  position: Float64Array,
  speed: Float64Array,
): TrialSignals["speedAgainstPosition"] {
  const blocks = 24;
  const size = Math.floor(time.length / blocks);
  if (size < 3) return undefined;
  let xy = 0;
  let xx = 0;
  let yy = 0;
  for (let b = 0; b < blocks; b += 1) {
    const from = b * size;
    const to = from + size;
    let travel = 0;
    for (let i = from + 1; i <= to && i < time.length; i += 1)
      travel += 0.5 * (speed[i] + speed[i - 1]) * (time[i] - time[i - 1]);
    const moved = position[Math.min(to, time.length - 1)] - position[from];
    xy += travel * moved;
    xx += moved * moved;
    yy += travel * travel;
  }
  if (xx < 1 || yy < 0.25) return undefined;
  const factor = xy / xx;
  const residual = Math.max(0, yy - factor * xy);
  return { sign: factor < 0 ? -1 : 1, factor, spread: Math.sqrt(residual / xx) };
}
