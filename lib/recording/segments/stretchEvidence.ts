import { largest, largestOfColumn } from "../../numeric/series/largest.js";
import { orderStatisticInPlace } from "../../numeric/series/median.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import { quantisationStep } from "../../numeric/series/quantisationStep.js";
import { workedOut as saidToBeWorkedOut } from "../columns/workedOut.js";
import type { ChannelRole, Recording, TrialKind, TrialShape } from "../types.js";
import { shapeOf } from "./shapeOf.js";
import { type Motion, movedBetween, withoutCurrent } from "./unpoweredMotion.js";

/** How the measured effort of a stretch behaves, where no command of it was logged. */
export type EffortPattern = "levels" | "wave" | "droops" | "irregular" | "small" | "none" | "not logged";

/** What a stretch shows that bears on what was tried in it. */
export interface StretchEvidence {
  /** Measured current or torque. */
  readonly effort: EffortPattern;
  /** Channel of the motor's voltage or duty that is not zero here. */
  readonly drive?: ChannelRole;
  /** A voltage or duty was logged and is zero here. */
  readonly driveZero: boolean;
  /** Voltage or duty is in proportion to speed without any lag: it may be the back-EMF. Share of it that speed
   * explains, 0 to 1. */
  readonly driveIsSpeed: number;
  readonly driveShape?: TrialShape;
  readonly moved: boolean;
  /** rad/s, the speed that only a fiftieth of the samples exceeds. */
  readonly topSpeed: number;
  /** Travel from lowest to highest angle over the travel to and fro, 0 to 1: small for a joint that swings. */
  readonly oneWay: number;
  /** The current changes by much while the speed is kept. */
  readonly speedKept: boolean;
  /** The measured effort is the same from the first sample to the last. */
  readonly effortConstant: boolean;
  /** A command of current, torque, speed or position was logged and none is at work. */
  readonly commandZero: boolean;
  /** Speed or position was logged. */
  readonly motionKnown: boolean;
  /** Most of the stretch is spent at one speed. */
  readonly plateau: boolean;
  /** It begins in motion. */
  readonly beginsMoving: boolean;
  /** It begins in motion and only slows down. */
  readonly decays: boolean;
  /** A measured torque follows the current and the shaft stays. */
  readonly heldTorque: boolean;
  /** Position and index alone are logged, as for a turn by hand. */
  readonly indexAlone: boolean;
  /** Kind of trial that the recording's name says it is. */
  readonly named?: TrialKind;
}

const pieces = 24;
const noValues = new Float64Array(0);

/** Gathers what a stretch shows. `drive` is the recording's channel of voltage or duty, when it has one. */
export function stretchEvidence(
  recording: Recording,
  from: number,
  to: number,
  motion: Motion | undefined,
  drive: ChannelRole | undefined,
): StretchEvidence {
  const { channels } = recording;
  const speed = motion?.speed.subarray(from, to);
  const speeds = speed === undefined ? noValues : blockMeans(speed, pieces);
  const rest = motion?.rest ?? 0;
  const topSpeed = speed === undefined ? 0 : topOf(speed);
  const moved = topSpeed > rest;
  const driven = drive === undefined ? undefined : channels[drive]?.data.subarray(from, to);
  const active =
    driven !== undefined && largest(driven) > 0.02 * largestOfColumn(channels[drive as ChannelRole]!.data);
  const beginsMoving = Math.abs(speeds[0] ?? 0) > Math.max(rest, 0.2 * topSpeed);
  const measured = (channels.current ?? channels.currentBus ?? channels.torque)?.data.subarray(from, to);
  const efforts = measured === undefined ? noValues : blockMeans(measured, 400);
  const changing = changes(efforts);
  return {
    effort: effortPattern(recording, from, to, speeds, moved),
    speedKept: moved && keeps(speeds, topSpeed) && changing,
    effortConstant: efforts.length > 0 && !changing,
    commandZero: (channels.currentCommand ?? channels.torqueCommand ?? channels.speedCommand) !== undefined,
    motionKnown: motion !== undefined,
    ...(active ? { drive, driveShape: shapeOf(driven) } : {}),
    driveZero: driven !== undefined && !active,
    driveIsSpeed: active && speed !== undefined && moved ? proportion(driven, speed) : 0,
    moved,
    topSpeed,
    oneWay: speed === undefined ? 1 : oneWay(recording.time.subarray(from, to), speed),
    plateau: plateauOf(speeds, topSpeed),
    beginsMoving,
    decays: beginsMoving && decays(speeds, topSpeed, rest),
    heldTorque: heldTorque(recording, from, to),
    indexAlone: channels.index !== undefined && (channels.current ?? channels.currentCommand) === undefined,
    named: recording.named?.kind,
  };
}

