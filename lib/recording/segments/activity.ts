import { linearRegression } from "../../numeric/linear/linearRegression.js";
import { findSteps } from "../../numeric/series/findSteps.js";
import { laggedSums } from "../../numeric/series/laggedSums.js";
import { largest } from "../../numeric/series/largest.js";
import type { ChannelRole, Recording, TrialKind } from "../types.js";
import { type CommandsAtWork, commandsAtWork, zeroBand } from "./commandsAtWork.js";
import { motionOf } from "./unpoweredMotion.js";

/** Activity of every sample, as an index into `kindOfAct`. */
export enum Act {
  none = 0,
  sweep = 1,
  position = 2,
  speed = 3,
  torque = 4,
  drive = 5,
}

/** What is commanded at every sample, and by which channel for each `Act`. */
export interface Activity {
  readonly act: Uint8Array;
  readonly command: readonly (ChannelRole | undefined)[];
  readonly kinds: readonly TrialKind[];
  readonly atWork: CommandsAtWork;
}

/**
 * What is commanded at every sample, by the outermost command that is at work there. A command that rests at zero (or
 * is empty) is inactive; its zeros between active stretches belong to the trial when the loop is still closed there.
 * Undefined where no command is active.
 */
export function activityOf(recording: Recording): Activity | undefined {
  const n = recording.time.length;
  const { channels } = recording;
  const act = new Uint8Array(n);
  const atWork = commandsAtWork(recording);
  const { torque, speed, position, sweep, drive } = atWork;
  if (drive !== undefined) markDrive(recording, drive, act);
  if (torque !== undefined) {
    const values = channels[torque]?.data as Float64Array;
    markAbove(values, zeroBand(values), act, Act.torque);
  }
  if (speed !== undefined) markSpeed(recording, act);
  if (position !== undefined) markPosition(recording, atWork, act);
  if (sweep !== undefined) markSweep(channels.sweepAngle?.data as Float64Array, act);
  if (!act.some((a) => a !== Act.none)) return undefined;
  const driveKind: TrialKind = drive === "duty" ? "duty" : "voltage";
  return {
    act,
    command: [undefined, sweep, position, speed, torque, drive],
    kinds: ["idle", "alignment-sweep", "position", "speed", "torque", driveKind],
    atWork,
  };
}

/** Where the voltage or the duty of the motor is not zero. */
function markDrive(recording: Recording, role: ChannelRole, act: Uint8Array): void {
  const values = recording.channels[role]?.data as Float64Array;
  markAbove(values, driveZero(values, role), act, Act.drive);
}

function markAbove(values: Float64Array, zero: number, act: Uint8Array, mark: number): void {
  for (let i = 0; i < act.length; i += 1) if (Math.abs(values[i]) > zero) act[i] = mark;
}

/** A duty and a voltage (V) below which no motor turns, whatever the largest one of the log (common practice, no
 * source). */
const leastDuty = 0.01;
const leastVoltage = 0.02;

/** Below this a voltage or duty counts as zero: noise about the lowest level, or a fiftieth of the largest. */
function driveZero(values: Float64Array, role: ChannelRole): number {
  const { noise } = findSteps(values.length > 20_000 ? values.subarray(0, 20_000) : values, { shortest: 4 });
  const top = largest(values);
  const floor = role === "duty" ? leastDuty : leastVoltage;
  return Math.max(floor, Math.min(Math.max(0.02 * top, 4 * noise), 0.2 * top));
}

function markSpeed(recording: Recording, act: Uint8Array): void {
  const values = recording.channels.speedCommand?.data as Float64Array;
  const zero = zeroBand(values);
  for (const [from, to] of firstAndLastActive(values, zero))
    act.fill(Act.speed, from, openedAt(recording, values, zero, from, to));
}

/**
 * A position command rests at any value: it is active from its first change (from the first row, where it was given
 * before the log began) for as long as it is written and the shaft stays near it; a shaft that never came near is
 * watched to the end, or until another command takes over.
 */
function markPosition(recording: Recording, atWork: CommandsAtWork, act: Uint8Array): void {
  const command = recording.channels.positionCommand?.data as Float64Array;
  const n = command.length;
  let first = -1;
  let last = -1;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < n; i += 1) {
    const v = command[i];
    if (v - v !== 0) continue;
    if (v < low) low = v;
    if (v > high) high = v;
    const d = i > 0 ? v - command[i - 1] : 0;
    if (d !== 0 && d - d === 0) {
      if (first < 0) first = i;
      last = i;
    }
  }
  const position = recording.channels.position?.data;
  if (atWork.positionFromStart) first = 0;
  if (first < 0) return;
  // Before its first change a loop that is closed already answers every error with its inner command.
  if (first > 8 && innerAnswers(recording, atWork, first)) first = 0;
  last = Math.max(last, first);
  const span = Math.max(high - low, position === undefined ? 0 : Math.abs(position[0] - command[0]));
  const least = Math.min(n, last + Math.max(10, last - first));
  const speedIsInner = speedFollowsError(recording, first);
  let to = first;
  let came = false;
  for (; to < n; to += 1) {
    if (Number.isNaN(command[to])) break;
    const near =
      position === undefined || !(Math.abs(position[to] - command[to]) > Math.max(0.2 * span, 1e-9));
    came = came || (near && to > last);
    if (to < least || (near && to > last)) continue;
    // Beyond the last move: the shaft left a place it had come to, or another command is at work.
    if ((act[to] === Act.speed && !speedIsInner) || (came && !near)) break;
  }
  act.fill(Act.position, first, to);
}

