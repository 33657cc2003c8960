import { median, medianInPlace } from "../numeric/series/median.js";
import { range } from "../numeric/series/range.js";
import { slidingSlope } from "../numeric/series/speedFromPosition.js";
import type { ChannelRole, Recording, Trial } from "../recording/types.js";

/** The columns of one trial that a verdict is drawn from: gaps filled, signs sorted out, position and speed made to agree. */
export interface TrialSignals {
  readonly time: Float64Array;
  /** Median sample period, s. */
  readonly period: number;
  /** What was asked for: current or torque in a torque trial, speed or position otherwise. Absent when it was not logged. */
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
  /** Step of the angle (one count), or what the speed noise lets drift in a sample, rad. */
  readonly angleStep: number;
  /** Standard deviation of `speed`, rad/s. */
  readonly speedNoise: number;
  /** The sign of the logged speed against the change of position; absent when one of them is missing or nothing turned. */
  readonly speedAgainstPosition?: { readonly sign: 1 | -1; readonly factor: number; readonly spread: number };
  /** The measured current never changed sign although its command did: a magnitude. */
  readonly unsignedCurrent: boolean;
}

/** Values of one channel over a trial, gaps (NaN) held from the value before; undefined when more than half is missing. */
export function column(recording: Recording, role: ChannelRole, trial: Trial): Float64Array | undefined {
  const channel = recording.channels[role];
  if (!channel) return undefined;
  const data = channel.data.slice(trial.from, trial.to);
  let missing = 0;
  let last = Number.NaN;
  for (let i = 0; i < data.length; i += 1) {
    if (Number.isFinite(data[i])) last = data[i];
    else {
      missing += 1;
      data[i] = last;
    }
  }
  if (missing > data.length / 2 || data.length === 0) return undefined;
  const first = data.findIndex((value) => Number.isFinite(value));
  if (first > 0) data.fill(data[first], 0, first);
  return data;
}

export function mean(values: ArrayLike<number>, from = 0, to = values.length): number {
  let sum = 0;
  for (let i = from; i < to; i += 1) sum += values[i];
  return sum / Math.max(1, to - from);
}

export function largest(values: ArrayLike<number>): number {
  let most = 0;
  for (let i = 0; i < values.length; i += 1) if (Math.abs(values[i]) > most) most = Math.abs(values[i]);
  return most;
}

/** Robust standard deviation of white noise on a smooth signal, from its second differences. */
export function whiteNoise(values: Float64Array): number {
  if (values.length < 8) return 0;
  const seconds = new Float64Array(values.length - 2);
  let count = 0;
  for (let i = 1; i < values.length - 1; i += 1) {
    const d = Math.abs(values[i + 1] - 2 * values[i] + values[i - 1]);
    if (d - d === 0) seconds[count++] = d;
  }
  return medianInPlace(seconds.subarray(0, count)) / 0.6745 / Math.sqrt(6);
}

/**
 * Grid of a quantised column: the spacing of the distinct changes between neighbouring samples, taken low in its distribution.
 * On a column without a grid this comes out far below the noise, which then counts instead.
 */