/** Means over equal parts; parts without a value are left out. */
function blockMeans(values: Float64Array, parts: number): Float64Array {
  const count = Math.min(parts, values.length);
  const out = new Float64Array(count);
  let kept = 0;
  for (let k = 0; k < count; k += 1) {
    const a = Math.floor((k * values.length) / count);
    const b = Math.floor(((k + 1) * values.length) / count);
    let sum = 0;
    let used = 0;
    for (let i = a; i < b; i += 1)
      if (values[i] - values[i] === 0) {
        sum += values[i];
        used += 1;
      }
    if (used > 0) out[kept++] = sum / used;
  }
  return out.subarray(0, kept);
}

function topOf(speed: Float64Array): number {
  const stride = Math.max(1, Math.floor(speed.length / 2000));
  const sizes = new Float64Array(Math.ceil(speed.length / stride));
  let count = 0;
  for (let i = 0; i < speed.length; i += stride)
    if (speed[i] - speed[i] === 0) sizes[count++] = Math.abs(speed[i]);
  return count > 0 ? orderStatisticInPlace(sizes.subarray(0, count), Math.floor(0.98 * (count - 1))) : 0;
}

function oneWay(time: Float64Array, speed: Float64Array): number {
  let at = 0;
  let low = 0;
  let high = 0;
  let path = 0;
  for (let i = 1; i < time.length; i += 1) {
    const step = 0.5 * (speed[i] + speed[i - 1]) * (time[i] - time[i - 1]);
    if (step - step !== 0) continue;
    at += step;
    path += Math.abs(step);
    low = Math.min(low, at);
    high = Math.max(high, at);
  }
  return path > 0 ? (high - low) / path : 1;
}

/** A third of the parts in a row, all moving and within 4 % of their mean. */
function plateauOf(speeds: Float64Array, top: number): boolean {
  const need = Math.max(4, Math.ceil(speeds.length / 3));
  for (let k = 0; k + need <= speeds.length; k += 1) {
    const run = speeds.slice(k, k + need);
    const mean = run.reduce((a, b) => a + b, 0) / need;
    if (Math.abs(mean) > 0.3 * top && run.every((v) => Math.abs(v - mean) < 0.04 * Math.abs(mean)))
      return true;
  }
  return false;
}

/** Nine in ten parts at one speed. */
function keeps(speeds: Float64Array, top: number): boolean {
  const middle = speeds.slice().sort()[speeds.length >> 1] ?? 0;
  if (!(Math.abs(middle) > 0.5 * top)) return false;
  const near = speeds.filter((v) => Math.abs(v - middle) < 0.05 * Math.abs(middle));
  return near.length >= 0.9 * speeds.length;
}

/** The effort goes over more than a third of its size, from part to part. */
function changes(efforts: Float64Array): boolean {
  const sorted = efforts.slice().sort();
  const low = sorted[Math.floor(0.05 * (sorted.length - 1))] ?? 0;
  const high = sorted[Math.floor(0.95 * (sorted.length - 1))] ?? 0;
  return high - low > 0.33 * Math.max(Math.abs(low), Math.abs(high));
}