/** Share of the speed command that the position error must explain for the one to be made from the other
 * (judgement). */
const madeFromError = 0.95;

/** The speed command is the output of a position loop: from `first` on a multiple of the position error, of either
 * sign, and a constant. */
function speedFollowsError(recording: Recording, first: number): boolean {
  const { positionCommand, position, speedCommand } = recording.channels;
  if (positionCommand === undefined || position === undefined || speedCommand === undefined) return false;
  const error = positionCommand.data.map((v, i) => v - position.data[i]);
  const sums = laggedSums(error.subarray(first), speedCommand.data.subarray(first), 0, 0);
  const { count, covariance, ofEarlier, ofLater } = sums;
  return count > 12 && ofEarlier > 0 && ofLater > 0 && covariance ** 2 > madeFromError * ofEarlier * ofLater;
}

/** Up to here the inner command is, but for a tenth of its size, the function of position error and speed that it is
 * after `first`. */
function innerAnswers(recording: Recording, atWork: CommandsAtWork, first: number): boolean {
  const inner = atWork.torque === undefined ? undefined : recording.channels[atWork.torque]?.data;
  const { positionCommand, position } = recording.channels;
  const speed = recording.channels.speed?.data ?? motionOf(recording)?.speed;
  if (inner === undefined || positionCommand === undefined || position === undefined || speed === undefined)
    return false;
  const n = inner.length;
  const rows: number[][] = [];
  const wanted: number[] = [];
  const row = (i: number): number[] => [positionCommand.data[i] - position.data[i], speed[i], 1];
  for (let i = first; i < n; i += Math.max(1, Math.floor((n - first) / 500))) {
    if (!row(i).every(Number.isFinite) || !Number.isFinite(inner[i])) continue;
    rows.push(row(i));
    wanted.push(inner[i]);
  }
  const fit = rows.length > 12 ? linearRegression(rows, wanted, { robust: false }) : null;
  if (fit === null || fit.explained < 0.8) return false;
  let left = 0;
  let all = 0;
  for (let i = 0; i < first; i += 1) {
    const said = row(i).reduce((sum, v, k) => sum + v * fit.coefficients[k], 0);
    if (!Number.isFinite(said) || !Number.isFinite(inner[i])) continue;
    left += (inner[i] - said) ** 2;
    all += inner[i] ** 2;
  }
  return left <= 0.01 * all;
}

function markSweep(sweep: Float64Array, act: Uint8Array): void {
  const n = act.length;
  const reach = Math.max(1, Math.floor(n / 2000));
  for (let i = 0; i < n; i += 1) {
    const a = sweep[Math.max(0, i - reach)];
    const b = sweep[Math.min(n - 1, i + reach)];
    if (Math.abs(b - a) > 1e-9) act[i] = Act.sweep;
  }
}

/** Stretches of a speed command from leaving zero to the end of the zero after it, cut where it is empty. */
function firstAndLastActive(values: Float64Array, zero: number): [number, number][] {
  const n = values.length;
  const out: [number, number][] = [];
  let i = 0;
  while (i < n) {
    while (i < n && Number.isNaN(values[i])) i += 1;
    const start = i;
    while (i < n && !Number.isNaN(values[i])) i += 1;
    let first = -1;
    let last = -1;
    for (let k = start; k < i; k += 1) {
      if (Math.abs(values[k]) > zero) {
        if (first < 0) first = k;
        last = k;
      }
    }
    if (first < 0) continue;
    // After the last step to zero the loop still brakes: as long as the active stretch lasted, at most.
    out.push([first, Math.min(i, last + 1 + Math.max(4, Math.ceil((last - first) / 2)))]);
  }
  return out;
}

/**
 * Where the loop was opened within a speed trial's end: from there on the speed command rests at zero, the current
 * command is exactly zero and the shaft still turns, which a closed loop would answer with a current. `to` where that
 * does not happen.
 */
function openedAt(
  recording: Recording,
  speedCommand: Float64Array,
  zero: number,
  from: number,
  to: number,
): number {
  const current = recording.channels.currentCommand?.data ?? recording.channels.torqueCommand?.data;
  const motion = current && motionOf(recording);
  if (current === undefined || motion === undefined) return to;
  let opened = to;
  while (opened > from && current[opened - 1] === 0 && Math.abs(speedCommand[opened - 1]) <= zero)
    opened -= 1;
  const turning = (i: number): boolean => Math.abs(motion.speed[i]) > 3 * motion.rest;
  return to - opened >= 10 && turning(opened) && turning(opened + 4) ? opened : to;
}