function gridOf(values: Float64Array): number {
  const stride = Math.max(1, Math.floor(values.length / 20000));
  const steps = new Float64Array(Math.floor((values.length - 1) / stride));
  for (let i = 0; i < steps.length; i += 1) steps[i] = Math.abs(values[i * stride + 1] - values[i * stride]);
  steps.sort();
  const tiny = 1e-9 * Math.max(largest(values), 1e-9) + 1e-12;
  const gaps: number[] = [];
  let last = 0;
  for (const step of steps) {
    if (step - last > tiny) {
      gaps.push(step - last);
      last = step;
    }
  }
  if (gaps.length === 0) return 0;
  gaps.sort((x, y) => x - y);
  return gaps[Math.floor(gaps.length * 0.1)];
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

/**
 * Gathers the columns of one trial.
 *
 * A speed that was logged is trusted less than the position it came from: drives filter and delay it, and its sign is
 * sometimes only a matter of display. Where both were logged the motion is read from the position, unless the position stands
 * still while the speed does not.
 */
export function trialSignals(recording: Recording, trial: Trial): TrialSignals {
  const time = recording.time.slice(trial.from, trial.to);
  const intervals = new Float64Array(Math.max(0, time.length - 1));
  for (let i = 1; i < time.length; i += 1) intervals[i - 1] = time[i] - time[i - 1];
  const period = median(intervals) || 1e-3;
  const get = (role: ChannelRole): Float64Array | undefined => column(recording, role, trial);
  const currentCommand = get("currentCommand");
  let current = get("current");
  const torque = get("torque");
  const torqueCommand = get("torqueCommand");

  let commandRole: ChannelRole | undefined;
  let command: Float64Array | undefined;
  const wanted: ChannelRole[] =
    trial.kind === "speed"
      ? ["speedCommand"]
      : trial.kind === "position"
        ? ["positionCommand"]
        : ["currentCommand", "torqueCommand"];
  for (const role of trial.command && wanted.includes(trial.command) ? [trial.command, ...wanted] : wanted) {
    command = get(role);
    if (command) {
      commandRole = role;
      break;
    }
  }

  const signedCommand = currentCommand ?? torqueCommand;
  let unsignedCurrent = false;
  if (current && signedCommand) {
    const most = largest(current);
    const asked = largest(signedCommand);
    const reversed = signedCommand.some((v) => v < -0.2 * asked);
    const everNegative = current.some((v) => v < -0.1 * most);
    unsignedCurrent = reversed && !everNegative && most > 0;
    if (unsignedCurrent) current = current.map((v, i) => Math.abs(v) * Math.sign(signedCommand[i]));
  }
  let effort: Float64Array | undefined;
  let effortRole: ChannelRole | undefined;
  for (const [role, data] of [
    ["current", current],
    ["torque", torque],
    ["currentCommand", currentCommand],
    ["torqueCommand", torqueCommand],
  ] as const) {
    if (data && largest(data) > 0) {
      effort = data;
      effortRole = role;
      break;
    }
  }

  const position = get("position");
  const loggedSpeed = get("speed");
  const positionMoves = position !== undefined && range(position) > 0;
  const step =
    position === undefined
      ? 0
      : (recording.channels.position?.resolution ??
        Math.max(gridOf(position), Number.EPSILON * largest(position)));
  const speedNoiseRaw = loggedSpeed ? whiteNoise(loggedSpeed) : 0;
  let angle: Float64Array | undefined;
  let speed: Float64Array | undefined;
  let motionFrom: TrialSignals["motionFrom"] = "none";
  let angleStep = step;
  let speedNoise = speedNoiseRaw;
  if (position && !(loggedSpeed && !positionMoves && spins(time, loggedSpeed, speedNoiseRaw))) {
    motionFrom = "position";
    angle = position;
    // A window long enough that one count matters little, short against the trial.
    const top = loggedSpeed ? largest(loggedSpeed) : peakSlope(time, position);
    const need = top > 0 ? (20 * Math.max(step, 1e-9)) / top / period : 1;
    const half = Math.max(1, Math.min(Math.floor(time.length / 60), Math.ceil(need), 25));
    speed = slidingSlope(time, position, half);
    for (let i = 0; i < speed.length; i += 1) if (!Number.isFinite(speed[i])) speed[i] = 0;
    const noise = whiteNoise(position);
    const jitter = Math.max(step / Math.sqrt(12), noise);
    const window = 2 * half + 1;
    speedNoise = (jitter * Math.sqrt(12)) / (period * window ** 1.5);
    angleStep = Math.max(step, noise);
  } else if (loggedSpeed) {
    motionFrom = "speed";
    speed = loggedSpeed;
    angle = new Float64Array(time.length);
    for (let i = 1; i < time.length; i += 1)
      angle[i] = angle[i - 1] + 0.5 * (loggedSpeed[i] + loggedSpeed[i - 1]) * (time[i] - time[i - 1]);
    angleStep = Math.max(speedNoiseRaw, gridOf(loggedSpeed)) * period;
  }
  const signals: TrialSignals = {
    time,
    period,
    ...(command ? { command, commandRole } : {}),
    ...(effort ? { effort, effortRole } : {}),
    ...(current ? { current } : {}),
    ...(currentCommand ? { currentCommand } : {}),
    ...(angle ? { angle } : {}),
    ...(speed ? { speed } : {}),
    motionFrom,
    angleStep,
    speedNoise,
    unsignedCurrent,
  };
  if (position && loggedSpeed && positionMoves) {
    const compared = compareSpeed(time, position, loggedSpeed);
    if (compared) return { ...signals, speedAgainstPosition: compared };
  }
  return signals;
}

/** A logged speed that adds up to real travel, not to noise about zero. */
function spins(time: Float64Array, speed: Float64Array, noise: number): boolean {
  let travel = 0;
  for (let i = 1; i < time.length; i += 1) travel += Math.abs(speed[i]) * (time[i] - time[i - 1]);
  const length = time[time.length - 1] - time[0];
  return travel > 0.5 && travel > 6 * noise * length;
}

function peakSlope(time: Float64Array, angle: Float64Array): number {
  const stride = Math.max(1, Math.floor(time.length / 50));
  let most = 0;
  for (let i = stride; i < time.length; i += stride) {
    const dt = time[i] - time[i - stride];
    if (dt > 0) most = Math.max(most, Math.abs(angle[i] - angle[i - stride]) / dt);
  }
  return most;
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