function decays(speeds: Float64Array, top: number, rest: number): boolean {
  const sign = Math.sign(speeds[0]);
  const slack = Math.max(rest, 0.02 * top);
  let fell = 0;
  for (let k = 1; k < speeds.length; k += 1) {
    const change = (speeds[k] - speeds[k - 1]) * sign;
    if (change > slack || speeds[k] * sign < -slack) return false;
    fell -= change;
  }
  return fell > 0.15 * top;
}

/** Share of the drive's square that a factor times the speed of the same sample explains. */
function proportion(drive: Float64Array, speed: Float64Array): number {
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (let i = 0; i < drive.length; i += 1) {
    const x = speed[i];
    const y = drive[i];
    if (x - x !== 0 || y - y !== 0) continue;
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  return xx > 0 && yy > 0 ? (xy * xy) / (xx * yy) : 0;
}

function effortPattern(
  recording: Recording,
  from: number,
  to: number,
  speeds: Float64Array,
  moved: boolean,
): EffortPattern {
  const { current, currentBus, torque } = recording.channels;
  const whole = (current ?? currentBus ?? torque)?.data;
  // A channel that never leaves zero has measured nothing.
  if (whole === undefined || largestOfColumn(whole) === 0) return "not logged";
  if (withoutCurrent(recording, from, to) && quiet(whole, from, to))
    return aboutZero(whole, from, to) ? "none" : "small";
  const effort = whole.subarray(from, to);
  const smooth = blockMeans(effort, 1500);
  const shape = shapeOf(smooth);
  if (shape === "step" || shape === "staircase") return "levels";
  if (shape === "constant" && spread(smooth) < 0.5 * largest(smooth)) return "levels";
  if (shape === "sine" || shape === "chirp") return "wave";
  const runs = signRuns(smooth, 0.15 * largest(smooth));
  if (runs.length === 0) return "irregular";
  if (runs.length > 6) return "irregular";
  // From each onset to where half of the speed's change is done: a set current stays, a current that a set voltage
  // drives falls with the speed.
  let kept = 0;
  let fell = 0;
  for (const run of runs) {
    const change = onset(smooth, speeds, run, moved);
    if (change === undefined) continue;
    if (change > 0.85) kept += 1;
    else if (change < 0.75) fell += 1;
  }
  if (kept > 0 && kept >= 2 * fell) return "levels";
  if (fell > 0 && fell >= 2 * kept) return "droops";
  return "irregular";
}

function spread(values: Float64Array): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return high - low;
}

/** The mean is within its own noise, or within what a current sensor is off by: three thousandths of the largest
 * current of the log. */
function aboutZero(whole: Float64Array, from: number, to: number): boolean {
  const part = whole.subarray(from, to);
  let sum = 0;
  let count = 0;
  for (const v of part)
    if (Number.isFinite(v)) {
      sum += v;
      count += 1;
    }
  if (count === 0) return true;
  const limit = Math.max(0.003 * largestOfColumn(whole), (4 * noiseLevel(part)) / Math.sqrt(count));
  return Math.abs(sum / count) <= limit;
}

/** No current at any time: neither about zero in the mean alone, as that of a shaft that swings, nor beyond its
 * noise. */
function quiet(whole: Float64Array, from: number, to: number): boolean {
  const part = whole.subarray(from, to);
  const limit = Math.max(0.06 * largestOfColumn(whole), 5 * noiseLevel(part));
  let beyond = 0;
  let run = 0;
  // A start draws its current for a few samples only; noise does not stay beyond five of its own standard deviations.
  for (const v of part) {
    run = Math.abs(v) > limit ? run + 1 : 0;
    beyond += run > 0 ? 1 : 0;
    if (run >= 4) return false;
  }
  return beyond < 0.05 * part.length;
}

interface SignRun {
  readonly from: number;
  readonly to: number;
}

function signRuns(values: Float64Array, dead: number): SignRun[] {
  const out: SignRun[] = [];
  let from = -1;
  let side = 0;
  for (let i = 0; i <= values.length; i += 1) {
    const now = i < values.length ? (values[i] > dead ? 1 : values[i] < -dead ? -1 : 0) : 0;
    if (now === side) continue;
    if (side !== 0 && i - from >= 4) out.push({ from, to: i });
    from = i;
    side = now;
  }
  return out;
}

/** Current when half of the speed's change within a run is done, over the current at the run's onset; undefined where
 * nothing can be said. */
function onset(effort: Float64Array, speeds: Float64Array, run: SignRun, moved: boolean): number | undefined {
  const size = (i: number): number => Math.abs(effort[i]);
  let peak = 0;
  const early = run.from + Math.max(2, Math.ceil(0.1 * (run.to - run.from)));
  for (let i = run.from; i < Math.min(run.to, early); i += 1) peak = Math.max(peak, size(i));
  if (!moved) return 1;
  const at = (i: number): number =>
    speeds[Math.min(speeds.length - 1, Math.floor((i * speeds.length) / effort.length))];
  const start = at(run.from);
  let most = start;
  for (let i = run.from; i < run.to; i += 1)
    if (Math.abs(at(i) - start) > Math.abs(most - start)) most = at(i);
  if (most === start || peak === 0) return undefined;
  for (let i = run.from; i < run.to; i += 1)
    if (Math.abs(at(i) - start) >= 0.5 * Math.abs(most - start)) return Math.min(1, size(i) / peak);
  return undefined;
}

/** A torque of its own sensor follows the current or its command while the shaft stays where it is. */
function heldTorque(recording: Recording, from: number, to: number): boolean {
  // Beside a command alone the torque may be the drive's own: only a measured current can show that it is not.
  const { torque, current: effort, position } = recording.channels;
  if (torque === undefined || effort === undefined) return false;
  const t = Float64Array.from(blockMeans(torque.data.subarray(from, to), 200));
  const i = Float64Array.from(blockMeans(effort.data.subarray(from, to), 200));
  if (t.length !== i.length || t.length < 12 || !(largest(i) > 0)) return false;
  // A load cell gives way by a few degrees at most.
  const travel = movedBetween(recording, from, to);
  if (travel > Math.max(0.05, 8 * (position?.resolution ?? 0))) return false;
  const [mt, mi] = [t, i].map((v) => v.reduce((a, b) => a + b, 0) / v.length);
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (let k = 0; k < t.length; k += 1) {
    xx += (i[k] - mi) ** 2;
    xy += (i[k] - mi) * (t[k] - mt);
    yy += (t[k] - mt) ** 2;
  }
  if (!(xx > 0) || !(yy > 0)) return false;
  const explained = (xy * xy) / (xx * yy);
  // A torque that the drive works out from its current is that current times a number, to the last digit: no sensor.
  return (
    explained > 0.8 &&
    !saidToBeWorkedOut(torque.name) &&
    !workedOut(torque.data.subarray(from, to), effort.data.subarray(from, to))
  );
}

function workedOut(torque: Float64Array, current: Float64Array): boolean {
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (let k = 0; k < torque.length; k += 1) {
    const x = current[k];
    const y = torque[k];
    if (x - x !== 0 || y - y !== 0) continue;
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  if (!(xx > 0) || !(yy > 0)) return true;
  const own = noiseLevel(torque);
  const left = Math.sqrt(Math.max(0, yy - (xy * xy) / xx) / torque.length);
  // What the current leaves unexplained must be more than the rounding of the two columns and of the noise they share.
  const step = quantisationStep(torque);
  return left < 0.5 * own || left < 2e-3 * Math.sqrt(yy / torque.length) || (step > 0 && left < 0.7 * step);
}
